"""A reading as plain data and back, so that later advice and pictures need no second reading.

In the book it stands under ``measured``: the side, and of each tooth its map and its patch, each kept once.
The fields of ``read --json`` that say the same again (``pattern``, ``teeth``, ``compound``, ``polarity``) are
left out; books before schema 3 hold them too. What only served the reading itself isn't kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from contactread.axle import ROLES, Axle, Role
from contactread.errors import BookError
from contactread.flank.flank import Flank, FlankMap
from contactread.patch import Clear, Outline, Patch, told_clear
from contactread.pattern.measures import Side, ToothPattern
from contactread.reading import Reading, ReadTooth
from contactread.records.kept_reading import numbers_of
from contactread.views import join

_PAIRS = {"centre", "sigma", "length", "height", "spread", "wave", "size_mm"}
_PLACES = 5  # decimals kept; a flank fraction or a mm needs four
_OUTLINE = 6e-3  # largest shift of a patch's outline when it is thinned out, flank fractions


def with_measured(reading: Reading) -> dict[str, Any]:
    """One photo of ``read --json``, with what was measured beside it."""
    side = {f.name: _plain(getattr(reading.side, f.name)) for f in fields(Side) if f.name != "teeth"}
    return reading.to_json() | {
        "measured": {"side": side, "teeth": [_tooth_json(tooth) for tooth in reading.teeth]},
        "other": None if reading.other is None else with_measured(reading.other),
    }


def joined(readings: Iterable[dict[str, Any]], axle: Axle | None) -> dict[Role, Reading]:
    """What recorded readings say of each side together, as `contactread read` joins them. axle: says which
    flank has which role; as recorded without one. A photo of both sides counts for both."""
    views = []
    for reading in (part for whole in map(reading_of, readings) for part in (whole, whole.other)):
        if reading is not None:
            role = reading.side.role if axle is None else axle.role(reading.side.flank)
            views.append(replace(reading, side=replace(reading.side, role=role)))
    return {role: seen.reading for role, seen in join(views).items()}


def patch_of(reading: dict[str, Any]) -> Patch:
    """The patch that the teeth of a recorded reading share; of one that was written by hand, its pattern."""
    if "measured" in reading:
        return side_of(reading)
    pattern = reading["pattern"]
    centre, length, height = (tuple(pattern[key]) for key in ("centroid", "length", "height"))
    clear = told_clear(length, height, frozenset(pattern["runs_off"]))
    return Patch(
        centre, length, height, pattern["area_fraction"], float(pattern.get("tilt_deg") or 0.0), clear
    )


def pattern_json(reading: dict[str, Any]) -> dict[str, Any] | None:
    """The field "pattern" of ``read --json`` for a recorded reading; None for a refusal."""
    if reading["status"] != "read":
        return None
    if reading.get("pattern") is not None:
        found: dict[str, Any] = reading["pattern"]
        return found
    numbers = numbers_of(reading)
    spread = dict(zip(("length", "height"), numbers["spread"], strict=True))
    more = {"interval_90": reading.get("interval_90"), "spread": spread, "wave": numbers["wave"]}
    return side_of(reading).to_json() | more


def side_of(reading: dict[str, Any]) -> Side:
    """The side of a recorded reading."""
    patterns = [tooth["pattern"] for tooth in reading["measured"]["teeth"] if tooth["pattern"] is not None]
    teeth = tuple(ToothPattern(**_typed(pattern)) for pattern in patterns)
    return Side(**_typed(reading["measured"]["side"]), teeth=teeth)


def reading_of(reading: dict[str, Any]) -> Reading:
    """The reading as it was recorded; its path is None."""
    width, height = reading["size_px"]
    return Reading(
        path=None,
        sha256=reading["sha256"],
        size_px=(width, height),
        teeth=tuple(_tooth(data) for data in reading["measured"]["teeth"]),
        side=side_of(reading),
        confidence=reading["confidence"],
        flags=tuple(reading["flags"]),
        other=reading_of(other) if (other := reading.get("other")) and "measured" in other else None,
    )


def refuse_unreadable(data: Any) -> None:
    """Raise `BookError` reading-damaged for what isn't a reading as the book keeps it, nor a refusal."""
    try:
        if data["status"] == "refused":
            if not all(isinstance(data["refusal"][name], str) for name in ("code", "message", "next_step")):
                raise TypeError("a refusal without its words")
            return
        if data["status"] != "read" or data["side"] not in ROLES:
            raise ValueError("neither read nor refused, or of no side")
        numbers = numbers_of(data)
        places = [*numbers["centre"], *numbers["spread"]]
        if len(places) != 4 or not all(-1 < float(place) < 2 for place in places):
            raise ValueError("a place that isn't on a flank")
        if "measured" in data:
            side_of(data)
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        raise BookError(
            "reading-damaged",
            f"This isn't a reading as the shop book keeps it: {error}.",
            "Read the photo again.",
        ) from error


def _tooth_json(tooth: ReadTooth) -> dict[str, Any]:
    flank, pattern = tooth.flank, tooth.pattern
    return {
        "map": np.round(flank.map.coefficients, 3).tolist(),
        "flank": flank.name,
        "confidence": round(flank.confidence, _PLACES),
        "residual": round(flank.residual, _PLACES),
        "source": flank.source,
        "painted": tooth.painted,
        "wet": tooth.wet,
        "pattern": None if pattern is None else _pattern_json(pattern),
    }


def _pattern_json(pattern: ToothPattern) -> dict[str, Any]:
    return {
        f.name: _plain(getattr(pattern, f.name)) for f in fields(ToothPattern) if f.name != "outlines"
    } | {"outlines": [_thinned(outline) for outline in pattern.outlines]}


def _tooth(data: dict[str, Any]) -> ReadTooth:
    pattern = data["pattern"]
    flank = Flank(
        FlankMap(np.array(data["map"], np.float64)),
        data["flank"],
        data["confidence"],
        data["residual"],
        data["source"],
    )
    patch = None if pattern is None else ToothPattern(**_typed(pattern))
    return ReadTooth(flank, data["painted"], patch, data.get("wet", False))


def _thinned(outline: Outline) -> list[list[float]]:
    """An outline with fewer points, (u, v) each."""
    import cv2

    points = cv2.approxPolyDP(np.array(outline, np.float32).reshape(-1, 1, 2), _OUTLINE, True)
    return [[round(float(u), 4), round(float(v), 4)] for u, v in points[:, 0]]


def _plain(value: Any) -> Any:
    """Numbers rounded, tuples as lists, edge sets sorted."""
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_plain(entry) for entry in value]
    return round(float(value), _PLACES) if isinstance(value, float) else value


def _typed(data: dict[str, Any]) -> dict[str, Any]:
    """Fields as the nouns hold them: pairs as tuples, edges as sets. Books of old kept the edges that a patch
    runs off in place of its distances.
    """
    typed = {name: tuple(v) if name in _PAIRS and v is not None else v for name, v in data.items()}
    typed.pop("margins_mm", None)
    off = typed.pop("runs_off", ())
    clear = typed.pop("clear", None)
    typed["clear"] = (
        told_clear(typed["length"], typed["height"], frozenset(off)) if clear is None else Clear(*clear)
    )
    typed["hard_edges"] = frozenset(typed["hard_edges"])
    typed["outlines"] = tuple(tuple((u, v) for u, v in outline) for outline in typed.get("outlines", ()))
    return typed
