"""From readings and moves so far to what is believed of this axle: the bridge between sides and numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from contactread.advice.answer import EarlierTry
from contactread.advice.backlash import judge_backlash
from contactread.advice.belief import Array, Belief, Observation, Prior, believe
from contactread.advice.findings import sigma_of
from contactread.advice.plan import Zones, zones_for
from contactread.advice.response import response_of
from contactread.advice.targets import Target
from contactread.axle import Axle, Interval, Limits
from contactread.pattern.measures import Setup, Side

# Before anything is read: how far an axle may stand from its designed place, mm (pinion, ring gear), and how
# far a sound housing is off, mm of offset and degrees of shaft angle. Our own suppositions, wide on purpose.
PLACE_SIGMA = (0.25, 0.25)
SOUND_HOUSING = (0.015, 0.010)
BENT_HOUSING = (0.15, 0.12)
BENT_ODDS = 0.02  # how often a housing is that far off
# How far a set's own best place lies from the aim, flank fractions (u, v).
OWN_SIGMA = (0.04, 0.05)
# A patch cut off at an edge shows its centre less well, flank fractions.
CUT_SIGMA = 0.04
# Where no limits are given the backlash aim is a guess only; its width lets the readings speak.
NO_LIMITS_SIGMA_MM = 0.10


@dataclass(frozen=True, eq=False)
class Foresight:
    """What is believed after all tries. bent_odds: how much likelier a housing that is off explains the
    readings than a sound one; bent: the belief in that case.
    """

    belief: Belief
    zones: Zones
    observations: list[Observation]
    bent: Belief
    bent_odds: float


def foresee(setup: Setup, axle: Axle, history: Sequence[EarlierTry], target: Target) -> Foresight:
    """The belief about this axle from this reading and the earlier tries, each with the move after it.

    Raises MechanicsError where no gear set can be computed from the axle file.
    """
    tries = [*(t.setup for t in history), setup]
    response = response_of(axle.gears, axle.ease_off)
    candidates, extents = response.candidates(_clearest(tries))
    moves = np.cumsum([(0.0, 0.0), *((t.pinion_mm, t.ring_mm) for t in history)], axis=0)
    observations = [
        _observe(one, extents, (float(p), float(g)), axle.limits)
        for one, (p, g) in zip(tries, moves, strict=True)
    ]
    zones = zones_for(target, axle)
    sound = _prior(zones, axle, SOUND_HOUSING)
    belief = believe(candidates, sound, observations)
    bent = believe(candidates, _prior(zones, axle, BENT_HOUSING), observations)
    odds = BENT_ODDS * float(np.exp(np.clip(bent.log_evidence - belief.log_evidence, -50, 50)))
    return Foresight(belief, zones, observations, bent, odds)


def _prior(zones: Zones, axle: Axle, housing: Interval) -> Prior:
    limits = axle.limits.backlash_mm
    backlash = NO_LIMITS_SIGMA_MM if limits is None else (limits[1] - limits[0]) / 4
    return Prior(zones.aim, np.array([*PLACE_SIGMA, *housing]), np.array([*OWN_SIGMA, *OWN_SIGMA, backlash]))


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
    sigmas.append(1.0 if backlash is None else backlash.sigma_mm)
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
