"""What the page asks of the shop book: each a few lines, so that the page and the commands do the same."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, TypeVar

from starlette.concurrency import run_in_threadpool

from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.jobs import find_job
from contactread.records.nouns import Job, RecordedPhoto, Try
from contactread.records.photos import keep_photo, known_photo, readings_of
from contactread.records.sheet import Sheet, set_up_sheet
from contactread.records.tries import find_try, record, start_try, tries_of

P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True)
class JobView:
    """A job with its tries, oldest first, and the sheet of the newest."""

    job: Job
    tries: list[Try]
    sheet: Sheet


class Shop:
    """One shop book. Each call opens it anew, on a thread, so that others can write meanwhile."""

    def __init__(self, path: Path) -> None:
        self.path = path

    async def asked(
        self, question: Callable[Concatenate[Book, P], T], *values: P.args, **named: P.kwargs
    ) -> T:
        """What a function of the records room says: called with the book opened to read."""
        return await run_in_threadpool(self._with_book, False, lambda book: question(book, *values, **named))

    async def told(self, change: Callable[Concatenate[Book, P], T], *values: P.args, **named: P.kwargs) -> T:
        """As `asked`, with the book opened to write."""
        return await run_in_threadpool(self._with_book, True, lambda book: change(book, *values, **named))

    def _with_book(self, write: bool, do: Callable[[Book], T]) -> T:
        with Book(self.path, write=write) as book:
            return do(book)


def photo_file(book: Book, sha256: str) -> tuple[RecordedPhoto, Path]:
    """A photo of the book and where its original lies. Raises `BookError` photo-unknown."""
    photo = known_photo(book, sha256)
    if photo is None:
        raise BookError(
            "photo-unknown", "The shop book has no such photo.", "Go back and send the photo again."
        )
    return photo, book.photos.place(photo.sha256, photo.suffix)


def photos(book: Book, hashes: Sequence[str]) -> list[RecordedPhoto]:
    """Photos by their hashes. Raises `BookError` photo-unknown."""
    return [photo_file(book, sha256)[0] for sha256 in dict.fromkeys(hashes)]


def keep_reading(book: Book, sha256: str, who: str, reading: dict[str, Any]) -> RecordedPhoto:
    """Keep another reading of a photo; the earlier ones stay beside it."""
    photo, path = photo_file(book, sha256)
    return keep_photo(book, path.read_bytes(), name=photo.name, who=who, try_id=None, reading=reading)


def as_found(book: Book, sha256: str) -> dict[str, Any] | None:
    """The newest reading that nobody corrected."""
    return next((r for r in reversed(readings_of(book, sha256)) if "correction" not in r), None)


def job_view(book: Book, job_id: int) -> JobView:
    """A job as it stands. Raises `BookError` job-missing."""
    job = find_job(book, job_id)
    tries = tries_of(book, job_id)
    return JobView(job, tries, set_up_sheet(job, tries[-1] if tries else None))


def file_photos(
    book: Book,
    job_id: int,
    hashes: Sequence[str],
    backlash_mm: Sequence[float],
    who: str,
    build: dict[str, Any],
    sure: bool = False,
) -> Try:
    """Put loose photos and a backlash into a job's try, and start that try where there is none open.

    Photos that are all in one try already stay there. build: shims or notches as fitted, for a try that is
    started. sure: values that look like slips are right. All of it or nothing, so that of two phones that
    send the same photos, the second finds the try of the first.
    """
    with book.writing(f"{len(hashes)} photos filed", who=who, job_id=job_id):
        tries = tries_of(book, job_id)
        attempt = next((t for t in tries if set(hashes) <= {p.sha256 for p in t.photos}), None)
        if attempt is None:
            newest = tries[-1] if tries else None
            if newest is None or newest.advice is not None:
                attempt = start_try(book, job_id, who=who, sure=sure, shims_unknown=True, **build)
            else:
                attempt = newest
        for sha256 in hashes:
            if sha256 not in {p.sha256 for p in attempt.photos}:
                photo, path = photo_file(book, sha256)
                keep_photo(book, path.read_bytes(), name=photo.name, who=who, try_id=attempt.id, reading=None)
        if backlash_mm and tuple(backlash_mm) != attempt.backlash_mm:
            record(book, job_id, attempt.number, who=who, backlash_mm=backlash_mm, sure=sure)
        return find_try(book, job_id, attempt.number)


def read_of(photos: Sequence[RecordedPhoto]) -> list[dict[str, Any]]:
    """The readings of photos, but for those that were refused or aren't read yet."""
    return [photo.reading.json for photo in photos if photo.reading and photo.reading.status == "read"]


def counting(attempt: Try) -> list[RecordedPhoto]:
    """The photos of a try without those that were struck out."""
    return [photo for photo in attempt.photos if photo.struck is None]
