"""A reading as lines to draw over its photo: plain data, in pixels of the whole picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from contactread.arrays import Floats
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
        lines = [_box(*wanted.u, *wanted.v)]
        if to is not None:
            du, dv = to[0] - seen.side.centre[0], to[1] - seen.side.centre[1]
            u, v = best.pattern.centre
            lines.append(np.clip([[u, v], [u + du, v + dv]], -0.1, 1.1))
        zone, *moves = _in_pixels(best.flank.map, lines)
        move = moves[0] if moves else None
    return {"size": list(seen.size_px), "teeth": teeth, "zone": zone, "move": move}


def _tooth(tooth: ReadTooth) -> dict[str, Any]:
    flank, pattern = tooth.flank, tooth.pattern
    outlines = [] if pattern is None else [np.asarray(line, float) for line in pattern.outlines]
    centre = np.array([(0.5, 0.5) if pattern is None else pattern.centre])
    whole, middle, *patches = _in_pixels(flank.map, [_box(0, 1, 0, 1), centre, *outlines])
    return {
        "outline": whole,
        "label": [[round(x, 1), round(y, 1)] for x, y in flank.corners.values()],
        "painted": tooth.painted,
        "patches": patches,
        "centre": None if pattern is None else middle[0],
    }


def _box(u0: float, u1: float, v0: float, v1: float) -> Floats:
    """A rectangle on the flank as a closed line of (u, v): from toe root along the toe, the top, the heel,
    the root."""
    t = np.linspace(0, 1, _STEPS)[:-1]
    u = np.concatenate([np.full_like(t, u0), u0 + (u1 - u0) * t, np.full_like(t, u1), u1 - (u1 - u0) * t])
    v = np.concatenate([v0 + (v1 - v0) * t, np.full_like(t, v1), v1 - (v1 - v0) * t, np.full_like(t, v0)])
    return np.stack([u, v], axis=1)


def _in_pixels(of: FlankMap, lines: Sequence[Floats]) -> list[Line]:
    """Lines of (u, v) in pixels; all in one go, since each asks for the same series."""
    u, v = np.concatenate(lines).T
    places: Line = np.round(of(u, v), 1).tolist()
    ends = np.cumsum([len(line) for line in lines]).tolist()
    return [places[end - len(line) : end] for line, end in zip(lines, ends, strict=True)]
