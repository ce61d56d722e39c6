"""Marking: right or not, what acting on the answer leads to beside the right move, and this very picture."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from contactread.advice.answer import Statement
from contactread.axle import ROLES, Interval
from contactread.errors import PracticeError
from contactread.facts import facts
from contactread.patch import Patch, Point, told_clear
from contactread.practice.acting import Outcome
from contactread.practice.answers import parse_patch, parse_shim_change, unreadable
from contactread.practice.case import share
from contactread.practice.question import Amount, Choice, FlankPicture, MarkPatch, Question
from contactread.practice.wording import shim_words
from contactread.units import show_clearance

_OWN_SOURCES = {"mesh": "computed for this gear set", "shop": "the shop's own job"}
# Topics that ask what a move does, not what to do: acting on an answer has no good or bad end.
FORESIGHT = ("cutting", "what-if")


@dataclass(frozen=True)
class Mark:
    """How one answer was marked.

    given: the answer as understood. best: the answer that the shop would choose, in words. also_right: the
    other right ones. ends: what acting on the answer leads to, what the best leads to, and by how much it
    is decided, with figures. about: the three statements on this picture. outcomes: flanks after acting on
    the answer and on the best one, side by side. centre: where the apprentice put the patch's centre.
    """

    question_id: str
    topic: str
    given: str
    right: bool
    guess: float
    best: str
    also_right: tuple[str, ...]
    ends: tuple[str, ...]
    about: tuple[Statement, ...]
    against_chart: Statement | None = None
    outcomes: FlankPicture | None = None
    centre: Point | None = None
    acted: tuple[Outcome | None, Outcome | None] = field(default=(None, None), compare=False)

    @property
    def best_says(self) -> str:
        """What the best answer is called: where nothing is acted on, there is no choice to make."""
        acts = self.topic not in FORESIGHT and self.acted[1] is not None
        return "The shop would choose" if acts else "Right is"

    def to_json(self) -> dict[str, Any]:
        """Plain data; the flanks after both moves as one drawing (SVG)."""
        from contactread.practice.draw_svg import draw

        return {
            "question": self.question_id,
            "topic": self.topic,
            "given": self.given,
            "right": self.right,
            "best": self.best,
            "best_says": self.best_says,
            "also_right": list(self.also_right),
            "ends": list(self.ends),
            "about": [statement.to_json() for statement in self.about],
            "against_chart": None if self.against_chart is None else self.against_chart.to_json(),
            "outcomes_svg": None if self.outcomes is None else draw(self.outcomes).svg(alone=False),
        }


def mark(question: Question, given: str) -> Mark:
    """Mark an answer as it was typed or drawn. Raises PracticeError answer-unreadable."""
    answer = question.answer
    if isinstance(answer, MarkPatch):
        return _mark_patch(question, answer, given)
    if isinstance(answer, Amount):
        mm = parse_shim_change(given)
        yours = answer.leads_to(mm)
        return _acted(question, shim_words(mm), yours.good, yours, answer.leads_to(answer.best_mm))
    key = given.strip().lower().rstrip(".)")
    if key not in {o.key for o in answer.options}:
        raise unreadable(given, f"Give one letter: {', '.join(o.key for o in answer.options)}.")
    chosen, best = answer.option(key), answer.option(answer.best)
    yours_of, best_of = (None if o.leads_to is None else o.leads_to() for o in (chosen, best))
    return _acted(question, f"{key}) {chosen.text}", key in answer.right, yours_of, best_of)


def best_mark(question: Question) -> Mark:
    """The mark of the best answer: what an answer sheet shows."""
    answer = question.answer
    if isinstance(answer, Choice):
        return mark(question, answer.best)
    if isinstance(answer, Amount):
        return mark(question, f"{answer.best_mm:+.6f} mm")
    (u0, u1), (v0, v1) = answer.patch.length, answer.patch.height
    return mark(question, " ".join(f"{100 * x:.1f}" for x in (u0, u1, v0, v1)))


def unreadable_mark(question: Question, given: str, error: PracticeError) -> Mark:
    """An answer that can't be read counts as wrong."""
    shown = given.strip()[:60] or "nothing"
    return replace(_acted(question, f"{shown} (not readable)", False, None, None), ends=(error.message,))


def right_answer(question: Question) -> str:
    """The best answer in words."""
    answer = question.answer
    if isinstance(answer, Choice):
        return f"{answer.best}) {answer.option(answer.best).text}"
    if isinstance(answer, Amount):
        return f"{answer.part} {shim_words(answer.best_mm)}"
    return f"length {_span(answer.patch.length)}, height {_span(answer.patch.height)}"


def sources_of(questions: Iterable[Question]) -> tuple[str, ...]:
    """Ids of everything that questions and their answers rest on, each once."""
    return tuple(dict.fromkeys(source for q in questions for s in q.statements for source in s.sources))


def source_titles(sources: Iterable[str]) -> list[str]:
    """Each source id with its title, for showing."""
    return [f"{s}: {_OWN_SOURCES.get(s) or facts('sources')[s]['title']}" for s in sources]


