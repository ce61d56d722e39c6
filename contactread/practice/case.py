"""A gear set with a hidden mis-set-up, and what each move would do to it. All of it is mechanics."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

from contactread.axle import Axle, FlankName, Role
from contactread.belief.targets import Target, target_for
from contactread.patch import Patch
from contactread.practice.fleet import FLEET
from contactread.practice.foresee import Bore, Foreseen, Place, drawn, foresee

Member = Literal["pinion", "ring_gear"]
ROLES: tuple[Role, Role] = ("drive", "coast")
FLANKS: tuple[FlankName, FlankName] = ("convex", "concave")
# Travels tried to find out how good a direction can get, beside the hidden one. A wrong direction is least
# bad at its smallest travel.
PINION_TRAVELS_MM = (0.05,)
RING_TRAVELS_MM = (0.03, 0.06, 0.09, 0.12)


@dataclass(frozen=True)
class Case:
    """Where pinion and ring gear of one invented axle stand.

    axle_id: key of the fleet. pinion_mm, ring_mm: P and G away from the right place; positive is away from
    the other gear, as in the whole house. bore: a fault that no shim cures.
    """

    axle_id: str
    pinion_mm: float = 0.0
    ring_mm: float = 0.0
    bore: Bore | None = None

    @property
    def axle(self) -> Axle:
        return FLEET[self.axle_id]

    @property
    def target(self) -> Target:
        return target_for(self.axle)

    @property
    def place(self) -> Place:
        """The same in the mesh's own count."""
        p, g = right_place(self.axle_id)
        return Place(round(p + self.pinion_mm, 5), round(g + self.ring_mm, 5), self.bore)

    @property
    def touches(self) -> bool:
        """False where one of the flanks makes no contact at all."""
        return foresee(self.axle, self.place) is not None

    @property
    def foreseen(self) -> Foreseen:
        seen = foresee(self.axle, self.place)
        if seen is None:
            raise ValueError("one flank doesn't touch here")
        return seen

    @property
    def backlash_mm(self) -> float:
        """Backlash, counted so that the right place has the middle of the axle's limits."""
        change = self.foreseen.backlash_change_mm - right(self.axle_id).backlash_change_mm
        return backlash_middle(self.axle) + change

    def patch(self, role: Role) -> Patch:
        """The patch of one side, without its outlines."""
        return self.foreseen.flank(flank_of(self.axle, role))

    def drawn(self, role: Role) -> Patch:
        """The patch of one side with its outlines."""
        return drawn(self.axle, flank_of(self.axle, role), self.place)

    def moved(self, pinion_mm: float = 0.0, ring_mm: float = 0.0) -> Case:
        """The same set after a move."""
        return replace(self, pinion_mm=self.pinion_mm + pinion_mm, ring_mm=self.ring_mm + ring_mm)

    def with_backlash(self, wanted_mm: float, rounds: int = 2) -> Case:
        """The same set with the ring gear moved until the backlash is as wanted: to about 0.005 mm in one
        round, 0.0005 mm in two.
        """
        here = self
        for _ in range(rounds):
            miss = wanted_mm - here.backlash_mm
            here = here.moved(ring_mm=miss / backlash_per_travel(self.axle_id))
        return here

    def off(self) -> float:
        """How far the patterns are from where they belong: root mean square distance of the two centres,
        in fractions of the tooth.
        """
        seen, wanted = self.foreseen, right(self.axle_id)
        pairs = ((seen.convex, wanted.convex), (seen.concave, wanted.concave))
        return math.sqrt(sum(math.dist(here.centre, there.centre) ** 2 for here, there in pairs) / 2)

    def within_limits(self) -> bool:
        least, most = limits_of(self.axle)
        return least - 1e-4 <= self.backlash_mm <= most + 1e-4

    def best_by_pinion(self, sign: int) -> float:
        """The least `off` that a pinion move that way can reach, backlash set again to what it was."""
        wanted = self.backlash_mm
        moved = (self.moved(pinion_mm=sign * mm) for mm in {*PINION_TRAVELS_MM, abs(self.pinion_mm)} - {0.0})
        return min((c.with_backlash(wanted, rounds=1).off() for c in moved if c.touches), default=math.inf)

    def best_by_ring(self, sign: int) -> float:
        """The least `off` that a ring-gear move that way can reach with backlash in limits; infinite where
        none ends in limits.
        """
        least, most = limits_of(self.axle)
        slope = backlash_per_travel(self.axle_id)
        reached = [math.inf]
        for mm in {*RING_TRAVELS_MM, abs(self.ring_mm)} - {0.0}:
            backlash = self.backlash_mm + sign * mm * slope
            if least - 0.03 < backlash < most + 0.03:  # else it can't end in limits: don't ask the mesh
                moved = self.moved(ring_mm=sign * mm)
                if moved.touches and moved.within_limits():
                    reached.append(moved.off())
        return min(reached)


def flank_of(axle: Axle, role: Role) -> FlankName:
    """The ring-gear flank that has this role."""
    return "convex" if axle.role("convex") == role else "concave"


def limits_of(axle: Axle) -> tuple[float, float]:
    """Backlash limits; every axle of the fleet has them."""
    assert axle.limits.backlash_mm is not None
    return axle.limits.backlash_mm


def backlash_middle(axle: Axle) -> float:
    return sum(limits_of(axle)) / 2


@cache
def right_place(axle_id: str) -> tuple[float, float]:
    """(P, G) from the mesh's nominal place where both centres lie nearest to the target's aims.

    Gauss-Newton on the four centre coordinates with two unknowns.
    """
    axle = FLEET[axle_id]
    target = target_for(axle)

    def miss(p: float, g: float) -> list[float]:
        seen = foresee(axle, Place(p, g))
        assert seen is not None
        values = []
        for role in ROLES:
            centre, aim = seen.flank(flank_of(axle, role)).centre, target.zone(role).aim
            values += [centre[0] - aim[0], centre[1] - aim[1]]
        return values

    p = g = 0.0
    for _ in range(4):
        here = miss(p, g)
        by_p = [(b - a) / 0.05 for a, b in zip(here, miss(p + 0.05, g), strict=True)]
        by_g = [(b - a) / 0.05 for a, b in zip(here, miss(p, g + 0.05), strict=True)]
        pp, gg, pg = _dot(by_p, by_p), _dot(by_g, by_g), _dot(by_p, by_g)
        rp, rg = _dot(by_p, here), _dot(by_g, here)
        det = pp * gg - pg * pg
        p, g = round(p - (gg * rp - pg * rg) / det, 4), round(g - (pp * rg - pg * rp) / det, 4)
    return p, g


@cache
def right(axle_id: str) -> Foreseen:
    """What the set shows where it belongs."""
    return Case(axle_id).foreseen


@cache
def backlash_per_travel(axle_id: str) -> float:
    """Backlash change per ring-gear travel about the right place (source B28: 0.5 to 0.8)."""
    change = Case(axle_id, ring_mm=0.05).foreseen.backlash_change_mm
    return (change - Case(axle_id, ring_mm=-0.05).foreseen.backlash_change_mm) / 0.1


@cache
def height_per_travel(axle_id: str) -> float:
    """How far the patch that answers more moves up the height per mm of pinion travel, backlash set again."""
    belongs = Case(axle_id)
    moved = belongs.moved(pinion_mm=0.2).with_backlash(belongs.backlash_mm, rounds=1)
    return max(moved.patch(role).centre[1] - belongs.patch(role).centre[1] for role in ROLES) / 0.2


def _dot(a: list[float], b: list[float]) -> float:
    return sum(x * y for x, y in zip(a, b, strict=True))
