"""What the solver is told of a simulated axle, and the bar that holds for it (issue of the trusted answer).

The truth is drawn by calibration/set_ups.py; crowning, bias and film are never told.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from contactread.axle import GearSet

DESIGNED_BACKLASH_MM = (0.15, 0.25)  # the limits that the invented manual prints
COMMON_BACKLASH_MM = (0.1524, 0.254)  # 6 to 10 thousandths of an inch, where nothing is printed

Telling = Callable[[GearSet], GearSet]


@dataclass(frozen=True)
class Bar:
    """Re-shims in the median and for nineteen in twenty, and the shares that may be accepted outside, left
    unfinished, or moved though they were right. None: no bar.
    """

    median: int | None = None
    most: int | None = None
    accepted_outside: float | None = None
    unfinished: float | None = None
    moved_inside: float | None = None


@dataclass(frozen=True)
class Condition:
    """One benchmark. tell: the gear set as the axle file describes it. limits_mm: backlash limits in the
    axle file. judged_mm: backlash that is right. axle_file: False gives no axle at all. hobbed: share of
    face-hobbed sets. inside: starts are right already. unmeasured: share of starts without a backlash.
    bars: for the wide and the tight zone.
    """

    name: str
    tell: Telling
    bars: tuple[Bar, Bar]
    limits_mm: tuple[float, float] | None = DESIGNED_BACKLASH_MM
    judged_mm: tuple[float, float] = DESIGNED_BACKLASH_MM
    axle_file: bool = True
    hobbed: float = 0.35
    inside: bool = False
    unmeasured: float = 0.0


def everything(true: GearSet) -> GearSet:
    """A full axle file."""
    return true


def three_numbers(true: GearSet) -> GearSet:
    """Teeth, diameter and hand only."""
    return GearSet(true.pinion_teeth, true.ring_teeth, true.ring_diameter_mm, hand=true.hand)


def without_cutting(true: GearSet) -> GearSet:
    """All but how it was cut."""
    return replace(true, cutting="unknown", cutter_groups=None)


def as_milled(true: GearSet) -> GearSet:
    """All, but a hobbed set is told as a milled one."""
    return replace(true, cutting="face_milled", cutter_groups=None)


_KNOWN = Bar(1, 1, 0.005), Bar(1, 2, 0.005)
_FEW = Bar(1, 2, 0.01, 0.0), Bar(1, 2, 0.01, 0.0)
_DOUBLE = Bar(2, 2, 0.01), Bar(2, 4, 0.01)
_INSIDE = Bar(accepted_outside=0.005, moved_inside=0.15)

CONDITIONS = {
    each.name: each
    for each in (
        Condition("known", everything, _KNOWN),
        Condition("three-numbers", three_numbers, _FEW),
        Condition("no-limits", everything, _FEW, limits_mm=None, judged_mm=COMMON_BACKLASH_MM),
        Condition("face-hobbed", everything, _KNOWN, hobbed=1.0),
        Condition("cutting-unknown", without_cutting, _DOUBLE),
        Condition("told-milled", as_milled, (Bar(), Bar()), hobbed=1.0),
        Condition("inside", everything, (_INSIDE, _INSIDE), inside=True),
        Condition(
            "no-axle-file",
            everything,
            (Bar(accepted_outside=0.0), Bar(accepted_outside=0.0)),
            limits_mm=None,
            judged_mm=COMMON_BACKLASH_MM,
            axle_file=False,
            unmeasured=0.5,
        ),
    )
}
