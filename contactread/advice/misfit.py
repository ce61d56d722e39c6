"""What to suspect where no shim fits: a face-hobbed set told as milled, a bent or worn housing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from contactread.advice.faults import Fault, fault
from contactread.advice.plan import Plan, Zones
from contactread.advice.rules import say
from contactread.advice.spoken import describe_expectation, percent
from contactread.axle import Axle
from contactread.belief import Belief, EarlierTry, believe
from contactread.belief.targets import Target
from contactread.errors import MechanicsError
from contactread.units import show_clearance, show_move

TELL_BENT_CHANCE = 0.5
LITTLE_CHANCE = 0.2
TELL_HOBBED = 0.7  # logarithm of how much likelier: twice


def misfit(
    belief: Belief, axle: Axle, tries: Sequence[EarlierTry], target: Target, plan: Plan, zones: Zones
) -> list[Fault]:
    """Faults where even the planned move leaves something outside its zone, beyond doubt; else none.

    tries: all so far, the one at hand last.
    """
    if not _no_move_fits(belief, tries, plan, zones):
        return []
    unfit = fault("no-move-fits", _housing_words(belief, axle, plan))
    return [fault("perhaps-hobbed"), unfit] if _perhaps_hobbed(belief, axle, tries, target) else [unfit]


def _perhaps_hobbed(belief: Belief, axle: Axle, tries: Sequence[EarlierTry], target: Target) -> bool:
    """Whether the same axle, face hobbed, explains better what the axle file calls face milled."""
    if axle.gears.cutting != "face_milled":
        return False
    hobbed = replace(axle, gears=replace(axle.gears, cutting="face_hobbed"))
    try:
        other = believe(hobbed, tries[-1].setup, tries[:-1], target)
    except MechanicsError:
        return False
    better = other.posterior.log_evidence > belief.posterior.log_evidence + TELL_HOBBED
    return better and other.bent_chance < TELL_BENT_CHANCE  # else the housing is what explains it


def _no_move_fits(belief: Belief, tries: Sequence[EarlierTry], plan: Plan, zones: Zones) -> bool:
    mean, sigma = belief.posterior.expected((plan.pinion_mm, plan.ring_mm))
    outside = np.maximum(zones.low - mean, mean - zones.high)
    hopeless = belief.bent_chance > TELL_BENT_CHANCE and plan.after.chance < LITTLE_CHANCE
    # While the gear set is half guessed, one try tells too little to blame anything but the shims.
    guessed = any(np.ptp(drawn) > 0 for drawn in belief.drawn.draws.open_numbers().values())
    told = not guessed or any(t.pinion_mm or t.ring_mm for t in tries)
    return hopeless or (told and bool(np.any(outside > 2 * sigma)))


def _housing_words(belief: Belief, axle: Axle, plan: Plan) -> str:
    limited = axle.limits.backlash_mm is not None
    text = f"{say('no-move-fits').text} The nearest: {describe_expectation(plan.after, limited)}"
    if belief.bent_chance < TELL_BENT_CHANCE:
        return text
    (offset, open_offset), (angle, open_angle) = belief.housing()
    return (
        f"No shim fits; an offset error of {show_move(offset)} and a shaft angle off by {angle:+.2f}° "
        f"would. Give or take {show_clearance(open_offset)} and {open_angle:.2f}°; chance that it's the "
        f"housing: {percent(belief.bent_chance)}. {text}"
    )
