"""What to suspect where no shim fits: a set cut another way than its file tells, a bent or worn housing."""

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

# Chances from which these are told: our choices, no source.
TELL_BENT_CHANCE = 0.5
LITTLE_CHANCE = 0.2
TELL_CUTTING = 0.7  # logarithm of how much likelier: twice
# Where the best move ends right with less than this chance, what the axle file tells may not be so.
HARDLY_A_CHANCE = 0.05


def misfit(
    belief: Belief, axle: Axle, tries: Sequence[EarlierTry], target: Target, plan: Plan, zones: Zones
) -> list[Fault]:
    """Faults where even the planned move leaves something outside its zone, beyond doubt; else none.

    tries: all so far, the one at hand last.
    """
    unfit = _no_move_fits(belief, tries, plan, zones)
    if not unfit and plan.after.chance >= HARDLY_A_CHANCE:
        return []
    cutting = _other_cutting(belief, axle, tries, target)
    faults = [fault(cutting)] if cutting else []
    return [*faults, fault("no-move-fits", _housing_words(belief, axle, plan))] if unfit else faults


def _other_cutting(belief: Belief, axle: Axle, tries: Sequence[EarlierTry], target: Target) -> str:
    """The rule that names the other way of cutting, where the same axle so cut explains the readings better
    than as its file tells; else empty.
    """
    if axle.gears.cutting == "face_milled":
        rule, gears = "perhaps-hobbed", replace(axle.gears, cutting="face_hobbed")
    elif axle.gears.cutting == "face_hobbed":
        rule, gears = "perhaps-milled", replace(axle.gears, cutting="face_milled", cutter_groups=None)
    else:
        return ""
    try:
        other = believe(replace(axle, gears=gears), tries[-1].setup, tries[:-1], target)
    except MechanicsError:
        return ""
    better = other.posterior.log_evidence > belief.posterior.log_evidence + TELL_CUTTING
    bent = other.bent_chance >= TELL_BENT_CHANCE  # then the housing is what explains it
    return rule if better and not bent else ""


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
