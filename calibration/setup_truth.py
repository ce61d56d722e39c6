"""Where a simulated set-up truly stands: in its zone, clear of root and top, or how far outside."""

from __future__ import annotations

import numpy as np

from calibration.set_ups import STEP_MM, MisSetUp, TrueState, true_state
from contactread.advice.zones import MIDDLE
from contactread.axle import Interval
from contactread.pattern.measures import Setup


def beyond(
    state: TrueState, case: MisSetUp, zone: Interval, judged_mm: Interval
) -> tuple[float, float, float]:
    """How far the set-up lies outside: of the length, of the height, of backlash in mm; 0 inside."""
    along, up = state.misses(case.aim) or (1.0, 1.0)
    play = max(judged_mm[0] - state.backlash_mm, state.backlash_mm - judged_mm[1], 0.0)
    return max(along - zone[0], 0.0), max(up - zone[1], 0.0), play


def is_right(
    case: MisSetUp, pinion: float, ring: float, zone: tuple[float, float], judged_mm: Interval
) -> bool:
    """Whether the set-up is truly done: both centres in the zone, backlash as it should be."""
    state = true_state(case, pinion, ring)
    misses = state.misses(case.aim)
    inside = misses is not None and misses[0] <= zone[0] and misses[1] <= zone[1]
    return inside and judged_mm[0] <= state.backlash_mm <= judged_mm[1]


def runs_off(case: MisSetUp, pinion: float, ring: float) -> bool:
    """Whether a pattern truly runs off root or top."""
    state = true_state(case, pinion, ring).prediction
    return any(
        patch is not None and patch.runs_off & {"root", "top"} for patch in (state.convex, state.concave)
    )


def is_clear(seen: Setup, case: MisSetUp, pinion: float, ring: float) -> bool:
    """Whether every pattern that was seen to run off root or top is truly clear of both, or as near to the
    middle as one is wanted that is as tall as the tooth: a move's chance tells of that, too.
    """
    state = true_state(case, pinion, ring).prediction
    for side in (seen.drive, seen.coast):
        patch = state.convex if side.flank == "convex" else state.concave
        if side.runs_off & {"root", "top"} and (
            patch is None or (patch.runs_off & {"root", "top"} and abs(patch.centre[1] - 0.5) > MIDDLE)
        ):
            return False
    return True


def in_the_middle(state: TrueState) -> bool:
    """Whether both patterns lie within a tenth of the height from its middle."""
    patches = state.prediction.convex, state.prediction.concave
    return all(patch is not None and abs(patch.centre[1] - 0.5) <= 0.1 for patch in patches)


def clears_elsewhere(case: MisSetUp, pinion: float, ring: float, zone: Interval, judged_mm: Interval) -> bool:
    """Whether shims could truly set all right and clear of root and top, within 0.1 mm of this place."""
    steps = STEP_MM * np.arange(-4, 5)
    places = [(pinion + float(p), ring + float(g)) for p in steps for g in steps]
    return any(is_right(case, *at, zone, judged_mm) and not runs_off(case, *at) for at in places)
