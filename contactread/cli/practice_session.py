"""Asking question after question: at a terminal, from a pipe, or from a file of answers."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from contactread.cli.output import print_json, say
from contactread.errors import PracticeError
from contactread.outside import Unfit, read_text

_MOST_BYTES = 1_000_000  # of a file of answers

if TYPE_CHECKING:
    from contactread.practice.marking import Mark
    from contactread.practice.question import Question
    from contactread.records.book import Book

_TRIES = 3  # how often an answer that can't be read may be given again at a terminal


class Session:
    """One sitting. book, who: where answers are kept; None keeps nothing. test: seed of the test.

    answers: a file with one answer a line ("-" is standard input). json: print one object at the end, and
    ask nothing that `answers` doesn't answer. lessons: read a topic's lesson before its first question.
    consent: whether patches marked in photographs are kept by name; None asks a person at a terminal.
    """

    def __init__(
        self, book: Book | None, who: str, *, answers: Path | None, json: bool, lessons: bool = False,
        test: int | None = None, consent: bool | None = None,
    ) -> None:  # fmt: skip
        from contactread.practice.history import answers_of, apprentice_name

        self._book, self._who, self._json, self._test = book, who, json, test
        self._consent = consent
        self._lessons = lessons
        self._met = set()
        if book is not None:
            apprentice_name(who)
            self._met = {answer.topic for answer in answers_of(book, who)}
        self._given = None if answers is None else iter(_lines(answers))
        self._talks = sys.stdin is not None and sys.stdin.isatty() and answers is None and not json
        encoding = (getattr(sys.stdout, "encoding", None) or "ascii").lower()
        self._plain = not encoding.startswith("utf")
        self._marks: list[Mark] = []
        self._asked: list[tuple[Question, Mark | None]] = []

    def run(self, questions: Iterator[Question], count: int) -> None:
        """Ask until the questions or the answers end; every answer is kept as soon as it is marked."""
        from contactread.practice.present import mark_lines

        try:
            for number, question in enumerate(questions, 1):
                if not self._json:
                    self._show(question, number)
                mark = self._answer(question)
                self._asked.append((question, mark))
                if mark is None:
                    if self._json and self._given is None and self._test is not None:
                        continue  # a test without answers lists its questions
                    break
                if not self._json:
                    self._print(mark_lines(mark, self._plain))
                    self._pause()
        except KeyboardInterrupt:
            self._end(count, stopped=True)
            raise
        self._end(count, stopped=False)

    def _show(self, question: Question, number: int) -> None:
        from contactread.practice.marked_photo import marked_photo
        from contactread.practice.present import lesson_lines, question_lines
        from contactread.practice.question import PhotoPicture
        from contactread.practice.topics import TOPICS

        topic = TOPICS[question.topic]
        if self._lessons and topic.id not in self._met:
            known = {term for name in self._met for term in TOPICS[name].terms if name in TOPICS}
            self._print(lesson_lines(topic, known))
            self._pause()
            self._met.add(topic.id)
        self._print(question_lines(question, number, self._plain))
        for picture in question.pictures:
            if isinstance(picture, PhotoPicture) and picture.outline_px:
                try:
                    self._print([f"The tooth is marked in: {marked_photo(picture, question.id)}"])
                except OSError as error:  # the question says where the tooth lies, too
                    self._print([f"The tooth could not be marked in a copy: {error.strerror}."])

    def _answer(self, question: Question) -> Mark | None:
        """The mark of the next answer; None where answers have ended."""
        from contactread.practice.history import keep_answer
        from contactread.practice.marking import mark, unreadable_mark

        for turn in range(_TRIES if self._talks else 1):
            given = self._next(question)
            if given is None:
                return None
            try:
                marked = mark(question, given)
                break
            except PracticeError as error:
                if self._talks and turn + 1 < _TRIES:
                    say(f"{error.message} {error.next_step}")
                    continue
                marked = unreadable_mark(question, given, error)
        self._marks.append(marked)
        if self._book is not None:
            keep_answer(self._book, self._who, marked, self._test, self._consents(marked.topic))
        return marked

    def _consents(self, topic: str) -> bool:
        """Whether a marked photograph may be kept; asked once, where a person can be asked."""
        if topic == "photo" and self._consent is None and self._talks:
            said = self._typed(
                "May what you mark in photographs be kept by name, to measure how well people read? y/N "
            )
            self._consent = (said or "").strip().lower() in ("y", "yes")
        return bool(self._consent)

    def _pause(self) -> None:
        """Wait until a person has read what stands on the screen."""
        if self._talks:
            self._typed("Enter goes on. ")
        else:
            self._print(["", "-" * 79])

    def _typed(self, words: str) -> str | None:
        """One line from a person; None where it ended."""
        try:
            return input(words)
        except (EOFError, OSError, ValueError):
            return None

    def _next(self, question: Question) -> str | None:
        from contactread.practice.present import how_to_answer
        from contactread.practice.question import MarkPatch

        if self._given is not None:
            return next(self._given, None)
        if self._json or sys.stdin is None or sys.stdin.closed:
            return None
        if self._talks:
            drawn = None
            if isinstance(question.answer, MarkPatch):
                from contactread.cli.keys import draw_patch

                drawn = draw_patch(self._plain)
            return drawn or self._typed(how_to_answer(question))
        try:
            line = sys.stdin.readline()
        except (EOFError, OSError, ValueError):
            return None
        return line.rstrip("\r\n") if line else None

    def _end(self, count: int, stopped: bool) -> None:
        from contactread.practice.present import score_line, source_lines

        if self._json:
            print_json(self._as_json())
            return
        if self._marks:
            answered = [question for question, mark in self._asked if mark is not None]
            if not stopped:
                self._print([*source_lines(answered), ""])
            self._print([score_line(self._marks)])
        if self._book is not None and (stopped or len(self._marks) < count):
            kept = len(self._marks)
            say(f"{kept} answer{' is' if kept == 1 else 's are'} kept for {self._who}.")

    def _as_json(self) -> dict[str, Any]:
        from contactread.practice.draw_svg import pictures_json

        asked = [
            question.to_json()
            | {"pictures": pictures_json(question), "mark": None if mark is None else mark.to_json()}
            for question, mark in self._asked
        ]
        right = sum(mark.right for mark in self._marks)
        return {
            "schema": 1,
            "test": self._test,
            "questions": asked,
            "answered": len(self._marks),
            "right": right,
        }

    def _print(self, lines: list[str]) -> None:
        print("\n".join(lines), flush=True)


def _lines(answers: Path) -> list[str]:
    if str(answers) == "-":
        return [] if sys.stdin is None else sys.stdin.read(_MOST_BYTES).splitlines()
    try:
        return read_text(answers, _MOST_BYTES).splitlines()
    except Unfit as error:
        raise PracticeError(
            "answers-unreadable",
            f"The answers in {answers} can't be read: {error}.",
            "Give a text file in UTF-8 with one answer a line.",
        ) from error
