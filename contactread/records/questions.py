"""Questions a shop asks of its book. Each is one SQL statement, and gives one plain table."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from pathlib import Path
from statistics import median
from typing import Any

from contactread.advice.faults import SCATTER_LIMIT, WAVE_LIMIT
from contactread.axle import ROLES
from contactread.belief.targets import Target, target_for
from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.jobs import UNKNOWN_GEARS, find_job
from contactread.records.tries import tries_of

Cell = str | int | float | None


@dataclass(frozen=True)
class Answer:
    """A table. columns: names with their unit (``_mm``); rows: as many cells each: words, numbers, None."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]

    def records(self) -> list[dict[str, Any]]:
        """The rows as objects, by column."""
        return [dict(zip(self.columns, row, strict=True)) for row in self.rows]


# The newest reading of each photo counts.
_NEWEST = "reading.id = (SELECT max(id) FROM reading AS newer WHERE newer.photo_id = reading.photo_id)"

PERIODS = {"month": "substr(signed_at, 1, 7)", "year": "substr(signed_at, 1, 4)", "all": "'all'"}


@cache
def _statements() -> dict[str, str]:
    text = Path(__file__).with_suffix(".sql").read_text(encoding="utf-8")
    return dict(re.findall(r"^-- (\w+)\n(.+?)(?=\n\n|\Z)", text, re.MULTILINE | re.DOTALL))


def statement(name: str, **put_in: str) -> str:
    """A statement of `questions.sql`. put_in: what stands in the place of its braces."""
    return _statements()[name].format(newest=_NEWEST, **put_in)


def tries_sql(period: str, by_person: bool) -> str:
    """The statement of `tries_per_job`."""
    person, job = ("opened_by", "JOIN job ON job.id = sign_off.job_id") if by_person else ("''", "")
    return statement("tries", period=PERIODS[period], person=person, job=job)


# Of the pattern's centre, as advice judges it; of the backlash, from which runout is checked (B15: 0.002 in).
RUNOUT_LIMITS = {
    "length": SCATTER_LIMIT[0], "height": SCATTER_LIMIT[1], "swing_length": WAVE_LIMIT[0],
    "swing_height": WAVE_LIMIT[1], "backlash": 0.051,
}  # fmt: skip


def walk(book: Book, job_id: int) -> Answer:
    """How a job walked to its pattern, try by try. Raises `BookError` job-missing."""
    job = find_job(book, job_id)
    rows: list[tuple[Cell, ...]] = []
    for attempt in tries_of(book, job_id):
        places: list[float | None] = []
        for role in ROLES:
            reading = attempt.reading_of(role)
            places += (None, None) if reading is None or reading.centre is None else reading.centre
        backlash = attempt.backlash_mm
        rows.append((
            attempt.number, attempt.made_at, attempt.made_by, attempt.pinion_shim_mm,
            attempt.ring_side_shim_mm, attempt.opposite_side_shim_mm, attempt.ring_side_notches,
            attempt.opposite_side_notches, sum(backlash) / len(backlash) if backlash else None,
            max(backlash) - min(backlash) if len(backlash) > 1 else None, *places,
            attempt.advice.verdict if attempt.advice else None,
        ))  # fmt: skip
    columns = (
        "try", "made_at", "person", "pinion_shim_mm", "ring_side_shim_mm", "opposite_side_shim_mm",
        "ring_side_notches", "opposite_side_notches", "backlash_mean_mm", "backlash_spread_mm",
        "drive_u", "drive_v", "coast_u", "coast_v", "advice",
    )  # fmt: skip
    return Answer(f"Job {job.id}, {job.vehicle}: the walk to its pattern", columns, tuple(rows))


def verdicts_sql(jobs: Sequence[int] | None) -> str:
    """The statement of `verdicts`: a row for each try of each job."""
    centres = [
        f"(SELECT centre_{axis} FROM reading JOIN photo ON photo.id = photo_id "
        f"WHERE photo.try_id = try.id AND photo.struck IS NULL AND side = '{side}' AND {_NEWEST} "
        f"ORDER BY confidence DESC LIMIT 1) AS {side}_{axis}"
        for side in ROLES
        for axis in ("u", "v")
    ]
    chosen = "1" if jobs is None else f"id IN ({', '.join(str(int(job)) for job in jobs) or 'NULL'})"
    return statement("verdicts", chosen=chosen, centres=", ".join(centres))


