"""Lessons, questions and marks as lines for a terminal of 80 columns and 24 lines."""

from __future__ import annotations

import textwrap
from collections.abc import Collection

from contactread.practice.draw_text import LEGEND, text_lines
from contactread.practice.marking import Mark, source_titles, sources_of
from contactread.practice.question import AMOUNT_FORMS, PATCH_FORM, Amount, Choice, PhotoPicture, Question
from contactread.practice.topics import LEVELS, Topic
from contactread.practice.wording import define
from contactread.show.text import printable

WIDTH, SCREEN = 79, 24
MARK_LINES = SCREEN - 1  # below it stands "Enter goes on"
# A mark that needs more lines gets flatter flanks, then fewer words, until it fits.
_FITTED = ((6, False), (5, False), (4, False), (4, True), (3, True))


def lesson_lines(topic: Topic, known_terms: Collection[str] = ()) -> list[str]:
    """What to read before the first question of a topic; each trade term once."""
    lines = [*wrapped(f"New: {topic.heading}  (level {topic.level}, {LEVELS[topic.level].lower()})"), ""]
    lines += wrapped(topic.lesson)
    terms = [term for term in topic.terms if term not in known_terms]
    return lines + [""] * bool(terms) + [line for t in terms for line in wrapped(define(t).text, "  ")]


def question_lines(question: Question, number: int, plain: bool = False) -> list[str]:
    """The question with its pictures: one screen, its last line left for the answer."""
    drawn = not isinstance(question.pictures[0], PhotoPicture)
    head = f"Question {number}  ({question.id})"
    lines = [head + (LEGEND[plain].rjust(WIDTH - len(head)) if drawn else "")]
    facts = [*question.given, *([question.convention.text] if question.convention else [])]
    lines += [line for fact in facts for line in wrapped(fact)]
    for picture in question.pictures:
        lines += text_lines(picture, plain)
    lines += wrapped(question.prompt)
    if isinstance(question.answer, Choice):
        for option in question.answer.options:
            lines += wrapped(f"{option.key}) {option.text}", " ", "    ")
    return lines


def how_to_answer(question: Question) -> str:
    """The words in front of the cursor."""
    if isinstance(question.answer, Choice):
        return f"Your answer ({', '.join(o.key for o in question.answer.options)}): "
    return f"Such as {AMOUNT_FORMS if isinstance(question.answer, Amount) else PATCH_FORM}: "


def mark_lines(mark: Mark, plain: bool = False) -> list[str]:
    """Right or not, where acting on the answer ends beside the right move, three statements on this picture
    and where their rules are told: within one screen.
    """
    for rows, short in _FITTED:
        lines = _mark_lines(mark, plain, rows, short)
        if len(lines) <= MARK_LINES:
            break
    return lines


def _mark_lines(mark: Mark, plain: bool, rows: int, short: bool) -> list[str]:
    """short: choices, which the question shows in full, cut to a line; no word on what was right anyway."""
    heads = [f"{'RIGHT' if mark.right else 'NOT RIGHT'}. You answered: {printable(mark.given)}"]
    if not mark.given.startswith(mark.best):
        heads.append(f"{mark.best_says}: {mark.best}")
    if mark.also_right:
        too = [text.partition(")")[0] if short else text for text in mark.also_right]
        heads.append(f"Right too: {' '.join(too)}")
    if short:
        heads = [heads[0], ". ".join(reversed(heads[1:]))]
        lines = [textwrap.shorten(head, WIDTH, placeholder=" ...") for head in heads if head]
    else:
        lines = [line for head in heads for line in wrapped(head, "", "  ")]
    if mark.outcomes is not None:
        lines += text_lines(mark.outcomes, plain, rows)
    for sentence in mark.ends if not (short and mark.right) else ():
        lines += wrapped(sentence, "- ", "  ")
    for statement in mark.about:
        lines += wrapped(statement.text, "* ", "  ")
    if mark.against_chart is not None:
        lines += wrapped(f"Note: {mark.against_chart.text}")
    rules = " ".join(dict.fromkeys(s.rule for s in mark.about if "." not in s.rule))
    return lines + (wrapped(f"Rules and who says so: contactread practice rules {rules}") if rules else [])


def source_lines(questions: Collection[Question]) -> list[str]:
    """The sources that the questions rest on, each once with its title."""
    titles = source_titles(sources_of(questions))
    return (
        ["Sources:", *(line for title in titles for line in wrapped(title, "  ", "    "))] if titles else []
    )


def score_line(marks: Collection[Mark]) -> str:
    """How many were right."""
    return f"{sum(mark.right for mark in marks)} of {len(marks)} right."


def wrapped(text: str, first: str = "", later: str | None = None) -> list[str]:
    indent = first if later is None else later
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False
    ) or [""]
