"""Level 3 and 4: what to do first, and with what. Every answer is weighed by where acting on it ends."""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

from contactread.advice.rules import say
from contactread.practice.acting import ENOUGH, Act, act_on, weighed
from contactread.practice.case import Case, ending, height_per_travel
from contactread.practice.chart import Verdict, chart_verdict
from contactread.practice.fleet import NEW_SETS
from contactread.practice.question import Choice, Question, show_pair
from contactread.practice.wording import (
    about,
    backlash_line,
    by_hand,
    carrier_line,
    shim_rule,
    the_axle,
    wanted,
)

SEEN = "What was rolled"
LEAVE = "Leave it as it is: nothing is wrong."
FIRST: dict[str, Act | None] = {
    "Pinion toward the ring gear: it is too shallow.": Act(pinion=-1),
    "Pinion away from the ring gear: it is too deep.": Act(pinion=1),
    "Ring gear toward the pinion: it is too far away.": Act(ring=-1),
    "Ring gear away from the pinion: it is too near.": Act(ring=1),
    LEAVE: Act(),
}


def shallow_or_deep(rng: Random) -> Case | None:
    """A new set with a wrong pinion depth and backlash in limits; None where the chart doesn't see it."""
    axle_id, sign = rng.choice(NEW_SETS), rng.choice((-1, 1))
    case = Case(axle_id, sign * min(ENOUGH / height_per_travel(axle_id) + rng.uniform(0.0, 0.25), 0.75))
    least, most = case.limits
    share = rng.uniform(0.15, 0.85)
    if not case.touches:
        return None
    case = case.with_backlash(least + share * (most - least), rounds=1)
    if not case.touches:
        return None
    verdict = chart_verdict(case)
    return case if verdict.fault is None and verdict.act == Act(pinion=-sign) else None


def near_or_far(rng: Random, axles: tuple[str, ...] = NEW_SETS) -> Case | None:
    """A new set whose backlash lies clearly outside its limits, with the pinion about right."""
    case = Case(rng.choice(axles), rng.uniform(-0.05, 0.05))
    least, most = case.limits
    beyond = rng.uniform(0.04, 0.16)
    to = most + beyond if rng.random() < 0.55 else least - beyond
    if to < 0.02:
        return None
    case = case.with_backlash(to, rounds=1)
    verdict = chart_verdict(case) if case.touches else Verdict()
    return case if verdict.fault is None and verdict.act.ring else None


def ask_depth(rng: Random, question_id: str) -> Question | None:
    """Backlash in limits: what do the patterns say about the pinion?"""
    return _first(shallow_or_deep(rng), "depth", rng, question_id)


def ask_backlash(rng: Random, question_id: str) -> Question | None:
    """Backlash out of limits, or all right."""
    case: Case | None
    if rng.random() < 0.25:
        case = Case(rng.choice(NEW_SETS), rng.uniform(-0.05, 0.05), rng.uniform(-0.02, 0.02))
        if not ending(case).good:
            return None
    else:
        case = near_or_far(rng)
    return _first(case, "backlash", rng, question_id)


def _first(case: Case | None, topic: str, rng: Random, question_id: str) -> Question | None:
    if case is None:
        return None
    terms = ("backlash", "pinion_depth", "pinion", "ring_gear")
    return what_to_do(question_id, topic, "What do you do first?", case, FIRST, rng, terms)


def what_to_do(
    question_id: str, topic: str, prompt: str, case: Case, acts: Mapping[str, Act | None], rng: Random,
    terms: tuple[str, ...], *more: str,
) -> Question | None:  # fmt: skip
    """Which of these acts is right on a case. more: what else is known of it."""
    verdict = chart_verdict(case)
    made = chosen(case, verdict, acts, rng)
    if made is None:
        return None
    answer, margin, says = made
    return Question(
        question_id, topic, prompt, (*the_axle(case), backlash_line(case), *more), (show_pair(case, SEEN),),
        answer, about(case, verdict), margin, says, case=case, convention=wanted(case), terms=terms,
    )  # fmt: skip


