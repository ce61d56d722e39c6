"""Level 3: what is wrong. Each answer is weighed by the best that acting on it could reach."""

from __future__ import annotations

from functools import partial
from math import inf
from random import Random

from contactread.advice.rules import say
from contactread.practice.case import ROLES, Case, backlash_middle, height_per_travel, limits_of
from contactread.practice.chart import Verdict, chart_verdict, findings_of
from contactread.practice.fleet import FLEET
from contactread.practice.question import Option, Question, choice, show_pair
from contactread.practice.wording import backlash_line, margin_words, target_choice, the_axle

MARGIN = 0.04  # of the tooth, between the best answer and the next best
NEW_SETS = tuple(name for name, axle in FLEET.items() if axle.gears.condition == "new")
PINION_OUT = "The pinion is too far from the ring gear: too shallow."
PINION_IN = "The pinion is too near the ring gear: too deep."
RING_OUT = "The ring gear is too far from the pinion."
RING_IN = "The ring gear is too near the pinion."
NOTHING = "Nothing: leave it as it is."
_ACTING = {PINION_OUT: (-1, 0), PINION_IN: (1, 0), RING_OUT: (0, -1), RING_IN: (0, 1)}
CHART = {
    ("pinion", "toward"): PINION_OUT,
    ("pinion", "away"): PINION_IN,
    ("ring_gear", "toward"): RING_OUT,
    ("ring_gear", "away"): RING_IN,
}


def shallow_or_deep(rng: Random, axles: tuple[str, ...] = NEW_SETS) -> Case | None:
    """A new set with a wrong pinion depth and backlash in limits; None where the chart doesn't see it."""
    axle_id = rng.choice(axles)
    sign = rng.choice((-1, 1))
    # Far enough that a patch leaves its zone, which reaches 0.15 up and down from mid-height.
    enough = 0.16 / height_per_travel(axle_id)
    case = Case(axle_id, sign * min(enough + rng.uniform(0.0, 0.25), 0.75))
    least, most = limits_of(case.axle)
    wanted = least + rng.uniform(0.15, 0.85) * (most - least)
    if not case.touches:
        return None
    case = case.with_backlash(wanted, rounds=1)
    verdict = chart_verdict(case)
    way = "toward" if sign > 0 else "away"
    return case if verdict.fault is None and (verdict.member, verdict.way) == ("pinion", way) else None


def near_or_far(rng: Random, axles: tuple[str, ...] = NEW_SETS) -> Case | None:
    """A new set whose backlash lies clearly outside its limits, with the pinion about right."""
    axle_id = rng.choice(axles)
    case = Case(axle_id, rng.uniform(-0.05, 0.05))
    least, most = limits_of(case.axle)
    beyond = rng.uniform(0.04, 0.16)
    wanted = most + beyond if rng.random() < 0.55 else least - beyond
    if wanted < 0.02:
        return None
    case = case.with_backlash(wanted, rounds=1)
    verdict = chart_verdict(case)
    return case if verdict.fault is None and verdict.member == "ring_gear" else None


def weigh(case: Case) -> dict[str, float]:
    """The least distance from right that acting on each answer can reach, backlash in limits."""
    in_limits = case.within_limits()
    reach = {text: _reach(case, pinion, ring, in_limits) for text, (pinion, ring) in _ACTING.items()}
    reach[NOTHING] = case.off() if in_limits else inf
    return reach


def _reach(case: Case, pinion: int, ring: int, in_limits: bool) -> float:
    if ring:
        return case.best_by_ring(ring)
    if in_limits:
        return case.best_by_pinion(pinion)
    return _by_pinion_into_limits(case, pinion)


def _by_pinion_into_limits(case: Case, sign: int) -> float:
    """With backlash out of limits and the ring gear left alone, the pinion would have to bring it back: what
    the shortest such travel reaches. Patterns only get worse beyond it.
    """
    probe = case.moved(pinion_mm=sign * 0.2)
    least, most = limits_of(case.axle)
    if not probe.touches:
        return inf
    per_mm = (probe.backlash_mm - case.backlash_mm) / 0.2
    travel = ((least if case.backlash_mm < least else most) - case.backlash_mm) / per_mm
    if not 0 < travel < 0.8:
        return inf
    tries = (case.moved(pinion_mm=sign * travel * more) for more in (1.0, 1.1, 1.25, 1.5))
    return next((c.off() for c in tries if c.touches and c.within_limits()), inf)


def acted_on(case: Case, text: str) -> Case:
    """The set after the move that goes with an answer, by as much as would be right that way."""
    pinion, ring = _ACTING.get(text, (0, 0))
    wanted = min(max(case.backlash_mm, limits_of(case.axle)[0]), limits_of(case.axle)[1])
    if pinion:
        moved = case.moved(pinion_mm=pinion * max(abs(case.pinion_mm), 0.1))
        return moved.with_backlash(wanted) if moved.touches else moved
    if ring:
        by = abs(case.with_backlash(backlash_middle(case.axle)).ring_mm - case.ring_mm)
        return case.moved(ring_mm=ring * max(by, 0.05))
    return case


def two_best(reach: dict[str, float]) -> tuple[str, float, float]:
    """The best answer, what it reaches, what the next best reaches."""
    ordered = sorted(reach, key=lambda text: reach[text])
    return ordered[0], reach[ordered[0]], reach[ordered[1]]


def ask_depth(rng: Random, question_id: str) -> Question | None:
    """Backlash in limits: what do the patterns say about the pinion?"""
    return _ask(shallow_or_deep(rng), "depth", rng, question_id)


