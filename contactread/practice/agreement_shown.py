"""A comparison of readers as tables and as plain data."""

from __future__ import annotations

import math
from typing import Any

from contactread.practice.agreement import Comparison, Estimate


def comparison_rows(found: Comparison) -> tuple[list[str], list[list[str]], list[str], list[list[str]]]:
    """Two tables in words: readers against the truth, and pairs; columns and rows of each."""
    one = ["reader", "photographs", "bias, length", "bias, height", "spread, length", "spread, height"]
    readers = [
        [r.name, str(r.bias[0].count), *(_percents(e) for e in (*r.bias, *r.spread))] for r in found.readers
    ]
    two = ["readers", "photographs", "kappa, move", "ICC, length", "ICC, height"]
    pairs = [
        [p.a + (" again" if p.a == p.b else f" and {p.b}"), str(p.kappa.count),
         *(_number(e) for e in (p.kappa, *p.icc))] for p in found.pairs
    ]  # fmt: skip
    if found.everyone is not None:
        pairs.append(["all people", str(found.everyone[0].count), "", *(_number(e) for e in found.everyone)])
    return one, readers, two, pairs


def comparison_json(found: Comparison) -> dict[str, Any]:
    """Plain data for ``--json``: each figure as value, low, high, count; null where unknown."""

    def plain(e: Estimate) -> dict[str, float | None]:
        values = {"value": e.value, "low": e.low, "high": e.high}
        return {k: None if math.isnan(v) else round(v, 5) for k, v in values.items()} | {"count": e.count}

    def both(pair: tuple[Estimate, Estimate]) -> dict[str, Any]:
        return {"length": plain(pair[0]), "height": plain(pair[1])}

    return {
        "schema": 1,
        "readers": [
            {"reader": r.name, "bias": both(r.bias), "spread": both(r.spread)} for r in found.readers
        ],
        "pairs": [
            {"readers": [p.a, p.b], "kappa": plain(p.kappa), "icc": both(p.icc)} for p in found.pairs
        ],
        "everyone_icc": None if found.everyone is None else both(found.everyone),
    }  # fmt: skip


def _percents(e: Estimate) -> str:
    """A share of the tooth with its bounds, in percent."""
    if math.isnan(e.low):
        return "too few" if math.isnan(e.value) else f"{100 * e.value:+.1f} %"
    return f"{100 * e.value:+.1f} ({100 * e.low:+.1f} to {100 * e.high:+.1f}) %"


def _number(e: Estimate) -> str:
    """A coefficient with its bounds."""
    return "-" if math.isnan(e.value) else f"{e.value:.2f} ({e.low:.2f} to {e.high:.2f})"