def _acted(question: Question, given: str, right: bool, yours: Outcome | None, best: Outcome | None) -> Mark:
    """The mark of an answer that can be acted on."""
    answer = question.answer
    ends: list[str] = []
    same = yours is not None and best is not None and yours.case == best.case
    if question.topic not in FORESIGHT and yours is not None and not same:
        ends.append(f"Your answer: {yours.done}. {yours.ends()}")
    also: tuple[str, ...] = ()
    if isinstance(answer, Choice):
        rest = answer.right - {answer.best, given[:1]}
        also = tuple(f"{o.key}) {o.text}" for o in answer.options if o.key in rest)
    if right and yours is not None and not same and question.topic not in FORESIGHT:
        ends.append(_why_the_shops(yours, best))
    elif right:
        ends.append(question.margin_says)
    called = "After" if question.topic in FORESIGHT else "Best" if right else "Shop's"
    shown = [("Yours", yours), (called, best)]
    cases = [
        (name, o.case) for name, o in (shown[1:] if same else shown) if o is not None and o.case is not None
    ]
    flanks = tuple(
        (f"{name}: {role}", case.drawn(role)) for name, case in cases for role in ROLES
    )  # fmt: skip
    heading = "After acting on your answer, and on the shop's" if len(cases) > 1 else "After the move"
    return Mark(
        question.id, question.topic, given, right, question.guess, right_answer(question), also, tuple(ends),
        question.about, question.against_chart, FlankPicture(heading, flanks) if flanks else None,
        acted=(yours, best),
    )  # fmt: skip


def _why_the_shops(yours: Outcome | None, best: Outcome | None) -> str:
    """Why the shop would choose another right answer."""
    if yours is None or best is None or yours.case is None or best.case is None:
        return "It ends in limits; the shop would choose what takes the least apart."
    mine, theirs = yours.case.off(), best.case.off()
    if theirs < mine:
        return ("It ends in limits too, so it is right. The shop's choice ends nearer to the best place: "
                f"{share(theirs)} of the tooth from it, yours {share(mine)}.")  # fmt: skip
    return f"It ends in limits too, {share(mine)} from the best place; the shop's choice takes less apart."


def _mark_patch(question: Question, answer: MarkPatch, given: str) -> Mark:
    length, height, centre = parse_patch(given)
    truth = answer.patch
    ends = []
    right = True
    if centre is not None:
        away = centre[0] - truth.centre[0], centre[1] - truth.centre[1]
        far = math.hypot(*away)
        right = far <= answer.tolerance
        ends.append(f"Your centre, at {centre[0]:.0%} and {centre[1]:.0%}, is {share(far)} of the tooth from "
                    f"the true one: {_off(away[0], answer.size_mm[0], ('toe', 'heel'))}, "
                    f"{_off(away[1], answer.size_mm[1], ('root', 'top'))}.")  # fmt: skip
    borders = ("toe end", "heel end", "root side", "top side")
    misses = [a - b for a, b in zip((*length, *height), (*truth.length, *truth.height), strict=True)]
    rms = math.sqrt(sum(m * m for m in misses) / len(misses))
    right &= rms <= answer.tolerance
    worst = max(range(4), key=lambda k: abs(misses[k]))
    ends += [
        f"Your four borders are {share(rms)} of the tooth off on average; up to {share(answer.tolerance)} "
        "is right.",
        f"Farthest off is the {borders[worst]}: {share(abs(misses[worst]))}, "
        f"{show_clearance(abs(misses[worst]) * answer.size_mm[worst // 2])}.",
    ]
    middle = centre or (sum(length) / 2, sum(height) / 2)
    boxes = tuple((name, replace(patch, outlines=(_box(patch),))) for name, patch in (
        ("Yours", Patch(middle, length, height, 0.0, 0.0, told_clear(length, height))),
        ("True", truth),
    ))  # fmt: skip
    return Mark(
        question.id, question.topic, _told(length, height, middle), right, question.guess,
        right_answer(question), (), tuple(ends), question.about, None,
        FlankPicture("As you marked it, and as it is", boxes), middle,
    )  # fmt: skip


def _box(patch: Patch) -> tuple[Point, ...]:
    (u0, u1), (v0, v1) = patch.length, patch.height
    return (u0, v0), (u1, v0), (u1, v1), (u0, v1)


def _off(away: float, size_mm: float, ways: tuple[str, str]) -> str:
    return f"{share(abs(away))} ({show_clearance(abs(away) * size_mm)}) toward the {ways[away > 0]}"


def _told(length: Interval, height: Interval, centre: Point) -> str:
    """A marked patch as it can be read again by `parse_patch`."""
    u0, u1, v0, v1, u, v = (f"{100 * x:.1f}".removesuffix(".0") for x in (*length, *height, *centre))
    return f"{u0}-{u1} {v0}-{v1} centre {u} {v}"


def _span(interval: Interval) -> str:
    return f"{interval[0]:.0%} to {interval[1]:.0%}"
