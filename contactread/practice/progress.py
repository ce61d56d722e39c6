"""How apprentices get on: for the trainer, as text and as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from contactread.errors import PracticeError
from contactread.practice.course import Standing, standings
from contactread.practice.history import Answered, answers_of, apprentice_name, apprentices
from contactread.practice.marking import PASS
from contactread.practice.topics import LEVELS, TOPICS
from contactread.records.book import Book
from contactread.show.table import Cell, text_table
from contactread.show.text import printable

RECENT = 10


@dataclass(frozen=True)
class TestTaken:
    """One test by its seed, as far as it was answered."""

    seed: int
    answered: int
    right: int
    at: datetime


@dataclass(frozen=True)
class Progress:
    """One apprentice. standing: by topic, those that were met. recent: the newest answers, newest first."""

    apprentice: str
    answered: int
    right: int
    standing: tuple[Standing, ...]
    tests: tuple[TestTaken, ...]
    recent: tuple[Answered, ...]

    @property
    def weakest(self) -> tuple[str, ...]:
        """Topics met and not mastered, weakest first."""
        open_ones = [s for s in self.standing if not s.mastered]
        return tuple(s.topic for s in sorted(open_ones, key=lambda s: (s.step, s.right / s.asked)))


def progress_of(book: Book, apprentice: str | None = None) -> list[Progress]:
    """The progress of one apprentice or of all. Raises PracticeError nothing-answered."""
    names = apprentices(book) if apprentice is None else [apprentice_name(apprentice)]
    found = [_progress(name, answers_of(book, name)) for name in names]
    if not found or (apprentice is not None and not found[0].answered):
        who = "Nobody" if apprentice is None else apprentice
        raise PracticeError(
            "nothing-answered",
            f"{who} has answered nothing in the shop book {book.path} yet.",
            "Begin with: contactread practice learn --who NAME",
        )
    return found


def progress_lines(found: Sequence[Progress]) -> list[str]:
    """Tables for the terminal."""
    lines = []
    for one in found:
        lines += [f"{printable(one.apprentice)}: {one.right} of {one.answered} right", ""]
        rows = [_row(standing) for standing in one.standing]
        lines += [text_table(["level", "topic", "asked", "right", "stands", "last", "comes back"], rows), ""]
        if one.weakest:
            lines.append("Weakest: " + ", ".join(TOPICS[t].heading for t in one.weakest[:3]) + ".")
        for test in one.tests:
            lines.append(f"Test {test.seed}: {test.right} of {test.answered} right, {day(test.at)}.")
        lines.append("")
    return lines


def progress_json(found: Sequence[Progress]) -> dict[str, Any]:
    """Plain data for ``--json``."""
    return {
        "schema": 1,
        "apprentices": [
            {
                "apprentice": one.apprentice,
                "answered": one.answered,
                "right": one.right,
                "weakest": list(one.weakest),
                "topics": [
                    {
                        "topic": s.topic,
                        "asked": s.asked,
                        "right": s.right,
                        "step": s.step,
                        "mastered": s.mastered,
                        "last": None if s.last is None else s.last.isoformat(),
                        "due": None if s.due is None else s.due.isoformat(),
                    }
                    for s in one.standing
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
        for topic in TOPICS.values():
            if topic.level == level:
                note = ""
                if topic.make is None:
                    count = len(stored.get(topic.id, ()))
                    note = f"  ({count} question{'' if count == 1 else 's'} at hand)"
                lines.append(f"  {topic.id:<11} {topic.heading}{note}")
        lines.append("")
    return lines


def _row(s: Standing) -> list[Cell]:
    topic = TOPICS[s.topic]
    return [topic.level, topic.heading, s.asked, s.right, state(s), day(s.last), day(s.due)]


def state(standing: Standing) -> str:
    """Where a topic stands, in one or two words."""
    if standing.mastered:
        return "mastered"
    return "learning" if standing.step else "weak"


def day(moment: datetime | None) -> str:
    return "" if moment is None else f"{moment:%Y-%m-%d}"


def _progress(name: str, history: list[Answered]) -> Progress:
    standing = standings(history, list(TOPICS))
    # A test taken again counts as it was answered last.
    tests: dict[int, dict[str, Answered]] = {}
    for answer in history:
        if answer.test is not None:
            tests.setdefault(answer.test, {})[answer.question_id] = answer
    return Progress(
        name,
        len(history),
        sum(_right(a) for a in history),
        tuple(s for s in standing.values() if s.asked),
        tuple(
            TestTaken(
                seed,
                len(given),
                sum(_right(a) for a in given.values()),
                max(a.answered_at for a in given.values()),
            )
            for seed, given in tests.items()
        ),
        tuple(reversed(history[-RECENT:])),
    )


def _right(answer: Answered) -> bool:
    return answer.score >= PASS
