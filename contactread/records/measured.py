"""A reading as plain data and back, whole, so that later advice and pictures need no second reading.

In the book it stands beside the fields of ``read --json``, under ``measured``.
"""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

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
    flank = {field.name: getattr(tooth.flank, field.name) for field in fields(Flank)}
    return {
        "flank": flank
        | {
            "map": np.round(tooth.flank.map.coefficients, 4).tolist(),
            "outline": None if tooth.flank.outline is None else _points_json(tooth.flank.outline, 2),
            "covered_by": [_points_json(polygon, 2) for polygon in tooth.flank.covered_by],
        },
        "contours": [_points_json(contour, 4) for contour in tooth.contours],
        "painted": tooth.painted,
        "pattern": None if tooth.pattern is None else _plain(asdict(tooth.pattern)),
    }


def _tooth(data: dict[str, Any]) -> ReadTooth:
    given, pattern = data["flank"], data["pattern"]
    flank = given | {
        "map": FlankMap(np.array(given["map"], np.float64)),
        "outline": None if given["outline"] is None else _points(given["outline"]),
        "covered_by": tuple(_points(polygon) for polygon in given["covered_by"]),
    }
    patch = None if pattern is None else ToothPattern(**_typed(ToothPattern, pattern))
    return ReadTooth(
        Flank(**flank), data["painted"], patch, tuple(_points(contour) for contour in data["contours"])
    )


def _points_json(points: NDArray[np.float64], places: int) -> list[list[float]]:
    listed: list[list[float]] = np.round(points, places).tolist()
    return listed


def _points(listed: list[list[float]]) -> NDArray[np.float64]:
    return np.array(listed, np.float64).reshape(-1, 2)


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
