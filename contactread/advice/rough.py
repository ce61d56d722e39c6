"""Advice on gears of which too little is told: amounts over the classes they may be of, and their doubt."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from contactread.advice.answer import Move
from contactread.advice.backlash import Backlash
from contactread.advice.findings import Findings
from contactread.advice.plan import LARGEST_MOVE_MM
from contactread.advice.rules import say
from contactread.advice.zones import Zones
from contactread.axle import Axle, Carrier, Interval, PinionShim
from contactread.belief import Belief
from contactread.belief.linear import normal_cdf
from contactread.belief.tries import DIAL_SIGMA_MM
from contactread.gear_classes import supposed_set
from contactread.units import MM_PER_THOU

# An all-clear without the gear set's own numbers is by the reading alone, so it has to be surer than where a
# whole gear set is known.
ACCEPT_CHANCE = 0.97
TAIL = 0.1  # of the gear sets that may be these ask for less, and as many for more, than the amounts told
GUESS = "a rough guess over cars and light trucks"
UNFIT = f"the axle file's gears can't be computed, so it is {GUESS}"


def unknown_axle() -> Axle:
    """The axle of which nothing is told, its shims in thousandths as shops have them (common practice)."""
    return Axle(
        supposed_set({}), pinion_shim=PinionShim(step_mm=MM_PER_THOU), carrier=Carrier(step_mm=MM_PER_THOU)
    )


def read_right(findings: Findings, backlash: Backlash | None, zone_mm: Interval) -> float:
    """Chance that all is right by what was read at these shims alone."""
    if backlash is None:
        return 0.0
    sigma = DIAL_SIGMA_MM / backlash.count**0.5 * math.sqrt(2)
    low, high = (zone_mm[0] - backlash.least_mm) / sigma, (zone_mm[1] - backlash.most_mm) / sigma
    return findings.chance * 0.5 * (math.erf(high) - math.erf(low))


def rough_move(move: Move, between_mm: Interval) -> Move:
    """The move, told as a rough guess."""
    move = replace(move, between_mm=between_mm)
    text = f"That amount is a rough guess: the best one is {move.span} with four chances in five."
    told = say("gear-classes", text, also=("mesh",))
    return replace(move, how=(move.how[0], told, *move.how[1:]))


def between(belief: Belief, zones: Zones, move_mm: Interval) -> tuple[Interval, Interval]:
    """For each member of this move, mm: the travels between which the best one lies but for TAIL at either
    side, the move's own among them. They are the travels that bring each gear set that may be these nearest
    to the middle of its zones, moving the same members; what is open of its place adds to them.
    """
    free = np.flatnonzero(move_mm)
    mean, covariance = belief.posterior.now
    half = (zones.high - zones.low) / 2
    answers = belief.posterior.candidates.jacobian[:, :, :2] + belief.posterior.learned
    slopes = answers[:, :, free] / half[:, None]
    normal = slopes.transpose(0, 2, 1) @ slopes + 1e-6 * np.eye(len(free))
    gain = -np.linalg.solve(normal, slopes.transpose(0, 2, 1)) / half
    best = np.einsum("nkj,nj->nk", gain, mean - (zones.low + zones.high) / 2)
    sigma = np.sqrt(np.einsum("nki,nij,nkj->nk", gain, covariance, gain))
    told = [(0.0, 0.0), (0.0, 0.0)]
    grid = np.linspace(-LARGEST_MOVE_MM, LARGEST_MOVE_MM, 321)
    for place, member in enumerate(free):
        below = belief.posterior.weight @ normal_cdf((grid - best[:, place, None]) / sigma[:, place, None])
        low, high = np.interp([TAIL, 1 - TAIL], below, grid)
        at = move_mm[member]
        same_way = (0.0, LARGEST_MOVE_MM) if at > 0 else (-LARGEST_MOVE_MM, 0.0)
        low, high = np.clip([min(low, at), max(high, at)], *same_way)
        told[member] = float(low), float(high)
    return told[0], told[1]
