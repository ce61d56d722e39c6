"""How long each question takes on a large book, beside the bare SQL of the same question.

``python calibration/shop_book/question_speed.py BOOK [--rounds 40]`` on a book from make_book.py. First
proves that both give the same rows. Prints the median and the 95th percentile of each, and their ratio.
Promise: a question's 95th percentile is under 50 ms, or within twice the bare SQL's.
"""

from __future__ import annotations

import argparse
import random
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from time import perf_counter
from typing import Any

from contactread.records import questions
from contactread.records.book import Book

PROMISE_S, PROMISE_RATIO = 0.050, 2.0
WORDS = ("loader 12", "whine", "too-blurred", "ana 2021", "img_0001", "set 100", "acceptable", "drive")
WALK = """
    SELECT try.number, pinion_shim_mm, try.*, reading.side, centre_u, centre_v FROM try
    LEFT JOIN photo ON photo.try_id = try.id LEFT JOIN reading ON reading.photo_id = photo.id
    WHERE job_id = ?
"""


def cases(
    book: Book, bare: sqlite3.Connection, jobs: int
) -> dict[str, tuple[Callable[[int], Any], Callable[[int], Any]]]:
    """Question -> (as the program asks it, as bare SQL); each takes the number of the round."""
    chance = random.Random(3)
    numbers = [chance.randint(1, jobs) for _ in range(1000)]

    def sql(text: str, *values: Any, **named: Any) -> Callable[[int], Any]:
        return lambda _: bare.execute(text, named or values).fetchall()

    def tries_sql(period: str, by_person: bool) -> Callable[[int], Any]:
        return sql(questions.tries_sql(period, by_person), "", "9999")

    return {
        "walk": (
            lambda i: questions.walk(book, numbers[i]),
            lambda i: bare.execute(WALK, (numbers[i],)).fetchall(),
        ),
        "tries by month": (
            lambda _: questions.tries_per_job(book, by_person=False), tries_sql("month", False),
        ),
        "tries by year and person": (
            lambda _: questions.tries_per_job(book, period="year", by_person=True),
            tries_sql("year", True),
        ),
        "shims": (lambda _: questions.start_shims(book), sql(questions.statement("shims"))),
        "refusals": (lambda _: questions.refusals(book), sql(questions.statement("refusals"))),
        "refused photos": (
            lambda _: questions.refused_photos(book), sql(questions.statement("refused"), 100),
        ),
        "runout": (
            lambda _: questions.runout_hints(book),
            sql(questions.statement("runout"), **questions.RUNOUT_LIMITS, most=100),
        ),
        "verdicts": (
            lambda _: questions.verdicts(book),
            sql(questions.verdicts_sql(None), most=50),
        ),
        "search": (
            lambda i: questions.search(book, WORDS[i % len(WORDS)]),
            lambda i: bare.execute(
                questions.statement("search"), (_match(WORDS[i % len(WORDS)]), 100)
            ).fetchall(),
        ),
    }  # fmt: skip


def _match(words: str) -> str:
    import re

    return " ".join(f'"{word}"*' for word in re.findall(r"\w+", words))


def _prove_equal(name: str, answer: questions.Answer, rows: list[tuple[Any, ...]]) -> None:
    if name == "walk":  # one row a try, against one a reading
        assert {row[0]: row[3] for row in answer.rows} == {row[0]: row[1] for row in rows}
    elif name == "verdicts":  # one row a job, against one a try
        assert [row[0] for row in answer.rows] == list(dict.fromkeys(row[0] for row in rows))
    elif name == "shims":  # the median comes from the histogram
        assert sum(row[1] for row in answer.rows) == sum(row[2] for row in rows)
    elif name == "tries by month":  # without the empty column of persons
        assert [row[:1] + row[2:] for row in rows] == list(answer.rows)
    else:
        assert rows == list(answer.rows), name


def percentile(times: list[float], share: float) -> float:
    return sorted(times)[min(len(times) - 1, int(share * len(times)))]


def prove(path: Path) -> None:
    """Every question gives the rows of its bare SQL."""
    with Book(path) as book, closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as bare:
        jobs = book.value("SELECT count(*) FROM job")
        for name, (ask, ask_bare) in cases(book, bare, jobs).items():
            _prove_equal(name, ask(0), ask_bare(0))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("book", type=Path)
    parser.add_argument("--rounds", type=int, default=40)
    given = parser.parse_args()
    kept = True
    with Book(given.book) as book, closing(sqlite3.connect(f"file:{given.book}?mode=ro", uri=True)) as bare:
        jobs = book.value("SELECT count(*) FROM job")
        readings = book.value("SELECT count(*) FROM reading")
        print(f"{jobs} jobs, {readings} readings, {given.rounds} rounds; milliseconds")
        print(f"{'question':<26}{'rows':>6}{'p50':>9}{'p95':>9}{'bare p50':>10}{'bare p95':>10}{'ratio':>7}")
        for name, (ask, ask_bare) in cases(book, bare, jobs).items():
            answer, rows = ask(0), ask_bare(0)
            _prove_equal(name, answer, rows)
            ours: list[float] = []
            theirs: list[float] = []
            for turn in range(given.rounds):
                for times, call in ((ours, ask), (theirs, ask_bare)):
                    begin = perf_counter()
                    call(turn)
                    times.append(perf_counter() - begin)
            p95, bare95 = percentile(ours, 0.95), percentile(theirs, 0.95)
            ok = p95 < PROMISE_S or p95 < PROMISE_RATIO * bare95
            kept &= ok
            figures = [1000 * x for x in (percentile(ours, 0.5), p95, percentile(theirs, 0.5), bare95)]
            print(
                f"{name:<26}{len(answer.rows):>6}{figures[0]:>9.1f}{figures[1]:>9.1f}{figures[2]:>10.1f}"
                f"{figures[3]:>10.1f}{p95 / bare95:>7.2f}{'' if ok else '  PROMISE BROKEN'}"
            )
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
