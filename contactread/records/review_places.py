"""The jobs and tries that a review's photos belong to: found in the book, or opened for them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from contactread.axle import ROLES
from contactread.axle_file import sound_axle_text
from contactread.errors import BookError, ContactreadError
from contactread.records.book import Book
from contactread.records.filing import Filed
from contactread.records.given_advice import is_outgrown
from contactread.records.jobs import find_job, open_job, refuse_closed
from contactread.records.nouns import Job, RecordedPhoto, Try
from contactread.records.photos import known_file
from contactread.records.rounds import Round
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


def find_places(
    book: Book, filed: list[Filed], who: str, axle_text: str | None, sure: bool = False
) -> list[Place]:
    """The place of each photo, in order. Everything is looked up before anything is opened. A photo of a job
    whose try isn't known yet stays unfiled for now; only the axle file that it is read by is looked up. sure:
    values that look like slips are right.

    Raises `BookError`: review-axle-missing (words name a job that must be opened, and no axle file was
    given), review-try-gap, review-shims, job-missing, job-closed, record-half, record-doubt;
    `AxleFileError`.
    """
    texts: dict[int | str, str | None] = {}
    jobs = {item.job: _find(book, item.job) for item in filed if item.job is not None}
    for name, job in jobs.items():
        items = [i for i in filed if i.job == name]
        text = _axle_text(items, axle_text)
        if job is None and text is None:
            raise BookError(
                "review-axle-missing",
                f"'{str(name)[:60]}' is no job of the book, and there is no axle file to open one by.",
                "Give the axle file with --axle, or put it into the job's folder. Nothing was read.",
            )
        texts[name] = text if job is None else job.axle_text
        numbered = [i for i in items if i.attempt is not None]
        if numbered:
            _refuse_gaps(job, numbered, tries_of(book, job.id, struck=True) if job else [])
    # Once without keeping it: what is refused in the middle leaves no job behind.
    with suppress(_Rehearsed), book.writing():
        _opened(book, filed, dict(jobs), texts, who, sure)
        raise _Rehearsed
    places = _opened(book, filed, jobs, texts, who, sure)
    return [
        places[item.job, item.attempt]
        if item.job is not None and item.attempt is not None
        else Place(None, None, None, axle_text if item.job is None else texts[item.job], item.who or who)
        for item in filed
    ]


class _Rehearsed(Exception):
    """Rolls back what was only tried."""


def _opened(
    book: Book, filed: list[Filed], jobs: dict[int | str, Job | None], texts: dict[int | str, str | None],
    who: str, sure: bool,
) -> dict[tuple[int | str, int], Place]:  # fmt: skip
    """The places of photos whose try is known; jobs and tries are opened where the book lacks them."""
    places: dict[tuple[int | str, int], Place] = {}
    keys = {(i.job, i.attempt) for i in filed if i.job is not None and i.attempt is not None}
    for key in sorted(keys, key=lambda i: i[1]):
        first = _first(filed, key)
        if jobs[key[0]] is None:
            jobs[key[0]] = open_job(
                book,
                vehicle=str(key[0]),
                axle_text=texts[key[0]] or "",
                who=first.who or who,
                when=first.when,
                sure=sure,
            )
        job = jobs[key[0]]
        assert job is not None
        attempt = _attempt(book, job, key[1], first, who, sure)
        places[key] = Place(job.id, attempt.number, attempt.id, job.axle_text, first.who or who)
    return places


def arrange(
    book: Book, rounds: Sequence[Round], who: str, axle_text: str | None
) -> dict[str, tuple[int, int]]:
    """File photos that were read, by the tries that a plan parts them into: SHA-256 -> job and try. Jobs and
    tries are opened for them, each job as one entry; a try's pinion shim stays unknown where nothing says it.
    A photo that has its try already stays there.

    Raises `BookError` as `find_places`.
    """
    filed: dict[str, tuple[int, int]] = {}
    for name, group in groupby(rounds, key=lambda each: each.job):
        parts = [(part, _loose(book, part)) for part in group if part.attempt is None]
        parts = [(part, photos) for part, photos in parts if photos]
        if name is None or not parts:
            continue
        job = _find(book, name)
        text = _axle_text([f for part, _ in parts for f in part.photos], axle_text)
        with book.writing(f"{sum(len(p) for _, p in parts)} photos filed under {name}", who=who):
            if job is None:
                job = open_job(
                    book, vehicle=str(name), axle_text=text or "", who=who, when=parts[0][0].taken, sure=True
                )
            refuse_closed(job)
            book.concerns(job.id)
            for part, photos in parts:
                attempt = start_try(
                    book, job.id, who=who, when=part.taken, sure=True, shims_unknown=True, as_before=False
                )
                for photo in photos:
                    book.update("photo", {"id": photo.id}, {"try_id": attempt.id})
                    filed[photo.sha256] = (job.id, attempt.number)
    return filed


def advise_all(book: Book, jobs: Iterable[int], who: str) -> None:
    """Advice on every try of jobs that has photos of both sides, and no advice yet or, on the newest, one
    that it has outgrown; where there can be none, none is kept."""
    from contactread.records.advising import advise_try

    for number in jobs:
        job = find_job(book, number)
        if job.sign_off is not None:
            continue
        tries = tries_of(book, number)
        for attempt in tries:
            sides = [attempt.reading_of(role) for role in ROLES]
            due = attempt.advice is None or is_outgrown(job, tries, attempt)
            if due and all(s is not None and "measured" in s.json for s in sides):
                with suppress(ContactreadError):
                    advise_try(book, number, attempt.number, who=who)


def _loose(book: Book, part: Round) -> list[RecordedPhoto]:
    """The photos of a planned try that the book keeps without a try."""
    known = (known_file(book, item.path) for item in part.photos)
    found = {photo.id: photo for photo in known if photo is not None}
    placed = "SELECT try_id FROM photo WHERE id = ?"
    return [photo for number, photo in found.items() if book.value(placed, number) is None]


def _axle_text(items: Sequence[Filed], otherwise: str | None) -> str | None:
    """The axle file that photos of one job bring, else the one given for all."""
    path = next((item.axle for item in items if item.axle is not None), None)
    return otherwise if path is None else sound_axle_text(path)


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
    known = {t.number for t in existing}  # numbers of tries that were moved away stay free
    wanted = {i.attempt for i in items if i.attempt is not None} - known
    if wanted and job is not None:
        refuse_closed(job)
    first = max(known, default=0) + 1
    missing = next((n for n in range(first, first + len(wanted)) if n not in wanted), None)
    if missing is not None:
        raise BookError(
            "review-try-gap",
            f"The photos of '{str(items[0].job)[:60]}' skip try {missing}.",
            "Number the tries 1, 2, 3, ... without a gap. Nothing was read.",
        )


def _attempt(book: Book, job: Job, number: int, first: Filed, who: str, sure: bool) -> Try:
    existing = {t.number: t for t in tries_of(book, job.id, struck=True)}
    if number in existing:
        attempt = existing[number]
        _refuse_other_shims(job, attempt, first)
    else:
        build: dict[str, Any] = dict(first.build)
        attempt = start_try(
            book,
            job.id,
            who=first.who or who,
            when=first.when,
            sure=sure,
            shims_unknown=True,
            as_before=False,
            **build,
        )
    if first.backlash_mm and not attempt.backlash_mm:
        attempt = record(book, job.id, number, who=first.who or who, backlash_mm=first.backlash_mm, sure=sure)
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
