"""Photos just read, filed into a job in one go."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from contactread.records.book import Book
from contactread.records.jobs import find_open_job, open_job_id
from contactread.records.nouns import Try
from contactread.records.photos import keep_photo
from contactread.records.tries import find_try, record, start_try, tries_of


def file_readings(
    book: Book,
    photos: Sequence[tuple[str, bytes, dict[str, Any]]],
    *,
    job_id: int | None = None,
    backlash_mm: Sequence[float] = (),
    sure: bool = False,
) -> Try:
    """Keep photos with their readings, and backlash, on a try: all of it as one entry, or nothing.

    photos: file name, bytes and reading (`measured.with_measured`, or a refusal) of each. job_id: the one
    open job without it. They go to its newest try; a job that has none gets its first.
    Raises `BookError` job-which, job-missing, job-closed, photo-in-another-try, record-half, record-value,
    record-doubt.
    """
    number = open_job_id(book) if job_id is None else job_id
    person = find_open_job(book, number).opened_by
    count = "1 photo" if len(photos) == 1 else f"{len(photos)} photos"
    with book.writing(f"{count} read into job {number}", who=person, job_id=number):
        if tries_of(book, number):
            attempt = find_try(book, number)
        else:
            attempt = start_try(book, number, who=person, sure=sure)
        for name, data, reading in photos:
            keep_photo(book, data, name=name, who=person, try_id=attempt.id, reading=reading)
        if backlash_mm:
            record(book, number, attempt.number, who=person, backlash_mm=backlash_mm, sure=sure)
    return find_try(book, number, attempt.number)
