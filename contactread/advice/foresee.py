"""From readings and moves so far to what is believed of this axle: the bridge between sides and numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from contactread.advice.answer import EarlierTry
from contactread.advice.backlash import judge_backlash
from contactread.advice.belief import Array, Belief, Candidates, Observation, Prior, believe
from contactread.advice.findings import sigma_of
from contactread.advice.plan import Zones, zones_for
from contactread.advice.response import FittedDraws, response_of
from contactread.advice.targets import Target
from contactread.axle import Axle, Interval, Limits
from contactread.pattern.measures import Setup, Side

# Before anything is read: how far an axle may stand from its designed place, mm (pinion, ring gear).
PLACE_SIGMA = (0.25, 0.25)
# A patch cut off at an edge shows its centre less well, flank fractions.
CUT_SIGMA = 0.04
# Below this a backlash reading only says that the teeth bind, mm.
BOUND_MM, BOUND_SIGMA_MM = 0.02, 0.06
# Where no limits are given the backlash aim is a guess only; its width lets the readings speak.
NO_LIMITS_SIGMA_MM = 0.10


class Case(NamedTuple):
    """One state of affairs an axle may be in. odds: how often, before anything is read. own: how far the
    set's own best place lies from the aim, flank fractions (u, v). housing: how far the bores are off, mm
    of offset and degrees of shaft angle. All standard deviations, and our own suppositions.
    """

    odds: float
    own: Interval
    housing: Interval


USUAL = Case(0.90, (0.04, 0.05), (0.015, 0.010))
ODD_SET = Case(0.07, (0.15, 0.15), (0.015, 0.010))
BENT_HOUSING = Case(0.03, (0.04, 0.05), (0.15, 0.12))
CASES = (USUAL, ODD_SET, BENT_HOUSING)


@dataclass(frozen=True, eq=False)
class Foresight:
    """What is believed after all tries.

    bent: which candidates (n,) have a housing that is off. drawn: the gear sets behind the candidates.
    """

    belief: Belief
    zones: Zones
    observations: list[Observation]
    bent: NDArray[np.bool_]
    drawn: FittedDraws

    @property
    def bent_chance(self) -> float:
        """Chance that the housing is off, from the readings."""
        return float(self.belief.weight[self.bent].sum())

    def housing(self) -> tuple[Interval, Interval]:
        """Offset error (mm) and shaft-angle error (degrees), each with its uncertainty, if it is off."""
        mean, sigma = self.belief.state(self.bent)
        return (float(mean[2]), float(sigma[2])), (float(mean[3]), float(sigma[3]))


def foresee(setup: Setup, axle: Axle, history: Sequence[EarlierTry], target: Target) -> Foresight:
    """The belief about this axle from this reading and the earlier tries, each with the move after it.

    Raises MechanicsError where no gear set can be computed from the axle file.
    """
    tries = [*(t.setup for t in history), setup]
    drawn = response_of(axle.gears, axle.ease_off).fit(_clearest(tries))
    single, count = drawn.candidates, len(drawn.extents)
    odds = np.log(np.repeat([case.odds for case in CASES], count))
    candidates = Candidates(
        np.tile(single.jacobian, (len(CASES), 1, 1)), np.tile(single.log_weight, len(CASES)) + odds
    )
    extents = np.tile(drawn.extents, (len(CASES), 1))
    moves = np.cumsum([(0.0, 0.0), *((t.pinion_mm, t.ring_mm) for t in history)], axis=0)
    observations = [
        _observe(one, extents, (float(p), float(g)), axle.limits)
        for one, (p, g) in zip(tries, moves, strict=True)
    ]
    backlash = judge_backlash(setup.backlash_mm, axle.limits)
    zones = zones_for(target, axle, None if backlash is None else backlash.mean_mm)
    belief = believe(candidates, _prior(zones, axle, count), observations)
    bent = np.repeat([case is BENT_HOUSING for case in CASES], count)
    return Foresight(belief, zones, observations, bent, drawn)


def _prior(zones: Zones, axle: Axle, count: int) -> Prior:
    """The prior of every candidate, `count` for each case."""
    limits = axle.limits.backlash_mm
    backlash = NO_LIMITS_SIGMA_MM if limits is None else (limits[1] - limits[0]) / 4
    state = np.repeat([[*PLACE_SIGMA, *case.housing] for case in CASES], count, axis=0)
    own = np.repeat([[*case.own, *case.own, backlash] for case in CASES], count, axis=0)
    return Prior(zones.aim, state, own)


def _clearest(tries: Sequence[Setup]) -> Setup:
    """The try whose patches are cut off least: its sizes tell the crowning best; the latest of equals."""
    return min(reversed(tries), key=lambda s: len(s.drive.runs_off) + len(s.coast.runs_off))


def _observe(setup: Setup, extents: Array, moved: Interval, limits: Limits) -> Observation:
    """One reading as the five measures; where a patch is cut off, its centre follows from the end that is
    seen and from the size that each candidate gives it.
    """
    columns, sigmas = [], []
    for index, side in enumerate((setup.drive, setup.coast)):
        for axis in (0, 1):
            value, sigma = _whole_centre(side, axis, extents[:, 2 * index + axis])
            columns.append(value)
            sigmas.append(sigma)
    backlash = judge_backlash(setup.backlash_mm, limits)
    columns.append(np.full(len(extents), np.nan if backlash is None else backlash.mean_mm))
    if backlash is None:
        sigmas.append(1.0)
    else:  # teeth that bind read as nothing, however far they are from free
        sigmas.append(BOUND_SIGMA_MM if backlash.mean_mm < BOUND_MM else backlash.sigma_mm)
    return Observation(np.array(columns).T, np.array(sigmas), moved)


def _whole_centre(side: Side, axis: int, extent: Array) -> tuple[Array, float]:
    """Where the centre of the whole patch lies, in each candidate, and its standard uncertainty."""
    low_edge, high_edge = (("toe", "heel"), ("root", "top"))[axis]
    low_off, high_off = low_edge in side.runs_off, high_edge in side.runs_off
    low, high = (side.length, side.height)[axis]
    centre, sigma = side.centre[axis], sigma_of(side)[axis]
    if low_off == high_off:
        return np.full(len(extent), centre), sigma if not low_off else float(np.hypot(sigma, CUT_SIGMA))
    seen = low + extent / 2 if high_off else high - extent / 2
    # A patch cut off at the top is centred no lower than what is seen of it, and the other way round.
    whole = np.maximum(seen, centre) if high_off else np.minimum(seen, centre)
    return whole, float(np.hypot(sigma, CUT_SIGMA))
