"""What the mesh foresees for a gear set in a given place: both patches and the backlash."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from math import radians
from typing import TYPE_CHECKING, Literal

from contactread.axle import Axle, FlankName
from contactread.patch import Patch

if TYPE_CHECKING:
    from contactread.mesh.response import MeshModel

Bore = tuple[Literal["offset", "angle"], float]


@dataclass(frozen=True)
class Place:
    """Where the gears stand against the mesh's nominal place: P and G in mm, positive away from each other.

    bore: a pinion bore that is off by an "offset" (mm) or a shaft "angle" (deg).
    """

    pinion_mm: float
    ring_mm: float
    bore: Bore | None = None


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
    return Foreseen(seen.convex, seen.concave, seen.backlash_change_mm)


def drawn(axle: Axle, flank: FlankName, place: Place) -> Patch:
    """The patch of one flank with its outlines; it must touch there."""
    from contactread.mesh.kinematics import Displacement

    at = Displacement(place.pinion_mm, place.ring_mm, *_bore(place.bore))
    patch = _model(axle).patch(flank, at, outlined=True)
    assert patch is not None
    return patch


@cache
def _model(axle: Axle) -> MeshModel:
    from contactread.mesh.response import MeshModel

    return MeshModel(axle)


def _bore(bore: Bore | None) -> tuple[float, float]:
    if bore is None:
        return 0.0, 0.0
    kind, size = bore
    return (size, 0.0) if kind == "offset" else (0.0, radians(size))
