"""A gear set with a hidden mis-set-up, and what its mechanics say of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from contactread.axle import FLANKS, ROLES, Axle, FlankName, Interval, Role
from contactread.belief.targets import Target, target_for
from contactread.patch import Patch
from contactread.practice.fleet import FLEET
from contactread.units import show_clearance

if TYPE_CHECKING:
    from contactread.mesh.kinematics import Displacement
    from contactread.mesh.response import MeshModel, Prediction


@dataclass(frozen=True)
class Case:
    """Where pinion and ring gear of one axle of the fleet stand.

    pinion_mm, ring_mm: P and G away from the right place; positive is away from the other gear, as in the
    whole house. offset_mm: how far the pinion bore is off in its offset, which no shim cures.
    """

    axle_id: str
    pinion_mm: float = 0.0
    ring_mm: float = 0.0
    offset_mm: float = 0.0

    @property
    def axle(self) -> Axle:
        return FLEET[self.axle_id]

    @property
    def target(self) -> Target:
        return target_for(self.axle)

    @property
    def limits(self) -> Interval:
        """Backlash limits; every axle of the fleet has them."""
        assert self.axle.limits.backlash_mm is not None
        return self.axle.limits.backlash_mm

    @property
    def middle(self) -> float:
        """The middle of the backlash limits."""
        return sum(self.limits) / 2

    @property
    def place(self) -> Displacement:
        """Where the gears stand in the mesh's own count."""
        from contactread.mesh.kinematics import Displacement

        p, g = right_place(self.axle_id)
        return Displacement(round(p + self.pinion_mm, 5), round(g + self.ring_mm, 5), self.offset_mm)

    @property
    def touches(self) -> bool:
        """False where one of the flanks makes no contact at all."""
        seen = foreseen(self.axle_id, self.place)
        return seen.convex is not None and seen.concave is not None

    @property
    def backlash_mm(self) -> float:
        """Backlash, counted so that the right place has the middle of the axle's limits."""
        here, right = (foreseen(self.axle_id, c.place) for c in (self, Case(self.axle_id)))
        return self.middle + here.backlash_change_mm - right.backlash_change_mm

    def flank(self, role: Role) -> FlankName:
        """The ring-gear flank that has this role."""
        return "convex" if self.axle.role("convex") == role else "concave"

    def patch(self, role: Role) -> Patch:
        """The patch of one side, without its outlines; the set must touch."""
        patch = foreseen(self.axle_id, self.place).patch(self.flank(role))
        assert patch is not None, "one flank doesn't touch here"
        return patch

    def drawn(self, role: Role) -> Patch:
        """The patch of one side with its outlines."""
        patch = _model(self.axle_id).patch(self.flank(role), self.place, outlined=True)
        assert patch is not None, "this flank doesn't touch here"
        return patch

    def moved(self, pinion_mm: float = 0.0, ring_mm: float = 0.0) -> Case:
        """The same set after a move."""
        return replace(self, pinion_mm=self.pinion_mm + pinion_mm, ring_mm=self.ring_mm + ring_mm)

    def with_backlash(self, wanted_mm: float, rounds: int = 2) -> Case:
        """The same set with the ring gear moved until the backlash is as wanted: to about 0.005 mm in one
        round, 0.0005 mm in two.
        """
        here = self
        for _ in range(rounds):
            here = here.moved(ring_mm=(wanted_mm - here.backlash_mm) / backlash_per_travel(self.axle_id))
        return here

    def within_limits(self) -> bool:
        return self.limits[0] - 1e-4 <= self.backlash_mm <= self.limits[1] + 1e-4

    def off(self) -> float:
        """How far the patterns are from where they belong: root mean square distance of the two centres,
        in fractions of the tooth.
        """
        belongs = Case(self.axle_id)
        pairs = ((self.patch(role).centre, belongs.patch(role).centre) for role in ROLES)
        return math.sqrt(sum(math.dist(*pair) ** 2 for pair in pairs) / 2)


@dataclass(frozen=True)
class Ending:
    """How a set stands against what is wanted of it. lacks: what keeps it from being good, in words with
    figures, the plainest first; empty where it is good. clarity: how plainly it is one or the other, 1 and
    more: not to be mistaken (two careful readings of a pattern differ by less).
    """

    lacks: tuple[str, ...]
    clarity: float

    @property
    def good(self) -> bool:
        return not self.lacks


# What is plain: this much of the tooth beyond the wanted place or inside it, this much backlash (mm).
BEYOND, INSIDE, BACKLASH_MM = 0.03, 0.01, 0.01


