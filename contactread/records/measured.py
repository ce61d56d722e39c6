"""A reading as plain data and back, whole, so that later advice and pictures need no second reading.

In the book it stands beside the fields of ``read --json``, under ``measured``.
"""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any

import numpy as np

from contactread.flank.flank import Flank, FlankMap
from contactread.pattern.measures import Side, ToothPattern
from contactread.reading import Reading, ReadTooth

_PAIRS = {"centre", "sigma", "length", "height", "spread", "wave"}
_SETS = {"runs_off", "hard_edges"}


def with_measured(reading: Reading) -> dict[str, Any]:
    """One photo of ``read --json``, with everything measured beside it."""
    return reading.to_json() | {
        "measured": {
            "side": _plain(asdict(reading.side)),
            "teeth": [_tooth_json(tooth) for tooth in reading.teeth],
        }
    }


def side_of(reading: dict[str, Any]) -> Side:
    """The side of a recorded reading."""
    data = reading["measured"]["side"]
    teeth = tuple(ToothPattern(**_typed(ToothPattern, tooth)) for tooth in data["teeth"])
    return Side(**(_typed(Side, data) | {"teeth": teeth}))


def reading_of(reading: dict[str, Any]) -> Reading:
    """The whole reading as it was recorded; its path is None."""
    width, height = reading["size_px"]
    return Reading(
        path=None,
        sha256=reading["sha256"],
        size_px=(width, height),
        teeth=tuple(_tooth(data) for data in reading["measured"]["teeth"]),
        side=side_of(reading),
        confidence=reading["confidence"],
        flags=tuple(reading["flags"]),
    )


def _tooth_json(tooth: ReadTooth) -> dict[str, Any]:
    flank = tooth.flank
    return {
        "map": np.round(flank.map.coefficients, 4).tolist(),
        "name": flank.name,
        "confidence": flank.confidence,
        "residual": flank.residual,
        "source": flank.source,
        "outline": None if flank.outline is None else np.round(flank.outline, 2).tolist(),
        "contours": [np.round(contour, 4).tolist() for contour in tooth.contours],
        "painted": tooth.painted,
        "pattern": None if tooth.pattern is None else _plain(asdict(tooth.pattern)),
    }


def _tooth(data: dict[str, Any]) -> ReadTooth:
    outline = None if data["outline"] is None else np.array(data["outline"], np.float64)
    flank = Flank(
        FlankMap(np.array(data["map"], np.float64)),
        data["name"],
        data["confidence"],
        data["residual"],
        data["source"],
        outline,
    )
    pattern = data["pattern"]
    patch = None if pattern is None else ToothPattern(**_typed(ToothPattern, pattern))
    contours = tuple(np.array(contour, np.float64) for contour in data["contours"])
    return ReadTooth(flank, data["painted"], patch, contours)


def _plain(values: dict[str, Any]) -> dict[str, Any]:
    plain = {key: sorted(value) if key in _SETS else value for key, value in values.items()}
    if "teeth" in plain:
        plain["teeth"] = [_plain(tooth) for tooth in plain["teeth"]]
    return plain


def _typed(noun: type[Side] | type[ToothPattern], data: dict[str, Any]) -> dict[str, Any]:
    """The fields of `noun` found in `data`, lists turned into what the noun holds."""
    typed: dict[str, Any] = {}
    for field in fields(noun):
        if field.name not in data:
            continue
        value = data[field.name]
        if field.name in _PAIRS and value is not None:
            value = tuple(value)
        elif field.name in _SETS:
            value = frozenset(value)
        typed[field.name] = value
    return typed
