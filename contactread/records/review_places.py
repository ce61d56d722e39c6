"""The jobs and tries that a review's photos belong to: found in the book, or opened for them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from contactread.axle_file import parse_axle
from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.filing import Filed
from contactread.records.jobs import find_job, open_job, refuse_closed
from contactread.records.nouns import Job, Try
from contactread.records.tries import record, start_try, tries_of
from contactread.records.words import line


@dataclass(frozen=True)
class Place:
    """Where a photo goes. All None for one that stays unfiled; axle_text still says how to read it."""

    job: int | None
    attempt: int | None
    try_id: int | None
    axle_text: str | None
    who: str


def find_places(book: Book, filed: list[Filed], who: str, axle_text: str | None) -> list[Place]:
    """The place of each photo, in order. Everything is looked up before anything is opened.

    Raises `BookError`: review-axle-missing (words name a job that must be opened, and no axle file was
    given), review-try-gap, review-shim-missing, review-shims, job-missing, job-closed, record-half.
    """
    jobs = {item.job: _find(book, item.job) for item in filed if item.job is not None}
    for name, job in jobs.items():
        if job is None and axle_text is None:
            raise BookError(
                "review-axle-missing",
                f"'{str(name)[:60]}' is no job of the book, and there is no axle file to open one by.",
                "Give the axle file with --axle. Nothing was read.",
            )
        _refuse_gaps(job, [i for i in filed if i.job == name], tries_of(book, job.id) if job else [])
        _refuse_unknown_shim(job, [i for i in filed if i.job == name], axle_text)
    places: dict[tuple[int | str, int], Place] = {}
    for item in sorted(_with_job(filed), key=lambda i: i[1]):
        key, first = item, _first(filed, item)
        if jobs[key[0]] is None:
            jobs[key[0]] = open_job(
                book, vehicle=str(key[0]), axle_text=axle_text or "", who=first.who or who, when=first.when
            )
        job = jobs[key[0]]
        assert job is not None
        attempt = _attempt(book, job, key[1], first, who)
        places[key] = Place(job.id, attempt.number, attempt.id, job.axle_text, first.who or who)
    loose = Place(None, None, None, axle_text, who)
    return [
        places[item.job, item.attempt] if item.job is not None and item.attempt is not None else loose
        for item in filed
    ]


def _with_job(filed: Iterable[Filed]) -> set[tuple[int | str, int]]:
    return {(i.job, i.attempt) for i in filed if i.job is not None and i.attempt is not None}


def _first(filed: Iterable[Filed], key: tuple[int | str, int]) -> Filed:
    """The photo of a try that says most about it."""
    same = [i for i in filed if (i.job, i.attempt) == key]
    return max(same, key=lambda i: len(i.build) + bool(i.backlash_mm) + bool(i.who) + bool(i.when))


def _find(book: Book, name: int | str) -> Job | None:
    """A job by number; by words, the newest with that vehicle, so that a review can be carried on."""
    if isinstance(name, int):
        return find_job(book, name)
    vehicle = line(name, "vehicle or unit", required=True)
    number = book.value("SELECT max(id) FROM job WHERE vehicle = ?", vehicle)
    return None if number is None else find_job(book, number)


def _refuse_gaps(job: Job | None, items: list[Filed], existing: list[Try]) -> None:
    wanted = sorted({i.attempt for i in items if i.attempt is not None} | {t.number for t in existing})
    if len(wanted) > len(existing) and job is not None:
        refuse_closed(job)
    if wanted != list(range(1, len(wanted) + 1)):
        missing = next(n for n in range(1, len(wanted) + 2) if n not in wanted)
        raise BookError(
            "review-try-gap",
            f"The photos of '{str(items[0].job)[:60]}' skip try {missing}.",
            "Number the tries 1, 2, 3, ... without a gap. Nothing was read.",
        )


def _refuse_unknown_shim(job: Job | None, items: list[Filed], axle_text: str | None) -> None:
    """A first try must know its pinion shim; found out before a job is opened for it."""
    first = [i for i in items if i.attempt == 1]
    if not first or any("pinion_shim_mm" in i.build for i in first):
        return
    axle = job.axle if job is not None else parse_axle(axle_text or "")
    if axle.pinion_shim.thickness_mm is None:
        raise BookError(
            "review-shim-missing",
            f"Nothing says which pinion shim '{str(items[0].job)[:60]}' began with.",
            "Write thickness into [pinion_shim] of the axle file, or give a manifest with the column "
            "pinion_shim. Nothing was read.",
        )


def _attempt(book: Book, job: Job, number: int, first: Filed, who: str) -> Try:
    existing = {t.number: t for t in tries_of(book, job.id)}
    if number in existing:
        attempt = existing[number]
        _refuse_other_shims(job, attempt, first)
    else:
        build: dict[str, Any] = dict(first.build)
        attempt = start_try(book, job.id, who=first.who or who, when=first.when, **build)
    if first.backlash_mm and not attempt.backlash_mm:
        attempt = record(book, job.id, number, who=first.who or who, backlash_mm=first.backlash_mm)
    return attempt


def _refuse_other_shims(job: Job, attempt: Try, first: Filed) -> None:
    for name, value in first.build.items():
        recorded = getattr(attempt, name)
        if recorded is None or abs(recorded - value) > 5e-4:
            raise BookError(
                "review-shims",
                f"The manifest and the book disagree on the shims of job {job.id}, try {attempt.number}.",
                "Correct the manifest, or leave its shims empty. Nothing was read.",
            )