def chosen(
    case: Case, verdict: Verdict, acts: Mapping[str, Act | None], rng: Random
) -> tuple[Choice, float, str] | None:
    """As `weighed`, with the chart's word for the best of the acts."""
    best = next((text for text, act in acts.items() if act == verdict.act), None)
    # Where all is right, a needless move of the ring gear within its limits may leave it right.
    return None if best is None else weighed(case, acts, best, rng, 0.6 if best == LEAVE else 0.5)


def ask_both(rng: Random, question_id: str) -> Question | None:
    """Depth and backlash both wrong: what is done, in which order?"""
    case = Case(rng.choice(NEW_SETS), rng.choice((-1, 1)) * rng.uniform(0.3, 0.6))
    large, by = rng.random() < 0.55, rng.uniform(0.04, 0.12)
    if not case.touches:
        return None
    case = case.with_backlash(case.limits[1] + by if large else max(case.limits[0] - by, 0.02))
    settled = case.with_backlash(case.middle)
    if not (case.touches and settled.touches):
        return None
    first, then = chart_verdict(case), chart_verdict(settled)
    if (
        first.fault
        or then.fault
        or not first.act.ring
        or then.act.pinion != (-1 if case.pinion_mm > 0 else 1)
    ):
        return None
    ring, pinion = first.act.ring, then.act.pinion

    def whole(ring_way: int, pinion_way: int) -> str:
        return (f"Ring gear {_way(ring_way)} the pinion until backlash is in limits; then the pinion "
                f"{_way(pinion_way)} the ring gear; then set backlash again.")  # fmt: skip

    acts: dict[str, Act | None] = {
        whole(ring, pinion): Act(pinion, ring),
        whole(ring, -pinion): Act(-pinion, ring),
        f"Only the ring gear {_way(ring)} the pinion, until backlash is in limits.": Act(ring=ring),
        f"Only the pinion {_way(pinion)} the ring gear, nothing else.": Act(pinion, settles=False),
        f"Only the pinion {_way(-pinion)} the ring gear, nothing else.": Act(-pinion, settles=False),
    }
    made = weighed(case, acts, whole(ring, pinion), rng)
    if made is None:
        return None
    answer, margin, says = made
    assert then.rule is not None
    convention = wanted(case)
    order = say("backlash-before-pattern", f"{convention.text} Backlash first, as most manuals say.",
                also=("A3", *convention.sources))  # fmt: skip
    where, _, _ = about(case, first)
    done = act_on(case, Act(pinion, ring))
    depth = say(then.rule)
    return Question(
        question_id, "both", "Two things are wrong here. What do you do?",
        (*the_axle(case), backlash_line(case)),
        (show_pair(case, SEEN),), answer,
        (
            where,
            say("depth-then-backlash-again", f"Backlash is out of limits, and then: {depth.text}"),
            say("depth-then-backlash-again", f"What moves it: {done.done}. {done.ends()}", also=("mesh",)),
        ),
        margin, says, case=case, convention=order, terms=("backlash", "pinion_depth"),
    )  # fmt: skip


def _way(sign: int) -> str:
    return "toward" if sign < 0 else "away from"


def ask_shim(rng: Random, question_id: str) -> Question | None:
    """Which shim, which way: the answer of level 3 turned into what the hand changes."""
    case = shallow_or_deep(rng) if rng.random() < 0.6 else near_or_far(rng)
    if case is None:
        return None
    verdict = chart_verdict(case)
    acts = {by_hand(case, act.pinion, act.ring): act for act in FIRST.values() if act and act != Act()}
    made = chosen(case, verdict, acts, rng)
    if made is None:
        return None
    answer, margin, says = made
    where, means, moves = about(case, verdict)
    adjusters = case.axle.carrier.kind == "adjusters"
    hand = (shim_rule(case) if verdict.act.pinion
            else say("adjuster-notches" if adjusters else "side-shims-equal"))  # fmt: skip
    means = say(means.rule, f"{means.text} {hand.text}", also=hand.sources)
    return Question(
        question_id, "shim", "Which change comes first?",
        (*the_axle(case, shim=True), carrier_line(case), backlash_line(case)), (show_pair(case, SEEN),),
        answer, (where, means, moves), margin, says, case=case, convention=wanted(case),
        terms=("shim", "behind_head", "under_cage", "side_shims", "adjusters"),
    )  # fmt: skip