@lru_cache(maxsize=10_000)
def ending(case: Case) -> Ending:
    """Good is: backlash in its limits, both centres in their wanted place, no patch cut off at root or top;
    for used gears (A14) no patch cut off at all, wherever it lies. The set must touch.
    """
    used = case.target.name == "used"
    least, most = case.limits
    inside: list[float] = []  # how plainly each thing is as wanted
    lacks: list[tuple[float, str]] = []  # how plainly each isn't, and in words

    def judge(beyond: float, plain: float, words: str) -> None:
        if beyond > 0:
            lacks.append((beyond / plain, words))

    beyond = max(least - case.backlash_mm, case.backlash_mm - most) - 1e-4
    inside.append(-beyond / BACKLASH_MM)
    way = "above" if case.backlash_mm > most else "below"
    judge(beyond, BACKLASH_MM, f"backlash is {show_clearance(abs(beyond))} {way} its limits")
    for role in ROLES:
        patch, zone = case.patch(role), case.target.zone(role)
        off = patch.runs_off if used else patch.runs_off & {"root", "top"}
        judge(2.0 * bool(off), 1.0, f"the {role} patch runs off at the {' and '.join(sorted(off))}")
        if used:
            inside.append(min(patch.clear) / INSIDE)
            continue
        for value, (low, high), ways, size in (
            (patch.centre[0], zone.u, ("nearer the toe", "nearer the heel"), "length"),
            (patch.centre[1], zone.v, ("lower", "higher"), "height"),
        ):
            beyond = max(low - value, value - high)
            inside.append(-beyond / INSIDE)
            place = f"{share(abs(beyond))} of the {size} {ways[value > high]} than wanted"
            judge(beyond, BEYOND, f"the {role} patch lies {place}")
    lacks.sort(reverse=True)
    return Ending(tuple(words for _, words in lacks), lacks[0][0] if lacks else min(inside))


@lru_cache(maxsize=50_000)
def foreseen(axle_id: str, place: Displacement) -> Prediction:
    """What the mesh says of one place of the gears. The belief room says the same, for the fleet is given in
    full (a test holds the two together); the mesh is asked directly, for a question needs many places.
    """
    return _model(axle_id).predict(place.pinion, place.ring, place.offset, place.shaft_angle)


@cache
def _model(axle_id: str) -> MeshModel:
    from contactread.mesh.response import MeshModel

    return MeshModel(FLEET[axle_id])


@cache
def right_place(axle_id: str) -> tuple[float, float]:
    """(P, G) from the mesh's nominal place where both centres lie nearest to the target's aims.

    Gauss-Newton on the four centre coordinates with two unknowns.
    """
    import numpy as np

    from contactread.mesh.kinematics import Displacement

    target, axle = target_for(FLEET[axle_id]), FLEET[axle_id]

    def miss(p: float, g: float) -> list[float]:
        seen = foreseen(axle_id, Displacement(p, g))
        pairs = [(seen.patch(flank), target.zone(axle.role(flank)).aim) for flank in FLANKS]
        return [c - a for patch, aim in pairs if patch for c, a in zip(patch.centre, aim, strict=True)]

    p = g = 0.0
    for _ in range(4):
        here = np.array(miss(p, g))
        slopes = np.array([(miss(p + 0.05, g) - here) / 0.05, (miss(p, g + 0.05) - here) / 0.05])
        step = np.linalg.lstsq(slopes.T, here, rcond=None)[0]
        p, g = round(p - float(step[0]), 4), round(g - float(step[1]), 4)
    return p, g


@cache
def backlash_per_travel(axle_id: str) -> float:
    """Backlash change per ring-gear travel about the right place (source B28: 0.5 to 0.8)."""
    away, near = (Case(axle_id, ring_mm=mm).backlash_mm for mm in (0.05, -0.05))
    return (away - near) / 0.1


@cache
def height_per_travel(axle_id: str) -> float:
    """How far the patch that answers more moves up the height per mm of pinion travel, backlash set again."""
    belongs = Case(axle_id)
    moved = belongs.moved(pinion_mm=0.2).with_backlash(belongs.backlash_mm, rounds=1)
    return max(moved.patch(role).centre[1] - belongs.patch(role).centre[1] for role in ROLES) / 0.2


def share(value: float) -> str:
    """A distance as a share of the tooth; small ones to a tenth of a percent."""
    return f"{value:.0%}" if value >= 0.1 else f"{value:.1%}"
