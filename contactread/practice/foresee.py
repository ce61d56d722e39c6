"""What the mesh foresees for a gear set in a given place: both patches, their outlines, the backlash."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from math import radians
from typing import TYPE_CHECKING, Any, Literal

from contactread.axle import Axle, FlankName, Interval
from contactread.pattern.measures import Edge, Point

if TYPE_CHECKING:
    from contactread.mesh.response import MeshModel

Bore = tuple[Literal["offset", "angle"], float]
Outline = tuple[Point, ...]


@dataclass(frozen=True)
class Place:
    """Where the gears stand against the mesh's nominal place: P and G in mm, positive away from each other.

    bore: a pinion bore that is off by an "offset" (mm) or a shaft "angle" (deg).
    """

    pinion_mm: float
    ring_mm: float
    bore: Bore | None = None


@dataclass(frozen=True)
class Patch:
    """A patch on one flank (u toe to heel, v root to top, 0..1).

    centre: (u, v). length, height: 5 and 95 % points of the contact area. tilt_deg: positive where the heel
    end lies higher. area_fraction: share of the flank. runs_off: edges it runs over. outlines: closed curves
    round each part of it.
    """

    centre: Point
    length: Interval
    height: Interval
    tilt_deg: float
    area_fraction: float
    runs_off: frozenset[Edge]
    outlines: tuple[Outline, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """As `contactread read --json` shows a pattern, with its outlines."""
        return {
            "centroid": list(self.centre),
            "length": list(self.length),
            "height": list(self.height),
            "area_fraction": self.area_fraction,
            "tilt_deg": self.tilt_deg,
            "runs_off": sorted(self.runs_off),
            "outlines": [[list(point) for point in outline] for outline in self.outlines],
        }


@dataclass(frozen=True)
class Foreseen:
    """Both patches without outlines, and the backlash against the nominal place, mm."""

    convex: Patch
    concave: Patch
    backlash_change_mm: float

    def flank(self, name: FlankName) -> Patch:
        return self.convex if name == "convex" else self.concave


@lru_cache(maxsize=50_000)
def foresee(axle: Axle, place: Place) -> Foreseen | None:
    """The mesh's answer; None where one of the flanks doesn't touch at all."""
    offset, angle = _bore(place.bore)
    seen = _model(axle).predict(place.pinion_mm, place.ring_mm, offset, angle)
    if seen.convex is None or seen.concave is None:
        return None
    convex, concave = (
        Patch(p.centroid, p.length, p.height, p.tilt_deg, p.area_fraction, p.runs_off)
        for p in (seen.convex, seen.concave)
    )
    return Foreseen(convex, concave, seen.backlash_change_mm)


def outlines(axle: Axle, flank: FlankName, place: Place) -> tuple[Outline, ...]:
    """The curves round the patch of one flank, one for each part that stands alone."""
    from contactread.mesh.kinematics import Displacement

    at = Displacement(place.pinion_mm, place.ring_mm, *_bore(place.bore))
    covered = _model(axle).coverage(flank, at)
    return trace([[0.5 - float(share) for share in row] for row in covered.T])


def trace(rows: list[list[float]]) -> tuple[Outline, ...]:
    """Closed curves round the cells below zero. rows: from root to top, each from toe to heel.

    A row's ends are placed between cells by straight interpolation; rows that overlap belong together.
    """
    parts: list[list[tuple[float, float, float]]] = []
    count = len(rows)
    for index, row in enumerate(rows):
        v = (index + 0.5) / count
        for u0, u1 in _spans(row):
            last = (index - 0.5) / count
            part = next((p for p in parts if p[-1][0] == last and p[-1][1] < u1 and p[-1][2] > u0), None)
            if part is None:
                parts.append([(v, u0, u1)])
            else:
                part.append((v, u0, u1))
    return tuple(_closed(part, 0.5 / count) for part in parts)


@cache
def _model(axle: Axle) -> MeshModel:
    from contactread.mesh.response import MeshModel

    return MeshModel(axle)


def _bore(bore: Bore | None) -> tuple[float, float]:
    if bore is None:
        return 0.0, 0.0
    kind, size = bore
    return (size, 0.0) if kind == "offset" else (0.0, radians(size))


def _spans(row: list[float]) -> list[Interval]:
    """Stretches of a row that lie below zero, as (u0, u1)."""
    width = len(row)
    spans = []
    start = 0.0 if row[0] < 0 else None
    for index in range(1, width):
        before, here = row[index - 1], row[index]
        if (before < 0) != (here < 0):
            crossing = (index - 0.5 + before / (before - here)) / width
            if start is None:
                start = crossing
            else:
                spans.append((start, crossing))
                start = None
    if start is not None:
        spans.append((start, 1.0))
    return spans


def _closed(part: list[tuple[float, float, float]], half_row: float) -> Outline:
    """A part's left ends upward, then its right ends downward, closed half a row beyond both."""
    left = [(u0, v) for v, u0, _ in part]
    right = [(u1, v) for v, _, u1 in reversed(part)]
    (v_low, a, b), (v_high, c, d) = part[0], part[-1]
    low = ((a * 3 + b) / 4, v_low - half_row), ((a + b * 3) / 4, v_low - half_row)
    high = ((c * 3 + d) / 4, v_high + half_row), ((c + d * 3) / 4, v_high + half_row)
    return (low[0], *left, *high, *right, low[1])