def verdicts(book: Book, *, jobs: Sequence[int] | None = None, most: int = 50) -> Answer:
    """Each job in one row, newest first: its last verdict, whether its patterns came nearer to where they
    should be from the first try to the last, and what was changed on the way. jobs: only these."""
    _, rows = book.table(verdicts_sql(jobs), {"most": most if jobs is None else max(1, len(jobs))})
    targets: dict[int, Target] = {}
    answer = []
    for (job, opened_at, vehicle, axle_id), group in groupby(rows, key=lambda row: row[:4]):
        tries = [row for row in group if row[4] is not None]
        if axle_id not in targets:
            targets[axle_id] = target_for(find_job(book, job).axle)
        off = [distance for row in tries if (distance := _off(row[10:14], targets[axle_id])) is not None]
        verdict = next((row[9] for row in reversed(tries) if row[9]), None)
        closed = {"done": "signed off", "stopped": "stopped"}.get(tries[-1][8] or "") if tries else None
        words = ", ".join(word for word in (verdict and verdict.replace("_", " "), closed) if word)
        trend = (
            None if not off else f"{off[0]:.0%}" if len(off) == 1 else f"{off[0]:.0%} to {off[-1]:.0%} off"
        )
        answer.append((job, opened_at, vehicle, len(tries), words or None, trend, _changes(tries)))
    columns = ("job", "opened_at", "vehicle", "tries", "verdict", "trend", "changed")
    return Answer("Each job's verdict, trend and what was changed", columns, tuple(answer))


def _off(centres: Sequence[float | None], target: Target) -> float | None:
    """How far the centres of both sides lie from where they are wanted, in the root mean square."""
    wanted = (*target.drive.aim, *target.coast.aim)
    found = [(c - w) ** 2 for c, w in zip(centres, wanted, strict=True) if c is not None]
    return math.sqrt(sum(found) / len(found)) if found else None


def _changes(tries: Sequence[tuple[Any, ...]]) -> str | None:
    """What the last try was built with otherwise than the first."""
    if len(tries) < 2:
        return None
    first, last = tries[0], tries[-1]
    words = []
    for place, name, unit in ((5, "pinion", " mm"), (6, "ring", " mm"), (7, "ring", " notches")):
        if first[place] is not None and last[place] is not None and abs(last[place] - first[place]) > 1e-9:
            step = last[place] - first[place]
            words.append(f"{name} {step:+.2f}{unit}" if unit == " mm" else f"{name} {step:+g}{unit}")
    return ", ".join(words) or "nothing"


def tries_per_job(
    book: Book, *, period: str = "month", by_person: bool = False, since: str = "", until: str = "9999"
) -> Answer:
    """Tries that signed-off jobs took, over time and, where wanted, for each person who opened them."""
    sql = tries_sql(period, by_person)
    answer = _ask(book, "Tries for each job that was signed off", sql, since, until)
    if by_person:
        return answer
    columns = answer.columns[:1] + answer.columns[2:]
    return Answer(answer.title, columns, tuple(row[:1] + row[2:] for row in answer.rows))


def start_shims(book: Book) -> Answer:
    """Start shim against final shim for each kind of axle, the commonest first; axles of unknown gears are of
    no one kind."""
    _, bins = book.table(statement("shims"), ())
    rows: list[tuple[Any, ...]] = [
        _shims_of(kind, list(group))
        for kind, group in groupby(bins, key=lambda row: row[0])
        if kind != UNKNOWN_GEARS
    ]
    columns = (
        "axle", "jobs", "start_mean_mm", "final_mean_mm", "change_mean_mm", "final_median_mm",
        "final_least_mm", "final_most_mm", "tries_per_job",
    )  # fmt: skip
    title = "Pinion shim at the start and at the end of jobs that were signed off, for each kind of axle"
    return Answer(title, columns, tuple(sorted(rows, key=lambda row: (-row[1], row[0]))))


def refusals(book: Book) -> Answer:
    """Why photos were refused, counted."""
    return _ask(book, "Why photos were refused", statement("refusals"))


def refused_photos(book: Book, most: int = 100) -> Answer:
    """The photos that were refused, newest first."""
    return _ask(book, "Photos that were refused", statement("refused"), most)


def runout_hints(book: Book, most: int = 100, **limits: float) -> Answer:
    """Tries whose spread hints at runout, newest first. limits: any of `RUNOUT_LIMITS`, changed."""
    named = RUNOUT_LIMITS | limits
    return _ask(book, "Tries whose spread hints at runout", statement("runout"), **named, most=most)


def search(book: Book, words: str, most: int = 100) -> Answer:
    """Jobs, tries, photos, readings and sign-offs in which every word, or its beginning, is found.

    Raises `BookError` search-words where there is nothing to look for.
    """
    found = re.findall(r"\w+", words)
    if not found:
        raise BookError("search-words", "There is no word to look for.", "Give one or more words.")
    match = " ".join(f'"{word}"*' for word in found[:20])
    return _ask(book, f"Found: {words[:60]}", statement("search"), match, most)


def _ask(book: Book, title: str, sql: str, *values: Cell, **named: Cell) -> Answer:
    columns, rows = book.table(sql, named or values)
    return Answer(title, columns, rows)


def _shims_of(kind: str, bins: Sequence[tuple[Any, float, int, float, int]]) -> tuple[Any, ...]:
    """One row of `start_shims` from a kind's histogram, ordered by final shim."""
    jobs = sum(count for _, _, count, _, _ in bins)
    start = sum(total for _, _, _, total, _ in bins) / jobs
    final = sum(shim * count for _, shim, count, _, _ in bins) / jobs
    middle = median(shim for _, shim, count, _, _ in bins for _ in range(count))
    tries = sum(number for _, _, _, _, number in bins) / jobs
    return kind, jobs, start, final, final - start, middle, bins[0][1], bins[-1][1], tries