def ask_backlash(rng: Random, question_id: str) -> Question | None:
    """Backlash out of limits, or all right."""
    if rng.random() < 0.25:
        case: Case | None = Case(rng.choice(NEW_SETS), rng.uniform(-0.05, 0.05), rng.uniform(-0.02, 0.02))
    else:
        case = near_or_far(rng)
    return _ask(case, "backlash", rng, question_id)


def _ask(case: Case | None, topic: str, rng: Random, question_id: str) -> Question | None:
    if case is None:
        return None
    verdict = chart_verdict(case)
    if verdict.member is None:
        right, margin, says = _all_right(case)
    else:
        reach = weigh(case)
        right, best, second = two_best(reach)
        margin, says = min(second, 1.0) - best, margin_words(best, second)
        if right != CHART.get((verdict.member, verdict.way or "")):
            return None
    if margin < MARGIN:
        return None
    wrong = [Option("", text, partial(outcome, case, text)) for text in (*_ACTING, NOTHING) if text != right]
    return Question(
        question_id,
        topic,
        "What is wrong with this set-up, first of all?",
        (*the_axle(case), backlash_line(case)),
        (show_pair(case, "What was rolled"),),
        choice(Option("", right, partial(outcome, case, right)), wrong, rng.shuffle),
        tuple(say(rule) for rule in _rules(case, verdict)),
        margin,
        says,
        case=case,
        convention=target_choice(case),
        terms=("backlash", "pinion_depth", "pinion", "ring_gear"),
    )


def outcome(case: Case, text: str) -> Case | None:
    """The set after acting on an answer; None where a patch is lost."""
    after = acted_on(case, text)
    return after if after.touches else None


def _all_right(case: Case) -> tuple[str, float, str]:
    """Both centres in their zones and backlash in limits, by how much."""
    gaps = []
    for role in ROLES:
        zone = case.target.zone(role)
        u, v = case.patch(role).centre
        gaps += [u - zone.u[0], zone.u[1] - u, v - zone.v[0], zone.v[1] - v]
    margin = min(gaps) if case.within_limits() else -1.0
    return NOTHING, margin, f"Both centres lie inside their zones by {margin:.0%} of the tooth or more."


def _rules(case: Case, verdict: Verdict) -> list[str]:
    if verdict.rule is None:
        return ["pattern-in-zone", "backlash-within"]
    rules = [verdict.rule]
    if verdict.rule.startswith("backlash"):
        return [*rules, "backlash-before-pattern", "ring-gear-only"]
    if findings_of(case).drive_length != "right" and verdict.member == "pinion":
        rules.append("depth-then-backlash-again")
    return rules


def ask_both(rng: Random, question_id: str) -> Question | None:
    """Depth and backlash both wrong: what is done, in which order?"""
    axle_id = rng.choice(NEW_SETS)
    pinion = rng.choice((-1, 1)) * rng.uniform(0.2, 0.5)
    case = Case(axle_id, pinion)
    if not case.touches:
        return None
    least, most = limits_of(case.axle)
    large = rng.random() < 0.55
    wanted = most + rng.uniform(0.04, 0.14) if large else least - rng.uniform(0.04, 0.09)
    if wanted < 0.02:
        return None
    case = case.with_backlash(wanted)
    settled = case.with_backlash(backlash_middle(case.axle))
    verdict, later = chart_verdict(case), chart_verdict(settled)
    ring, way = ("toward", -1) if large else ("away", 1), -1 if pinion > 0 else 1
    if verdict.fault or (verdict.member, verdict.way) != ("ring_gear", ring[0]):
        return None
    if later.fault or (later.member, later.way) != ("pinion", "toward" if way < 0 else "away"):
        return None
    best, other = settled.best_by_pinion(way), settled.best_by_pinion(-way)
    margin = other - best
    if margin < MARGIN:
        return None
    travel = abs(settled.ring_mm - case.ring_mm)
    options = {}
    for gear_word, gear_sign in (("toward", -1), ("away from", 1)):
        for pinion_word, pinion_sign in (("toward", -1), ("away from", 1)):
            text = (
                f"First the ring gear {gear_word} the pinion until backlash is in limits; then the pinion "
                f"{pinion_word} the ring gear; then set backlash again."
            )
            leads_to = partial(_both_moved, case, gear_sign * travel, pinion_sign * abs(pinion))
            options[gear_sign, pinion_sign] = Option("", text, leads_to)
    right = options.pop((ring[1], way))
    assert later.rule is not None and verdict.rule is not None
    return Question(
        question_id,
        "both",
        "Two things are wrong here. What do you do, in which order?",
        (*the_axle(case), backlash_line(case)),
        (show_pair(case, "What was rolled"),),
        choice(right, list(options.values()), rng.shuffle),
        (say(verdict.rule), say(later.rule), say("depth-then-backlash-again")),
        margin,
        margin_words(best, other),
        case=case,
        convention=say(
            "backlash-before-pattern",
            "Order of this question: backlash into its limits, then depth, then backlash again. One manual "
            "(A3) prints depth first and backlash after it; the end is the same. " + target_choice(case).text,
            also=("A3", *case.target.sources),
        ),
        terms=("backlash", "pinion_depth"),
    )


def _both_moved(case: Case, ring_mm: float, pinion_mm: float) -> Case | None:
    """Both moves made; where the ring gear went the right way, backlash is set again."""
    after_ring = case.moved(ring_mm=ring_mm)
    after = after_ring.moved(pinion_mm=pinion_mm)
    if not (after_ring.touches and after.touches):
        return None
    if after_ring.within_limits():
        after = after.with_backlash(backlash_middle(case.axle))
    return after if after.touches else None
