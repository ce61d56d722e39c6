"""What to suspect where no shim fits, or moves don't bring what they should: an axle file that tells another
cutting, another offset or another axle, used gears, a bent or worn housing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from contactread.advice.faults import Fault, fault
from contactread.advice.looks import moved
from contactread.advice.plan import Plan
from contactread.advice.rules import say
from contactread.advice.spoken import describe_expectation, percent
from contactread.advice.zones import Zones
from contactread.axle import Axle, GearSet
from contactread.belief import Belief, EarlierTry, believe
from contactread.belief.targets import Target
from contactread.errors import MechanicsError
from contactread.units import show_clearance, show_move

# Chances from which these are told: our choices, no source.
TELL_BENT_CHANCE = 0.5
LITTLE_CHANCE = 0.2
# Logarithms of how much likelier another gear set must be than the one that the axle file tells: cut the
# other way (twice), of another offset (seven times), of these teeth and this diameter alone (fifty times). Of
# sets simulated by calibration/set_ups.py right files stay below 3, those of other axles pass 4 in half the
# cases.
TELL_CUTTING, TELL_OFFSET, TELL_AXLE = 0.7, 2.0, 4.0
# Where what is read is explained better than this, no other gear set is asked: it takes a second to draw.
# From UNEXPLAINED on no usual set explains it, however little of the patterns is seen (crossed ones, say).
DOUBTED_MISFIT, UNEXPLAINED = 0.95, 2.5
# Where the best move ends right with less than this chance, what the axle file tells may not be so.
HARDLY_A_CHANCE = 0.05
# Of 4,500 sets simulated as their files told, none needed a fourth move (calibration.setup_loop); where the
# file leaves something open, moves teach it first.
ENOUGH_MOVES, ENOUGH_GUESSED = 3, 5
# A move beyond them is advised only where it is likelier than this to be the last, and where the moves so far
# weren't all but sure to set all right.
LIKELY, ALL_BUT_SURE = 0.5, 0.9


def misfit(
    belief: Belief,
    axle: Axle,
    tries: Sequence[EarlierTry],
    target: Target,
    plan: Plan,
    zones: Zones,
    moving: bool = True,
) -> list[Fault]:
    """Faults where even the planned move leaves something outside its zone, beyond doubt, or where a further
    one is planned (moving) though enough were made; else none.

    tries: all so far, the one at hand last.
    """
    made = sum(moved(t) for t in tries)
    hopeless = belief.bent_chance > TELL_BENT_CHANCE and plan.after.chance < LITTLE_CHANCE
    # While patterns are seen in part only, one try that gear sets may explain tells too little to say that no
    # move fits, and of the axle file only what is plain; so it does while the gear set is half guessed.
    cut = tries[-1].setup.drive.runs_off or tries[-1].setup.coast.runs_off
    first_glance = bool(cut and not made and not hopeless and belief.misfit < UNEXPLAINED)
    unfit = hopeless or (
        not first_glance and (made or not belief.guessed) and _no_move_fits(belief, plan, zones)
    )
    enough = ENOUGH_GUESSED if belief.guessed else ENOUGH_MOVES
    vain = moving and made >= enough and _in_vain(axle, tries, target, plan, zones)
    if not unfit and not vain and plan.after.chance >= HARDLY_A_CHANCE:
        return []
    named = _better_told(belief, axle, tries, target, TELL_AXLE if first_glance else 0.0)
    faults = [fault(named)] if named else []
    if vain:
        faults.append(
            fault("moves-in-vain", f"{made} moves didn't set it right. {say('moves-in-vain').text}")
        )
    return [*faults, fault("no-move-fits", _housing_words(belief, axle, plan))] if unfit else faults


def of_another_axle(belief: Belief, axle: Axle, tries: Sequence[EarlierTry], target: Target) -> bool:
    """Whether gears of which only teeth, diameter and hand are known explain the readings far better than
    those of the axle file, once a move was made. tries: all so far, the one at hand last.
    """
    told = axle.gears
    if told.supposed or belief.misfit < DOUBTED_MISFIT or not any(moved(t) for t in tries):
        return False
    gears = GearSet(told.pinion_teeth, told.ring_teeth, told.ring_diameter_mm, hand=told.hand)
    return _better_by(belief, replace(axle, gears=gears), tries, target) > TELL_AXLE


def _better_told(
    belief: Belief, axle: Axle, tries: Sequence[EarlierTry], target: Target, least: float
) -> str:
    """The rule that names what the axle file may tell wrong, where the same axle with another cutting or
    offset explains the readings better than as its file tells, by this much at least; else empty.
    """
    told, others = axle.gears, []
    if told.cutting == "face_milled":
        others.append(("perhaps-hobbed", replace(told, cutting="face_hobbed"), TELL_CUTTING))
    elif told.cutting == "face_hobbed":
        milled = replace(told, cutting="face_milled", cutter_groups=None)
        others.append(("perhaps-milled", milled, TELL_CUTTING))
    if told.offset_mm is not None:
        others.append(("perhaps-other-offset", replace(told, offset_mm=None), TELL_OFFSET))
    found = {rule: _better_by(belief, replace(axle, gears=g), tries, target) for rule, g, _ in others}
    enough = [rule for rule, _, usual in others if found[rule] > max(usual, least)]
    return max(enough, key=lambda rule: found[rule], default="")


def _better_by(belief: Belief, other: Axle, tries: Sequence[EarlierTry], target: Target) -> float:
    """Logarithm of how much better another axle explains the readings; minus infinity where it can't be
    built, or explains them by a housing that is off.
    """
    try:
        believed = believe(other, tries[-1].setup, tries[:-1], target, quick=True)
    except MechanicsError:
        return -np.inf
    bent = believed.bent_chance >= TELL_BENT_CHANCE
    return -np.inf if bent else believed.posterior.log_evidence - belief.posterior.log_evidence


def _in_vain(axle: Axle, tries: Sequence[EarlierTry], target: Target, plan: Plan, zones: Zones) -> bool:
    """Whether a further move is no more to be trusted than those that were made."""
    failed = 1.0
    for k, one in enumerate(tries[:-1]):
        if moved(one):
            before = believe(axle, one.setup, tries[:k], target, quick=True).posterior
            move = np.array([[one.pinion_mm, one.ring_mm]])
            failed *= 1 - float(before.chances(move, zones.low, zones.high)[0])
    return plan.after.chance < LIKELY or failed < 1 - ALL_BUT_SURE


def _no_move_fits(belief: Belief, plan: Plan, zones: Zones) -> bool:
    """Whether the planned move leaves something outside its zone, beyond doubt."""
    mean, sigma = belief.posterior.expected((plan.pinion_mm, plan.ring_mm))
    outside = np.maximum(zones.low - mean, mean - zones.high)
    return bool(np.any(outside > 2 * sigma))


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
