"""Advice without a mesh: directions by the rules, no amounts, and no all-clear that isn't sure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from contactread.advice.answer import Move, Verdict
from contactread.advice.backlash import Backlash
from contactread.advice.findings import Findings
from contactread.advice.first_move import Directions, chart_directions, likeliest
from contactread.advice.moves import pinion_direction_only, ring_direction_only
from contactread.axle import Interval
from contactread.belief.tries import DIAL_SIGMA_MM, EarlierTry, sigma_of
from contactread.patch import Edge
from contactread.pattern.measures import Setup, Side

# Nothing but the reading itself speaks here, so it has to be surer than where a whole gear set is known.
ACCEPT_CHANCE = 0.97


@dataclass(frozen=True)
class ChartAdvice:
    """What the chart alone says. chance: that all is right as it stands. reason: why there is no move."""

    verdict: Verdict
    moves: tuple[Move, ...]
    chance: float
    reason: str = ""


def by_chart(
    setup: Setup, findings: Findings, backlash: Backlash | None, zone_mm: Interval, again: bool
) -> ChartAdvice:
    """Backlash first, then depth, then length. again: a second look may still be asked for.

    A pattern that runs off root or top is never accepted, nor a backlash that is unknown or outside its zone.
    """
    if backlash is None:
        return ChartAdvice("measure_first", (), 0.0, "The patterns alone can't say that all is right.")
    chance = findings.chance * _chance_within(backlash, zone_mm)
    directions = chart_directions(findings, backlash)
    if not directions.named:
        off = off_in_height(setup)
        if off == {"root", "top"}:
            if again:
                return ChartAdvice("read_again", (), chance, "The patterns run off at root and top both.")
            why = "The contact runs from root to top; no shim makes it shorter."
            return ChartAdvice("no_better_place", (), chance, why)
        if off:
            directions = Directions(pinion="toward" if off == {"top"} else "away")
        elif chance >= ACCEPT_CHANCE:
            return ChartAdvice("acceptable", (), chance)
        elif again:
            return ChartAdvice("read_again", (), chance, "Not sure enough that all is right: look once more.")
        else:
            directions = likeliest(findings)
    if directions.pinion:
        return ChartAdvice("move_pinion", (pinion_direction_only(directions.pinion),), chance)
    assert directions.ring_gear is not None
    return ChartAdvice("move_ring_gear", (ring_direction_only(directions.ring_gear),), chance)


def off_in_height(setup: Setup) -> set[Edge]:
    """Whether a pattern runs off root or top, or both."""
    return {edge for side in (setup.drive, setup.coast) for edge in side.runs_off} & {"root", "top"}


def looked_again(setup: Setup, history: Sequence[EarlierTry]) -> Setup:
    """The set-up with what the tries since the last move saw of it, weighted by their certainty."""
    same = [setup]
    for earlier in reversed(history):
        if earlier.pinion_mm or earlier.ring_mm:
            break
        same.append(earlier.setup)
    if len(same) == 1:
        return setup
    return replace(
        setup,
        drive=_together([one.drive for one in same]),
        coast=_together([one.coast for one in same]),
    )


def _together(sides: Sequence[Side]) -> Side:
    """The latest side, its centre and doubt from all of them."""
    centres, sigmas = [], []
    for axis in (0, 1):
        weights = [sigma_of(side)[axis] ** -2 for side in sides]
        centres.append(sum(w * s.centre[axis] for w, s in zip(weights, sides, strict=True)) / sum(weights))
        sigmas.append(sum(weights) ** -0.5)
    return replace(sides[0], centre=(centres[0], centres[1]), sigma=(sigmas[0], sigmas[1]))


def _chance_within(backlash: Backlash, zone_mm: Interval) -> float:
    sigma = DIAL_SIGMA_MM / backlash.count**0.5 * math.sqrt(2)
    low, high = (zone_mm[0] - backlash.least_mm) / sigma, (zone_mm[1] - backlash.most_mm) / sigma
    return 0.5 * (math.erf(high) - math.erf(low))
