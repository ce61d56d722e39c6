"""Sums with the dial indicator: travel for a wanted backlash, verdicts on runout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from contactread.axle import Interval

# Backlash per ring-gear travel, least and most, that publications print (B28; B30 lies at the lower end).
RATIO: Interval = (0.5, 0.8)


def travel_for_backlash(present_mm: float, wanted_mm: float) -> Interval:
    """Ring-gear travel G, least and most in size, that takes backlash to what is wanted (positive: away).

    The first of the two is the careful one: it can't overshoot where B28 holds.
    """
    difference = wanted_mm - present_mm
    return difference / RATIO[1], difference / RATIO[0]


@dataclass(frozen=True)
class RunoutVerdict:
    """A runout reading against a limit. miss_mm: how far beyond it, 0 inside."""

    verdict: Literal["within", "beyond", "no_limit"]
    runout_mm: float
    miss_mm: float


def judge_runout(runout_mm: float, limit_mm: float | None) -> RunoutVerdict:
    """Ring-gear or flange runout against the axle's own limit; without one only the reading is repeated."""
    if limit_mm is None:
        return RunoutVerdict("no_limit", runout_mm, 0.0)
    miss = runout_mm - limit_mm
    if miss > 1e-6:  # a reading converted from inches must not fail on its last bit
        return RunoutVerdict("beyond", runout_mm, miss)
    return RunoutVerdict("within", runout_mm, 0.0)
