"""How apprentices get on: people against topics for the instructor, topic by topic for one of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from textwrap import wrap
from typing import Any

from contactread.errors import PracticeError
from contactread.practice.course import Standing, need, standings
from contactread.practice.history import Answered, answers_of, apprentice_name, apprentices
from contactread.practice.topics import LEVELS, TOPICS
from contactread.records.book import Book
from contactread.show.table import Cell, csv_table, text_table
from contactread.show.text import printable

NEEDS = 3
_NAME = 10  # letters of a name in the table of a class
SIGNS = {"new": " ", "learning": " ", "resting": "r", "mastered": "M"}
LEGEND = (
    "Numbers: share known in percent (lower bound, guessing taken off). r reached, rests for a week; M "
    "mastered."
)


@dataclass(frozen=True)
class TestTaken:
    """One test by its seed, as far as it was answered."""

    seed: int
    answered: int
    right: int
    at: datetime


@dataclass(frozen=True)
class Progress:
    """One apprentice. standing: by topic."""

    apprentice: str
    answered: int
    right: int
    standing: Mapping[str, Standing]
    tests: tuple[TestTaken, ...]

    @property
    def needs(self) -> tuple[str, ...]:
        """What to practise next: topics met and neither reached nor mastered, weakest first; else the first
        that wasn't met yet.
        """
        weak = sorted((s for s in self.standing.values() if s.state == "learning"), key=need, reverse=True)
        unmet = [s.topic for s in self.standing.values() if s.state == "new"]
        return (*(s.topic for s in weak), *unmet[:1])[:NEEDS]


def progress_of(book: Book, apprentice: str | None = None) -> list[Progress]:
    """The progress of one apprentice or of all. Raises PracticeError nothing-answered."""
    names = apprentices(book) if apprentice is None else [apprentice_name(apprentice)]
    found = [_progress(name, answers_of(book, name)) for name in names]
    if not found or (apprentice is not None and not found[0].answered):
        so_far = (
            "Nobody has answered anything" if apprentice is None else f"{apprentice} has answered nothing"
        )
        raise PracticeError(
            "nothing-answered",
            f"{so_far} in the shop book {book.path} yet.",
            "Begin with: contactread practice learn --who NAME",
        )
    return found


def class_lines(found: Sequence[Progress]) -> list[str]:
    """People against topics in 80 columns, and who needs what next."""
    short = [topic.replace("-", "")[:3] for topic in TOPICS]
    lines = [" " * _NAME + "".join(f" {name:<3}" for name in short)]
    for one in found:
        lines.append(
            _shortened(one.apprentice).ljust(_NAME) + "".join(f" {_cell(s):<3}" for s in _in_order(one))
        )
    lines += [*wrap(LEGEND, 79), "", "Needs next:"]
    return lines + [
        f"  {_shortened(one.apprentice):<{_NAME}} {', '.join(one.needs) or 'nothing'}" for one in found
    ]


TOPIC_COLUMNS = ("level", "topic", "asked", "right", "known", "stands", "last", "comes back")


def topic_rows(one: Progress) -> list[list[Cell]]:
    """One apprentice, a row for each topic met, under `TOPIC_COLUMNS`."""
    return [
        [TOPICS[s.topic].level, TOPICS[s.topic].heading, s.asked, s.right, f"{s.bound:.0%}", s.state,
         day(s.last), day(s.due)] for s in _in_order(one) if s.asked
    ]  # fmt: skip


def one_lines(one: Progress) -> list[str]:
    """One apprentice, topic by topic."""
    lines = [f"{printable(one.apprentice)}: {one.right} of {one.answered} right", ""]
    lines += [text_table(TOPIC_COLUMNS, topic_rows(one)), ""]
    lines += [f"Needs next: {', '.join(TOPICS[t].heading for t in one.needs)}."] if one.needs else []
    return lines + [f"Test {t.seed}: {t.right} of {t.answered} right, {day(t.at)}." for t in one.tests]


def class_csv(found: Sequence[Progress]) -> str:
    """The same for a spreadsheet: known share in percent, and the state, of each topic."""
    columns = [
        "apprentice",
        "answered",
        "right",
        *(f"{t} {what}" for t in TOPICS for what in ("known", "state")),
    ]
    rows: list[list[Cell]] = [
        [one.apprentice, one.answered, one.right,
         *(c for s in _in_order(one) for c in (round(100 * s.bound), s.state)),
         ", ".join(one.needs)] for one in found
    ]  # fmt: skip
    return csv_table([*columns, "needs next"], rows)


def class_page(found: Sequence[Progress]) -> str:
    """The same as a page of one sheet."""
    from contactread.practice.sheet import render

    topics = list(TOPICS.values())
    return render("class.html", people=class_rows(found), topics=topics, legend=LEGEND)


def class_rows(found: Sequence[Progress]) -> list[dict[str, Any]]:
    """People against topics for a page: of each their cells in the order of `TOPICS`, and what they need."""
    return [
        {
            "name": one.apprentice,
            "answered": one.answered,
            "right": one.right,
            "cells": [{"text": _cell(s), "state": s.state} for s in _in_order(one)],
            "needs": ", ".join(TOPICS[t].heading for t in one.needs),
        }
        for one in found
    ]


def progress_json(found: Sequence[Progress]) -> dict[str, Any]:
    """Plain data for ``--json``."""
    return {
        "schema": 1,
        "apprentices": [
            {
                "apprentice": one.apprentice,
                "answered": one.answered,
                "right": one.right,
                "needs": list(one.needs),
                "topics": [
                    {
                        "topic": s.topic,
                        "asked": s.asked,
                        "right": s.right,
                        "state": s.state,
                        "known": round(s.bound, 4),
                        "last": None if s.last is None else s.last.isoformat(),
                        "due": None if s.due is None else s.due.isoformat(),
                    }
                    for s in _in_order(one)
                    if s.asked
                ],
                "tests": [{"seed": t.seed, "answered": t.answered, "right": t.right} for t in one.tests],
            }
            for one in found
        ],
    }


def topic_lines(stored: Mapping[str, Sequence[str]]) -> list[str]:
    """The ground that practice covers, level by level."""
    lines = []
    for level, heading in LEVELS.items():
        lines.append(f"Level {level}: {heading}")
        for topic in (t for t in TOPICS.values() if t.level == level):
            count = len(stored.get(topic.id, ()))
            note = "" if topic.make else f"  ({count} question{'' if count == 1 else 's'} at hand)"
            lines.append(f"  {topic.id:<11} {topic.heading}{note}")
        lines.append("")
    return lines


def day(moment: datetime | None) -> str:
    return "" if moment is None else f"{moment:%Y-%m-%d}"


def _in_order(one: Progress) -> list[Standing]:
    return [one.standing[topic] for topic in TOPICS]


def _cell(s: Standing) -> str:
    return "-" if s.state == "new" else f"{100 * s.bound:.0f}{SIGNS[s.state]}".strip()


def _shortened(name: str) -> str:
    shown = printable(name)
    return shown if len(shown) <= _NAME else shown[: _NAME - 1] + "~"


def _progress(name: str, history: list[Answered]) -> Progress:
    # A test taken again counts as it was answered last.
    tests: dict[int, dict[str, Answered]] = {}
    for answer in history:
        if answer.test is not None:
            tests.setdefault(answer.test, {})[answer.question_id] = answer
    taken = (
        TestTaken(seed, len(a), sum(x.right for x in a.values()), max(x.answered_at for x in a.values()))
        for seed, a in tests.items()
    )
    return Progress(
        name, len(history), sum(a.right for a in history), standings(history, list(TOPICS)), tuple(taken)
    )  # fmt: skip
