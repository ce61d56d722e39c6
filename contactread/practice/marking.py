"""Marking that teaches: right or not, how far off, why, and what one's own move would have done."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from contactread.advice.answer import Statement
from contactread.axle import Interval
from contactread.errors import PracticeError
from contactread.facts import facts
from contactread.patch import Patch, told_clear
from contactread.practice.answers import parse_patch, parse_shim_change, unreadable
from contactread.practice.case import Case
from contactread.practice.question import (
    Amount,
    Choice,
    MarkPatch,
    PatternPicture,
    Question,
    share,
    show_pair,
)
from contactread.units import show_clearance

HALF_RIGHT = 0.5
_OWN_SOURCES = {"mesh": "computed for this gear set", "shop": "the shop's own job"}
PASS = 0.75  # a score from which an answer counts as known
# Topics that ask what a move does, or where any place on the tooth is good: no distance from a right place.
_NO_RIGHT_PLACE = ("what-if", "cutting", "used", "reverse")


@dataclass(frozen=True)
class Mark:
    """How one answer was marked.

    given: the answer as understood. score: 0..1; right: score of at least PASS. right_answer: in words.
    how_far: sentences in fractions of the tooth and in mm and thousandths. why: rules with sources.
    yours, should: patterns that the apprentice's move and the best one lead to; None where nothing can be
    foreseen.
    """

    question_id: str
    topic: str
    given: str
    score: float
    right_answer: str
    how_far: tuple[str, ...]
    why: tuple[Statement, ...]
    against_chart: Statement | None
    yours: PatternPicture | None
    should: PatternPicture | None

    @property
    def right(self) -> bool:
        return self.score >= PASS

    def to_json(self) -> dict[str, Any]:
        """Plain data; the patterns of both moves as drawings (SVG)."""
        from contactread.practice.draw_svg import draw

        return {
            "question": self.question_id,
            "topic": self.topic,
            "given": self.given,
            "right": self.right,
            "score": round(self.score, 3),
            "right_answer": self.right_answer,
            "how_far": list(self.how_far),
            "why": [reason.to_json() for reason in self.why],
            "against_chart": None if self.against_chart is None else self.against_chart.to_json(),
            "yours_svg": None if self.yours is None else draw(self.yours).svg(),
            "should_svg": None if self.should is None else draw(self.should).svg(),
        }


def mark(question: Question, given: str) -> Mark:
    """Mark an answer as it was typed. Raises PracticeError answer-unreadable."""
    answer = question.answer
    if isinstance(answer, Choice):
        return _mark_choice(question, answer, given)
    if isinstance(answer, Amount):
        return _mark_amount(question, answer, given)
    return _mark_patch(question, answer, given)


def best_mark(question: Question) -> Mark:
    """The mark of the best answer: what an answer sheet shows."""
    answer = question.answer
    should = None
    if isinstance(answer, Choice):
        leads_to = answer.option(answer.right).leads_to
        should = None if leads_to is None else leads_to()
    elif isinstance(answer, Amount):
        should = answer.travel_of(answer.right_mm)
    marked = _marked(question, right_answer(question), 1.0, [], None, should)
    return replace(marked, should=true_patch(answer)) if isinstance(answer, MarkPatch) else marked


def unreadable_mark(question: Question, given: str, error: PracticeError) -> Mark:
    """An answer that can't be read counts as wrong."""
    shown = given.strip()[:60] or "nothing"
    return _marked(question, f"{shown} (not readable)", 0.0, [error.message], None, None)


def right_answer(question: Question) -> str:
    """The best answer in words."""
    answer = question.answer
    if isinstance(answer, Choice):
        return f"{answer.right}) {answer.option(answer.right).text}"
    if isinstance(answer, Amount):
        return f"{answer.part} {_shim_words(answer.right_mm)}"
    return f"length {_span(answer.length)}, height {_span(answer.height)}"


def sources_of(questions: Iterable[Question]) -> tuple[str, ...]:
    """Ids of everything that questions and their answers rest on, each once."""
    statements = [
        statement
        for question in questions
        for statement in (question.convention, *question.why, question.against_chart)
        if statement is not None
    ]
    return tuple(dict.fromkeys(source for statement in statements for source in statement.sources))


def source_titles(sources: tuple[str, ...]) -> list[str]:
    """Each source id with its title, for showing."""
    titles = []
    for source in sources:
        if source in _OWN_SOURCES:
            titles.append(f"{source}: {_OWN_SOURCES[source]}")
        else:
            titles.append(f"{source}: {facts('sources')[source]['title']}")
    return titles


def _mark_choice(question: Question, answer: Choice, given: str) -> Mark:
    key = given.strip().lower().rstrip(".)")
    if key not in {o.key for o in answer.options}:
        keys = ", ".join(o.key for o in answer.options)
        raise unreadable(given, f"Give one letter: {keys}.")
    chosen, best = answer.option(key), answer.option(answer.right)
    hit = key == answer.right
    yours = None if hit or chosen.leads_to is None else chosen.leads_to()
    should = None if best.leads_to is None else best.leads_to()
    how_far = []
    if question.topic not in _NO_RIGHT_PLACE:
        if not hit and chosen.leads_to is not None:
            how_far.append(_result("Acting on your answer", yours))
        if should is not None:
            how_far.append(_result("Acting on the best answer", should))
    return _marked(question, f"{key}) {chosen.text}", 1.0 if hit else 0.0, how_far, yours, should)


