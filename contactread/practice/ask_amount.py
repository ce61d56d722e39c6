"""Level 4: how much. An amount is right where it ends well."""

from __future__ import annotations

from random import Random

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.advice.shims import carrier_change, pinion_shim_change, pinion_travel, round_to_step
from contactread.axle import ROLES
from contactread.practice.acting import Outcome, after_shim
from contactread.practice.ask_setup import SEEN, near_or_far, shallow_or_deep
from contactread.practice.case import Case, backlash_per_travel, share
from contactread.practice.chart import chart_verdict
from contactread.practice.fleet import SIDE_SHIM_SETS
from contactread.practice.question import Amount, Question, show_pair
from contactread.practice.wording import (
    THICKER_MOVES_IN,
    about,
    backlash_line,
    shim_rule,
    shim_words,
    the_axle,
    wanted,
    where,
)
from contactread.units import show_clearance

LEAST_ANSWER = 0.03  # of the height for a tenth of a millimetre: less can't be read from a pattern
_WRONG_WAY = 0.1  # mm: a change that far the wrong way must end badly, and so must no change at all


def ask_amount(rng: Random, question_id: str) -> Question | None:
    """How much thicker or thinner the pinion shim must be, from the set's own answer to a move."""
    case = shallow_or_deep(rng)
    if case is None:
        return None
    shim, belongs = case.axle.pinion_shim, Case(case.axle_id)
    mean_move = sum(abs(case.patch(r).centre[1] - belongs.patch(r).centre[1]) for r in ROLES) / 2
    per_tenth = mean_move / abs(case.pinion_mm) * 0.1
    change = pinion_shim_change(round_to_step(-case.pinion_mm, shim.step_mm), shim)
    if per_tenth < LEAST_ANSWER or change is None or change.change_mm is None:
        return None

    def after(shim_mm: float) -> Outcome:
        moved = pinion_travel(shim_mm, shim)
        assert moved is not None
        return after_shim(case, pinion_mm=moved)

    given = (
        *the_axle(case, shim=True),
        backlash_line(case),
        f"Now: {where(case)}.",
        f"Both belong at: {where(belongs)}.",
        f"In this set {show_clearance(0.1)} of pinion travel, with backlash set again, moves both patches "
        f"by about {share(per_tenth)} of the height (mean of both).",
    )
    return _amount(question_id, "amount", "By how much must the pinion shim change? Say thicker or "
                                          "thinner, with "
                   "the unit.", case, given, Amount("pinion shim", change.change_mm, after), shim_rule(case),
                   ("thou", "shim"))  # fmt: skip


def ask_side_shims(rng: Random, question_id: str) -> Question | None:
    """How much the side shims must change to bring backlash to the middle of its limits."""
    case = near_or_far(rng, SIDE_SHIM_SETS)
    if case is None:
        return None
    carrier = case.axle.carrier
    travel = round_to_step(case.with_backlash(case.middle).ring_mm - case.ring_mm, carrier.step_mm)
    ring_side, _ = carrier_change(travel, carrier)
    assert ring_side.change_mm is not None
    sign = ring_side.change_mm / travel

    def after(shim_mm: float) -> Outcome:
        return after_shim(case, ring_mm=shim_mm / sign)

    ratio = backlash_per_travel(case.axle_id)
    given = (
        *the_axle(case),
        backlash_line(case),
        THICKER_MOVES_IN,
        f"In this set {show_clearance(0.1)} of ring-gear travel changes backlash by "
        f"{show_clearance(0.1 * ratio)}.",
    )
    prompt = (
        "By how much must the ring-gear side shim change, to bring backlash to the middle of its limits? The "
        "opposite one changes as much the other way. Say thicker or thinner, with the unit."
    )
    part = Amount("ring-gear side shim", ring_side.change_mm, after)
    terms = ("side_shims", "backlash", "preload", "thou")
    return _amount(question_id, "side-shims", prompt, case, given, part, say("backlash-per-travel"), terms)


def _amount(
    question_id: str, topic: str, prompt: str, case: Case, given: tuple[str, ...], answer: Amount,
    rule: Statement, terms: tuple[str, ...],
) -> Question | None:  # fmt: skip
    best = answer.leads_to(answer.best_mm)
    wrong = [answer.leads_to(0.0), answer.leads_to(-_WRONG_WAY if answer.best_mm > 0 else _WRONG_WAY)]
    if not best.good or best.clarity < 1 or any(o.good or o.clarity < 1 for o in wrong):
        return None
    # To the ends of what is right, in steps from the best.
    least, most = (_reach(answer, way) for way in (-0.05, 0.05))
    verdict = chart_verdict(case)
    seen, means, _ = about(case, verdict)
    return Question(
        question_id, topic, prompt, given, (show_pair(case, SEEN),), answer,
        (
            seen,
            say(means.rule, f"{means.text} {rule.text}", also=rule.sources),
            say(rule.rule, f"What moves it: {answer.part} {shim_words(answer.best_mm)}. {best.ends()}",
                also=("mesh",)),
        ),
        best.clarity, f"From {shim_words(least)} to {shim_words(most)} it ends in limits; the shop would "
                      "aim for the middle.", case=case, convention=wanted(case), terms=terms,
    )  # fmt: skip


def _reach(answer: Amount, step: float) -> float:
    mm = answer.best_mm
    while abs(mm + step - answer.best_mm) < 1.0 and answer.leads_to(mm + step).good:
        mm += step
    return mm
