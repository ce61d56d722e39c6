"""Level 4: which shim, which way, how much."""

from __future__ import annotations

from functools import partial
from random import Random

from contactread.advice.rules import say
from contactread.advice.shims import carrier_change, pinion_shim_change, pinion_travel, round_to_step
from contactread.axle import Carrier
from contactread.practice.ask_wrong import (
    CHART,
    MARGIN,
    NEW_SETS,
    NOTHING,
    near_or_far,
    outcome,
    shallow_or_deep,
    two_best,
    weigh,
)
from contactread.practice.case import (
    ROLES,
    Case,
    backlash_middle,
    backlash_per_travel,
    height_per_travel,
    limits_of,
)
from contactread.practice.chart import chart_verdict
from contactread.practice.fleet import FLEET
from contactread.practice.question import Amount, Option, Question, choice, share, show_pair
from contactread.practice.wording import (
    backlash_line,
    margin_words,
    shim_rule,
    target_choice,
    the_axle,
    where,
)
from contactread.units import show_clearance

SIDE_SHIMS = tuple(name for name in NEW_SETS if FLEET[name].carrier.kind == "side_shims")
RIGHT_WITHIN_MM = 0.05  # two thousandths: what a shim of the next size would miss by
READABLE = 0.03  # of the height: what two careful readings of one pattern may differ by
LEAST_ANSWER = 0.03  # of the height for a tenth of a millimetre: less can't be read from a pattern
LEAST_WORSE = 0.015  # of the tooth, that the patterns get worse when the amount is off by the tolerance


def ask_shim(rng: Random, question_id: str) -> Question | None:
    """Which shim, which way: the answer of level 3 turned into what the hand changes."""
    case = shallow_or_deep(rng) if rng.random() < 0.6 else near_or_far(rng)
    if case is None:
        return None
    verdict = chart_verdict(case)
    reach = weigh(case)
    del reach[NOTHING]
    right, best, second = two_best(reach)
    if right != CHART.get((verdict.member or "", verdict.way or "")) or min(second, 1.0) - best < MARGIN:
        return None
    options = {text: Option("", _hand(case, text), partial(outcome, case, text)) for text in reach}
    why = [say(verdict.rule)] if verdict.rule else []
    why.append(shim_rule(case) if verdict.member == "pinion" else say(_ring_rule(case.axle.carrier)))
    return Question(
        question_id,
        "shim",
        "Which change comes first?",
        (*the_axle(case, shim=True), _carrier_line(case.axle.carrier), backlash_line(case)),
        (show_pair(case, "What was rolled"),),
        choice(options.pop(right), list(options.values()), rng.shuffle),
        tuple(why),
        min(second, 1.0) - best,
        margin_words(best, second),
        case=case,
        convention=target_choice(case),
        terms=("shim", "behind_head", "under_cage", "side_shims", "adjusters"),
    )


def ask_amount(rng: Random, question_id: str) -> Question | None:
    """How much thicker or thinner the pinion shim must be, from the set's own answer to a move."""
    case = shallow_or_deep(rng)
    if case is None:
        return None
    axle = case.axle
    belongs = Case(case.axle_id)
    mean_move = sum(abs(case.patch(r).centre[1] - belongs.patch(r).centre[1]) for r in ROLES) / 2
    per_tenth = mean_move / abs(case.pinion_mm) * 0.1
    if per_tenth < LEAST_ANSWER:
        return None
    step = axle.pinion_shim.step_mm
    travel = round_to_step(-case.pinion_mm, step)
    change = pinion_shim_change(travel, axle.pinion_shim)
    assert change is not None and change.change_mm is not None
    wanted = case.backlash_mm

    def after(shim_mm: float) -> Case:
        moved = pinion_travel(shim_mm, axle.pinion_shim)
        assert moved is not None
        return case.moved(pinion_mm=moved).with_backlash(wanted, rounds=1)

    tolerance = max(RIGHT_WITHIN_MM, READABLE / height_per_travel(case.axle_id))
    best = after(change.change_mm).off()
    beside = min(after(change.change_mm + miss).off() for miss in (-tolerance, tolerance))
    if beside - best < LEAST_WORSE:
        return None
    return Question(
        question_id,
        "amount",
        "By how much must the pinion shim change? Say thicker or thinner, with the unit.",
        (
            *the_axle(case, shim=True),
            backlash_line(case),
            f"The patch centres now: {where(case)}.",
            f"In this set both patches belong at: {where(belongs)}.",
            f"In this set {show_clearance(0.1)} of pinion travel, with backlash set again, moves both "
            f"patches by about {per_tenth:.1%} of the height (mean of both).",
        ),
        (show_pair(case, "What was rolled"),),
        Amount("pinion shim", change.change_mm, tolerance, after),
        (
            say(_depth_rule(case)),
            shim_rule(case),
            say("depth-then-backlash-again"),
        ),
        beside - best,
        f"An amount that is off by {show_clearance(tolerance)} leaves the patches {share(beside)} of "
        f"the tooth from where they belong; the best amount leaves {share(best)}.",
        case=case,
        convention=target_choice(case),
        terms=("shim", "behind_head", "under_cage", "thou"),
    )