def _mark_amount(question: Question, answer: Amount, given: str) -> Mark:
    mm = parse_shim_change(given)
    miss = mm - answer.right_mm
    same_way = mm * answer.right_mm > 0
    score = 0.0
    if abs(miss) <= answer.tolerance_mm + 1e-9:
        score = 1.0
    elif same_way and abs(miss) <= 3 * answer.tolerance_mm:
        score = HALF_RIGHT
    start = question.case
    after = answer.travel_of(mm) if start is None or _in_reach(mm, answer) else None
    best = answer.travel_of(answer.right_mm)
    how_far = [f"You are off by {show_clearance(abs(miss))}."]
    if not same_way:
        how_far.append("It goes the wrong way.")
    how_far.append(f"Up to {show_clearance(answer.tolerance_mm)} off still counts as right.")
    yours = after if after is not None and after.touches else None
    if score < 1:
        how_far.append(_result("With your change, the set", yours))
    how_far.append(_result("With the best change, the set", best))
    return _marked(question, _shim_words(mm), score, how_far, yours if score < 1 else None, best)


def _mark_patch(question: Question, answer: MarkPatch, given: str) -> Mark:
    length, height = parse_patch(given)
    borders = ("toe end", "heel end", "root side", "top side")
    truth = (*answer.length, *answer.height)
    misses = [a - b for a, b in zip((*length, *height), truth, strict=True)]
    rms = math.sqrt(sum(m * m for m in misses) / len(misses))
    score = 1.0 if rms <= answer.tolerance else HALF_RIGHT if rms <= 2 * answer.tolerance else 0.0
    worst = max(range(4), key=lambda k: abs(misses[k]))
    how_far = [
        f"Your four borders are off by {share(rms)} of the tooth on average; up to "
        f"{share(answer.tolerance)} counts as right.",
        f"Farthest off is the {borders[worst]}: {share(abs(misses[worst]))} of the tooth, "
        f"{show_clearance(abs(misses[worst]) * answer.size_mm[worst // 2])}.",
    ]
    text = f"length {_span(length)}, height {_span(height)}"
    marked = _marked(question, text, score, how_far, None, None)
    return replace(
        marked, yours=_boxed(answer, length, height, "As you marked it"), should=true_patch(answer)
    )


def true_patch(answer: MarkPatch) -> PatternPicture:
    """Where the patch really lies, as a box."""
    return _boxed(answer, answer.length, answer.height, "As it is")


def _boxed(answer: MarkPatch, length: Interval, height: Interval, heading: str) -> PatternPicture:
    (u0, u1), (v0, v1) = length, height
    box = ((u0, v0), (u1, v0), (u1, v1), (u0, v1))
    centre = ((u0 + u1) / 2, (v0 + v1) / 2)
    patch = Patch(centre, length, height, (u1 - u0) * (v1 - v0), 0.0, told_clear(length, height), (box,))
    return PatternPicture(heading, ((answer.role, answer.flank, patch),))


def _marked(
    question: Question, given: str, score: float, how_far: list[str], yours: Case | None, should: Case | None
) -> Mark:
    hidden = _hidden(question)
    return Mark(
        question.id,
        question.topic,
        given,
        score,
        right_answer(question),
        (*how_far, *([hidden] if hidden else []), question.margin_says),
        question.why,
        question.against_chart,
        None if yours is None else show_pair(yours, "After your answer"),
        None if should is None else show_pair(should, "After the best answer"),
    )


def _in_reach(mm: float, answer: Amount) -> bool:
    """Whether the mesh can still say something after this change."""
    return abs(mm - answer.right_mm) <= 0.6


def _result(who: str, case: Case | None) -> str:
    if case is None:
        return f"{who} loses the contact on one side altogether."
    text = f"{who} ends with the patches {share(case.off())} of the tooth from where they belong"
    if case.backlash_mm <= 0:
        return f"{text}, and no backlash is left: the gears would bind."
    limits = "in limits" if case.within_limits() else "out of limits"
    return f"{text}, and backlash {show_clearance(case.backlash_mm)} ({limits})."


def _hidden(question: Question) -> str | None:
    """What was really wrong, in mm and thousandths."""
    case = question.case
    if case is None or question.topic in _NO_RIGHT_PLACE:
        return None
    if case.bore is not None:
        kind, size = case.bore
        return f"Hidden here: the pinion bore stood {show_clearance(abs(size))} off in its {kind}."
    parts = []
    stands = [("pinion", case.pinion_mm, "ring gear"), ("ring gear", case.ring_mm, "pinion")]
    if case.within_limits():
        del stands[1]  # the ring gear stands where it makes the backlash right
    for name, mm, other in stands:
        if abs(mm) >= 0.05:
            way = "too far from" if mm > 0 else "too near"
            parts.append(f"the {name} stood {show_clearance(abs(mm))} {way} the {other}")
    return f"Hidden here: {'; '.join(parts)}." if parts else "Hidden here: nothing was wrong."


def _shim_words(mm: float) -> str:
    return f"{'thicker' if mm > 0 else 'thinner'} by {show_clearance(abs(mm))}"


def _span(interval: tuple[float, float]) -> str:
    return f"{share(interval[0])} to {share(interval[1])}"
