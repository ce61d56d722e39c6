"""Lessons, questions and marks as lines of plain text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Collection

from contactread.practice.draw_text import text_lines
from contactread.practice.marking import Mark, source_titles, sources_of
from contactread.practice.question import AMOUNT_FORMS, PATCH_FORM, Amount, Choice, PhotoPicture, Question
from contactread.practice.topics import LEVELS, Topic
from contactread.practice.wording import define
from contactread.show.text import printable

WIDTH = 78


def lesson_lines(topic: Topic, known_terms: Collection[str] = ()) -> list[str]:
    """What to read before the first question of a topic; each trade term once."""
    lines = [f"New: {topic.heading}  (level {topic.level}, {LEVELS[topic.level].lower()})", ""]
    lines += _wrapped(topic.lesson)
    terms = [term for term in topic.terms if term not in known_terms]
    if terms:
        lines.append("")
    for term in terms:
        lines += _wrapped(define(term).text, "  ")
    return lines


def question_lines(question: Question, number: int, plain: bool = False) -> list[str]:
    """The question with its pictures."""
    lines = [f"Question {number}   [{question.id}]", ""]
    for fact in question.given:
        lines += _wrapped(fact)
    if question.convention is not None:
        lines += _wrapped(f"{question.convention.text} [{', '.join(question.convention.sources)}]")
    if question.given or question.convention is not None:
        lines.append("")
    for picture in question.pictures:
        lines += text_lines(picture, plain)
        if isinstance(picture, PhotoPicture) and picture.outline_px:
            lines += _wrapped(
                f"To see which tooth is meant: contactread practice sheet photo.html --question {question.id}"
            )
        lines.append("")
    lines += _wrapped(question.prompt)
    if isinstance(question.answer, Choice):
        for option in question.answer.options:
            lines += _wrapped(f"{option.key}) {option.text}", "  ", "     ")
    return lines


def how_to_answer(question: Question) -> str:
    """The words in front of the cursor."""
    if isinstance(question.answer, Choice):
        return f"Your answer ({', '.join(o.key for o in question.answer.options)}): "
    forms = AMOUNT_FORMS if isinstance(question.answer, Amount) else PATCH_FORM
    return f"Your answer, such as {forms}: "


def mark_lines(mark: Mark, plain: bool = False) -> list[str]:
    """What was right, how far off, why, and the pattern that each move leads to."""
    word = "RIGHT" if mark.right else "PARTLY RIGHT" if mark.score > 0 else "NOT RIGHT"
    lines = _wrapped(f"{word}. You answered: {printable(mark.given)}", "", "  ")
    if mark.score < 1:
        lines += _wrapped(f"Best answer: {mark.right_answer}", "", "  ")
    for picture in (mark.yours, mark.should):
        if picture is not None:
            lines += ["", *text_lines(picture, plain)]
    lines += ["", "How far:"]
    for sentence in mark.how_far:
        lines += _wrapped(sentence, "  - ", "    ")
    lines.append("Why:")
    for reason in mark.why:
        lines += _wrapped(f"{reason.text} [{reason.rule}: {', '.join(reason.sources)}]", "  - ", "    ")
    if mark.against_chart is not None:
        lines += _wrapped(f"Note: {mark.against_chart.text}", "  ")
    return lines


def source_lines(questions: Collection[Question]) -> list[str]:
    """The sources that the questions rest on, each once with its title."""
    lines = []
    for title in source_titles(sources_of(questions)):
        lines += _wrapped(title, "  ", "    ")
    return ["Sources:", *lines] if lines else []


def score_line(marks: Collection[Mark]) -> str:
    """How many were right."""
    return f"{sum(mark.right for mark in marks)} of {len(marks)} right."


def _wrapped(text: str, first: str = "", later: str | None = None) -> list[str]:
    indent = first if later is None else later
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False
    ) or [""]
