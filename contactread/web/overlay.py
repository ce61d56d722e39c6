"""A reading as lines to draw over its photo: plain data, in pixels of the whole picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from contactread.axle import Axle
from contactread.belief.targets import target_for
from contactread.flank.flank import FlankMap
from contactread.reading import ReadTooth
from contactread.records.measured import reading_of

_STEPS = 9  # points along an edge of a flank
Line = list[list[float]]


def overlay(reading: dict[str, Any], axle: Axle | None, to: tuple[float, float] | None = None) -> Any:
    """{"size": [w, h], "teeth": [{"outline", "root", "painted", "patches", "centre"}], "zone", "move"}.

    zone, move: on the clearest tooth only: the wanted place of the centre, and the line from the centre as
    read to where it is expected after the advised move (`to`, in flank coordinates). None for a refusal.
    """
    if reading["status"] != "read" or "measured" not in reading:
        return None
    seen = reading_of(reading)
    teeth = [_tooth(tooth) for tooth in seen.teeth]
    measured = [tooth for tooth in seen.teeth if tooth.pattern is not None]
    best = max(measured, key=lambda t: t.flank.length_px * t.flank.height_px, default=None)
    role = seen.side.role if axle is None else axle.role(seen.side.flank)
    zone, move = None, None
    if best is not None and best.pattern is not None:
        wanted = target_for(axle).zone(role)
        (u0, u1), (v0, v1) = wanted.u, wanted.v
        zone = _box(best.flank.map, u0, u1, v0, v1)
        if to is not None:
            du, dv = to[0] - seen.side.centre[0], to[1] - seen.side.centre[1]
            u, v = best.pattern.centre
            ends = np.clip([[u, v], [u + du, v + dv]], -0.1, 1.1)
            move = _points(best.flank.map, ends)
    return {"size": list(seen.size_px), "teeth": teeth, "zone": zone, "move": move}


def _tooth(tooth: ReadTooth) -> dict[str, Any]:
    flank = tooth.flank
    corners = flank.corners.values()
    return {
        "outline": _box(flank.map, 0, 1, 0, 1),
        "label": [[round(x, 1), round(y, 1)] for x, y in corners],
        "painted": tooth.painted,
        "patches": [_points(flank.map, np.asarray(line)) for line in outlines_of(tooth)],
        "centre": None if tooth.pattern is None else _points(flank.map, np.array([tooth.pattern.centre]))[0],
    }


def outlines_of(tooth: ReadTooth) -> tuple[Any, ...]:
    """The outlines of the tooth's patch, (n, 2) of (u, v) each."""
    return () if tooth.pattern is None else tooth.pattern.outlines


def _box(of: FlankMap, u0: float, u1: float, v0: float, v1: float) -> Line:
    """A rectangle on the flank as a closed line: from toe root along the toe, the top, the heel, the root."""
    t = np.linspace(0, 1, _STEPS)[:-1]
    u = np.concatenate([np.full_like(t, u0), u0 + (u1 - u0) * t, np.full_like(t, u1), u1 - (u1 - u0) * t])
    v = np.concatenate([v0 + (v1 - v0) * t, np.full_like(t, v1), v1 - (v1 - v0) * t, np.full_like(t, v0)])
    return _points(of, np.stack([u, v], axis=1))


def _points(of: FlankMap, uv: Any) -> Line:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in of(uv[:, 0], uv[:, 1])]
