"""Putting slips right: names and dates corrected, photos and tries moved, jobs merged, or struck out.

Nothing is lost by it: what stood there before stays as a correction, and every write can be undone.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.corrections import Correcting
from contactread.records.doubts import date_doubts, opening_doubts, refuse_doubts
from contactread.records.jobs import (
    find_job,
    find_open_job,
    job_words,
    keep_axle,
    kind_of,
    sha256_of,
    writer,
)
from contactread.records.nouns import Job, RecordedPhoto, Try
from contactread.records.photos import as_kept, place_of
from contactread.records.tries import find_try, next_number, tries_of
from contactread.records.words import line, moment


def correct_job(
    book: Book, job_id: int, *, who: str | None, reason: str = "", when: str | None = None,
    sure: bool = False, **given: str | None,
) -> Job:  # fmt: skip
    """Correct what was written about a job. given: any of vehicle, customer, mileage, gear_set, opened_by,
    shop, notes, condition; when: its date.

    Raises `BookError` record-half, record-value, record-doubt, job-missing, job-closed, job-struck.
    """
    job = find_open_job(book, job_id)
    values = job_words(given)
    if when is not None:
        values["opened_at"] = moment(when, book.clock())
        at = values["opened_at"]
        refuse_doubts([*date_doubts(at, book), *opening_doubts(at, tries_of(book, job_id))], sure)
    if not values:
        raise BookError(
            "record-half", "Nothing was given to correct.", "Give at least one value: see --help."
        )
    with _slip(book, job, f"job {job_id} corrected", who, reason) as note:
        for field, value in values.items():
            note(field, getattr(job, field) or None, value or None)
        book.update("job", {"id": job_id}, values)
    return find_job(book, job_id)


def replace_axle(book: Book, job_id: int, axle_text: str, *, who: str | None, reason: str = "") -> Job:
    """Give a job another axle file; advice given before keeps the one that it went by.

    Raises `AxleFileError`; `BookError` job-missing, job-closed, job-struck.
    """
    from contactread.axle_file import parse_axle

    axle = parse_axle(axle_text)
    job = find_open_job(book, job_id)
    with _slip(book, job, f"axle file of job {job_id} replaced", who, reason) as note:
        axle_id = keep_axle(book, axle_text, kind_of(axle))
        note("axle file", sha256_of(job.axle_text), sha256_of(axle_text))
        book.update("job", {"id": job_id}, {"axle_id": axle_id})
    return find_job(book, job_id)


def move_try(book: Book, job_id: int, number: int, to_job: int, *, who: str | None, reason: str = "") -> Try:
    """Move a try, with all that belongs to it, to the end of another job.

    Raises `BookError` job-missing, job-closed, job-struck, try-missing, record-value (the same job).
    """
    _refuse_same(job_id, to_job)
    job, other = find_open_job(book, job_id), find_open_job(book, to_job)
    attempt = find_try(book, job_id, number)
    what = f"try {number} of job {job_id} moved to job {to_job}"
    with _slip(book, job, what, writer(other, who), reason) as note:
        new = next_number(book, to_job)
        note("try", f"try {number}", f"job {to_job}, try {new}")
        there = Correcting(book, to_job, attempt.id, note.who, reason)
        there("try", f"job {job_id}, try {number}", f"try {new}")
        book.update("try", {"id": attempt.id}, {"job_id": to_job, "number": new})
    return find_try(book, to_job, new)


def merge_jobs(book: Book, job_id: int, into: int, *, who: str | None, reason: str = "") -> Job:
    """Move every try of a job to the end of another, and strike the job out. What the other job doesn't say
    of customer, mileage and gear set is taken over. Raises `BookError` as `move_try`."""
    _refuse_same(job_id, into)
    job, other = find_open_job(book, job_id), find_open_job(book, into)
    who = writer(other, who)
    with _slip(book, job, f"job {job_id} merged into job {into}", who, reason) as note:
        for attempt in tries_of(book, job_id, struck=True):
            move_try(book, job_id, attempt.number, into, who=who, reason=reason)
        more = {f: getattr(job, f) for f in ("customer", "mileage", "gear_set") if not getattr(other, f)}
        if any(more.values()):
            book.update("job", {"id": into}, more)
        note("job", f"job {job_id}", f"job {into}")
        Correcting(book, into, None, note.who, reason)("job", f"job {job_id}", f"job {into}")
        book.update("job", {"id": job_id}, {"struck": f"merged into job {into}"})
    return find_job(book, into)


def strike_job(book: Book, job_id: int, *, who: str | None, reason: str) -> Job:
    """Strike a job out: it is kept and shown, and counts no more. Raises `BookError` record-half,
    job-missing, job-closed, job-struck."""
    words = _required(reason)
    job = find_open_job(book, job_id)
    with _slip(book, job, f"job {job_id} struck out", who, words) as note:
        note("job", "counted", None)
        book.update("job", {"id": job_id}, {"struck": words})
    return find_job(book, job_id)


def strike_try(book: Book, job_id: int, number: int, *, who: str | None, reason: str) -> Try:
    """Strike a try out: it is kept and shown, and counts no more. Raises `BookError` as `strike_job`, and
    try-missing."""
    words = _required(reason)
    job = find_open_job(book, job_id)
    attempt = find_try(book, job_id, number)
    with _slip(book, job, f"try {number} of job {job_id} struck out", who, words, attempt.id) as note:
        note("try", f"try {number}", None)
        book.update("try", {"id": attempt.id}, {"struck": words})
    return find_try(book, job_id, number)


def move_photo(
    book: Book, photo_id: int, job_id: int, number: int | None = None, *, who: str | None, reason: str = ""
) -> RecordedPhoto:
    """Move a photo, with what was read from it, to a try (the newest, unless numbered) of a job.

    Raises `BookError` photo-missing, job-missing, job-closed, job-struck, try-missing.
    """
    photo = _photo(book, photo_id)
    attempt = find_try(book, job_id, number)
    before = place_of(book, photo["try_id"])
    job = find_open_job(book, job_id)
    left = find_open_job(book, before[0]) if before else job
    what = f"photo {photo_id} moved to job {job_id}, try {attempt.number}"
    with _slip(book, left, what, writer(job, who), reason, photo["try_id"]) as note:
        if before:
            here = f"photo {photo_id} ({photo['name']}) in job {before[0]}, try {before[1]}"
            note("photo", here, f"job {job_id}, try {attempt.number}")
        book.update("photo", {"id": photo_id}, {"try_id": attempt.id})
    return as_kept(book, photo["sha256"])


def strike_photo(book: Book, photo_id: int, *, who: str, reason: str) -> RecordedPhoto:
    """Strike a photo out: it is kept and shown, and counts no more. Raises `BookError` record-half,
    photo-missing, job-closed, job-struck."""
    words, photo = _required(reason), _photo(book, photo_id)
    who, place = line(who, "name of the person", required=True), place_of(book, photo["try_id"])
    if place is not None:
        find_open_job(book, place[0])
    with book.writing(f"photo {photo_id} struck out", who=who, job_id=place[0] if place else None):
        if place is not None:
            note = Correcting(book, place[0], photo["try_id"], who, words)
            note("photo", f"photo {photo_id} ({photo['name']})", None)
        book.update("photo", {"id": photo_id}, {"struck": words})
    return as_kept(book, photo["sha256"])


@contextmanager
def _slip(
    book: Book, job: Job, what: str, who: str | None, reason: str, try_id: int | None = None
) -> Iterator[Correcting]:
    """`writing`, with a note-taker for what is corrected on a job."""
    note = Correcting(book, job.id, try_id, writer(job, who), reason)
    with book.writing(what, who=note.who, job_id=job.id):
        yield note


def _required(reason: str) -> str:
    return line(reason, "reason", required=True)


def _photo(book: Book, photo_id: int) -> sqlite3.Row:
    row = book.row("SELECT * FROM photo WHERE id = ?", photo_id)
    if row is None:
        raise BookError(
            "photo-unknown",
            f"There is no photo {photo_id} in the shop book.",
            "The sheet of its job names each photo's number: 'contactread job sheet JOB'.",
        )
    return row


def _refuse_same(job_id: int, to_job: int) -> None:
    if job_id == to_job:
        raise BookError("record-value", "Both are the same job. Nothing was changed.", "Name another job.")
