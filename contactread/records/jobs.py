"""Opening, finding and listing jobs."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Mapping
from typing import Any

from contactread.axle import Axle
from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.doubts import date_doubts, refuse_doubts
from contactread.records.moments import day
from contactread.records.nouns import Condition, Job, Reopening, SignOff
from contactread.records.rows import noun_of
from contactread.records.words import line, moment, paragraph

_SELECT = """
    SELECT job.*, axle.kind, axle.text AS axle_text, outcome, signed_by, signed_at, reason, left_open,
        try.number AS final_try
    FROM job JOIN axle ON axle.id = job.axle_id
    LEFT JOIN sign_off ON sign_off.job_id = job.id
    LEFT JOIN try ON try.id = sign_off.final_try_id
"""

_LINES = {
    "vehicle": "vehicle or unit", "customer": "customer", "mileage": "mileage", "gear_set": "gear set",
    "opened_by": "name of the person", "shop": "shop",
}  # fmt: skip
_REQUIRED = ("vehicle", "opened_by")
UNKNOWN_GEARS = "axle of unknown gears"  # of which nothing can be said together: they are of any kind


def kind_of(axle: Axle) -> str:
    """The name under which jobs on the same kind of axle are grouped: its own, else what defines it."""
    gears = axle.gears
    if named := line(axle.name, "axle's name"):
        return named
    if gears.supposed:
        return UNKNOWN_GEARS
    return f"{gears.pinion_teeth}/{gears.ring_teeth} teeth, {gears.ring_diameter_mm:.0f} mm ring gear"


def open_job(
    book: Book,
    *,
    vehicle: str,
    axle_text: str,
    who: str,
    gear_set: str = "",
    condition: Condition | None = None,
    when: str | None = None,
    notes: str = "",
    customer: str = "",
    mileage: str = "",
    shop: str = "",
    sure: bool = False,
) -> Job:
    """Take an axle in hand. condition: of the gear set; None takes the axle file's word. sure: an odd date
    is right.

    Raises `AxleFileError` for an unusable axle file; `BookError` record-half, record-value, record-doubt.
    """
    from contactread.axle_file import parse_axle

    axle = parse_axle(axle_text)
    opened_at = moment(when, book.clock())
    refuse_doubts(date_doubts(opened_at, book), sure)
    words = job_words({
        "vehicle": vehicle, "gear_set": gear_set, "condition": condition or axle.gears.condition,
        "opened_by": who, "notes": notes, "customer": customer, "mileage": mileage, "shop": shop,
    })  # fmt: skip
    values = words | {"opened_at": opened_at}
    with book.writing(f"job opened: {values['vehicle']}", who=values["opened_by"]):
        axle_id = keep_axle(book, axle_text, kind_of(axle))
        job_id = book.insert("job", values | {"axle_id": axle_id})
        book.concerns(job_id)
    return find_job(book, job_id)


def job_words(given: Mapping[str, str | None]) -> dict[str, str]:
    """What is written about a job, made safe to store; None is left out. Raises `BookError` record-half,
    record-value.
    """
    values: dict[str, str] = {}
    for field, text in given.items():
        if text is None:
            continue
        if field in _LINES:
            values[field] = line(text, _LINES[field], required=field in _REQUIRED)
        elif field == "condition" and text in ("new", "used"):
            values[field] = text
        elif field == "notes":
            values[field] = paragraph(text, "notes")
        else:
            raise TypeError(f"a job has no field {field} = {text!r}")
    return values


def find_job(book: Book, job_id: int) -> Job:
    """The job with this number. Raises `BookError` job-missing."""
    row = book.row(f"{_SELECT} WHERE job.id = ?", job_id)
    if row is None:
        raise BookError(
            "job-missing",
            f"There is no job {job_id} in the shop book {book.path}.",
            "List the jobs with 'contactread job list'.",
        )
    return _job(book, row)


def find_open_job(book: Book, job_id: int) -> Job:
    """The job with this number, still to be written in. Raises `BookError` job-missing, job-closed,
    job-struck."""
    job = find_job(book, job_id)
    refuse_closed(job)
    return job


def list_jobs(book: Book, *, open_only: bool = False, most: int = 50) -> list[Job]:
    """Jobs, newest first."""
    where = "WHERE sign_off.job_id IS NULL AND job.struck IS NULL" if open_only else ""
    return [_job(book, row) for row in book.rows(f"{_SELECT} {where} ORDER BY job.id DESC LIMIT ?", most)]


def open_job_id(book: Book) -> int:
    """The number of the one open job. Raises `BookError` job-which where there is none, or several."""
    numbers = [job.id for job in list_jobs(book, open_only=True, most=6)]
    if len(numbers) == 1:
        return numbers[0]
    several = f"Several jobs are open: {', '.join(map(str, numbers[:5]))}{', ...' if numbers[5:] else ''}."
    raise BookError(
        "job-which",
        several if numbers else "No job is open.",
        "Give the job's number." if numbers else "Open one with 'contactread job open', or give a number.",
    )


def sha256_of(text: str) -> str:
    """By which an axle file is known."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def keep_axle(book: Book, text: str, kind: str) -> int:
    """The row of an axle file inside `writing()`; equal files share one."""
    sha256 = sha256_of(text)
    known = book.value("SELECT id FROM axle WHERE sha256 = ?", sha256)
    if known is not None:
        return int(known)
    return book.insert("axle", {"sha256": sha256, "text": text, "kind": kind})


def writer(job: Job, who: str | None) -> str:
    """Who writes about a job: as named, else the person who opened it. Raises `BookError` record-half."""
    return line(job.opened_by if who is None else who, "name of the person", required=True)


def refuse_closed(job: Job) -> None:
    """Raise `BookError` job-closed for a job that was signed off, job-struck for one that was struck out."""
    if job.struck is not None:
        raise BookError(
            "job-struck",
            f"Job {job.id} was struck out: {job.struck}. Nothing was changed.",
            "Take that back with 'contactread undo', or work on another job.",
        )
    if job.sign_off is not None:
        raise BookError(
            "job-closed",
            f"Job {job.id} was signed off by {job.sign_off.signed_by} on {day(job.sign_off.signed_at)}. "
            "Nothing was changed.",
            f"Reopen it with 'contactread job reopen {job.id} --reason WORDS', or open a new job if the axle "
            "came back.",
        )


def _job(book: Book, row: sqlite3.Row) -> Job:
    sign_off = None
    if row["outcome"] is not None:
        lines = book.rows("SELECT item, words FROM check_list WHERE job_id = ? ORDER BY item", row["id"])
        confirmed = {entry["item"]: entry["words"] for entry in lines}
        sign_off = noun_of(SignOff, row, left_open=tuple(json.loads(row["left_open"])), confirmed=confirmed)
    again = book.rows("SELECT * FROM reopening WHERE job_id = ? ORDER BY id", row["id"])
    reopened = tuple(noun_of(Reopening, each, signed=signed_of(json.loads(each["signed"]))) for each in again)
    return noun_of(Job, row, sign_off=sign_off, reopened=reopened)


def signed_of(data: dict[str, Any]) -> SignOff:
    """A sign-off from its JSON; what `asdict` made of it."""
    return SignOff(**data | {"left_open": tuple(data["left_open"])})