def ask_side_shims(rng: Random, question_id: str) -> Question | None:
    """How much the ring-gear side shim must change to bring backlash to the middle of its limits."""
    case = near_or_far(rng, SIDE_SHIMS)
    if case is None:
        return None
    axle = case.axle
    least, most = limits_of(axle)
    middle = backlash_middle(axle)
    travel = round_to_step(case.with_backlash(middle).ring_mm - case.ring_mm, axle.carrier.step_mm)
    ring_side, _ = carrier_change(travel, axle.carrier)
    assert ring_side.change_mm is not None
    sign = ring_side.change_mm / travel

    def after(shim_mm: float) -> Case:
        return case.moved(ring_mm=shim_mm / sign)

    ratio = backlash_per_travel(case.axle_id)
    tolerance = 0.75 * (most - least) / 2 / ratio
    edges = [after(ring_side.change_mm + miss) for miss in (-tolerance, tolerance)]
    if not all(edge.within_limits() for edge in edges):
        return None
    way = "toward" if travel < 0 else "away"
    return Question(
        question_id,
        "side-shims",
        "By how much must the shim on the ring-gear side change, to bring backlash to the middle of its "
        "limits? The opposite shim changes by the same amount the other way. Say thicker or thinner, "
        "with the unit.",
        (
            *the_axle(case),
            backlash_line(case),
            "A thicker shim on the ring-gear side moves the ring gear toward the pinion.",
            f"In this set {show_clearance(0.1)} of ring-gear travel changes backlash by "
            f"{show_clearance(0.1 * ratio)}.",
        ),
        (show_pair(case, "What was rolled"),),
        Amount("ring-gear side shim", ring_side.change_mm, tolerance, after),
        (
            say("backlash-too-large" if way == "toward" else "backlash-too-small"),
            say("side-shims-equal"),
            say("backlash-per-travel"),
        ),
        tolerance,
        f"Any amount within {show_clearance(tolerance)} of the best one ends with backlash in limits; their "
        f"middle is {show_clearance(middle)}.",
        case=case,
        terms=("side_shims", "backlash", "preload", "thou"),
    )


def _depth_rule(case: Case) -> str:
    rule = chart_verdict(case).rule
    assert rule is not None
    return rule


def _ring_rule(carrier: Carrier) -> str:
    return "side-shims-equal" if carrier.kind == "side_shims" else "adjuster-notches"


def _carrier_line(carrier: Carrier) -> str:
    if carrier.kind == "adjusters":
        return "The ring gear is moved by threaded adjusters."
    return "A thicker shim on the ring-gear side moves the ring gear toward the pinion."


def _hand(case: Case, text: str) -> str:
    """What the hand changes to act on an answer of level 3."""
    axle = case.axle
    member, way = next(key for key, value in CHART.items() if value == text)
    if member == "pinion":
        change = pinion_shim_change(-0.1 if way == "toward" else 0.1, axle.pinion_shim)
        assert change is not None and change.change_mm is not None
        word = "thicker" if change.change_mm > 0 else "thinner"
        return f"A {word} pinion shim; then set backlash again."
    if axle.carrier.kind == "adjusters":
        side = "on the tooth side" if way == "toward" else "behind the ring gear"
        return f"Back off the adjuster {side} and follow with the other by the same amount."
    ring_side, _ = carrier_change(-0.1 if way == "toward" else 0.1, axle.carrier)
    assert ring_side.change_mm is not None
    words = ("thicker", "thinner") if ring_side.change_mm > 0 else ("thinner", "thicker")
    return f"Ring-gear side shim {words[0]}, opposite side shim {words[1]}, by the same amount."
