"""What all pages share: the book, the workers, the pairing; photos taken in; errors with their status."""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request

from contactread.errors import ContactreadError, DamagedBookError, MissingExtraError, coded
from contactread.plausible import parse_places
from contactread.records.jobs import find_job
from contactread.records.nouns import RecordedPhoto
from contactread.records.photos import keep_photo, known_photo
from contactread.web import shop as asked
from contactread.web.given import number_of, photo_hashes
from contactread.web.pairing import Pairing, Session
from contactread.web.shop import Shop
from contactread.web.workers import LATER, NOW, SOON, Workers

READ_S, ANSWER_S, QUICK_S = 60.0, 60.0, 20.0
MOST_IN_FLIGHT = 600_000_000  # bytes of photos that are coming in at one time
_STATUS = {
    "photo-unknown": 404, "job-missing": 404, "try-missing": 404, "page-missing": 404,
    "guide-page-missing": 404,
    "question-unknown": 404, "job-closed": 409, "photo-in-another-try": 409, "book-locked": 503,
    "too-busy": 503, "stopping": 503, "work-too-long": 504, "book-disk-full": 507, "disk-low": 507,
    "work-ended": 500, "fault": 500, "body-too-long": 413, "too-slow": 408, "too-often": 429,
    "not-paired": 401, "host-foreign": 403, "cross-site": 403,
}  # fmt: skip


def status_of(error: ContactreadError) -> int:
    """The HTTP status that goes with an error."""
    if isinstance(error, DamagedBookError):
        return 500
    return _STATUS.get(error.code, 422)


@dataclass
class Site:
    """One running page. addresses: (address to open, why) best first. axle_text: of the usual axle.

    narrow: the way past the book for photos that come in. Twenty phones send forty at once; on as many
    threads they would hold up every page that somebody looks at meanwhile.
    """

    shop: Shop
    workers: Workers
    pairing: Pairing
    cookie: str
    addresses: list[tuple[str, str]]
    axle_text: str | None = None
    reading: dict[str, asyncio.Task[RecordedPhoto]] = field(default_factory=dict)
    in_flight: int = 0
    narrow: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(2))

    async def axle_for(self, job_id: int | None) -> str | None:
        """The axle file's text of a job, or the usual one. Raises `BookError` job-missing."""
        if job_id is None:
            return self.axle_text
        return (await self.shop.asked(find_job, job_id)).axle_text

    async def take(self, data: bytes, name: str, who: str, axle_text: str | None) -> RecordedPhoto:
        """Read a photo and keep it, loose. One that the book holds with its reading is only looked up;
        one that is being read already is waited for. Raises PhotoError for what isn't a photo.
        """
        async with self.narrow:
            sha256 = (await run_in_threadpool(hashlib.sha256, data)).hexdigest()
            known = await self.shop.asked(known_photo, sha256)
        if known is not None and known.reading is not None:
            return known
        task = self.reading.get(sha256)
        if task is None:
            task = asyncio.create_task(self._read(data, sha256, name, who, axle_text))
            self.reading[sha256] = task
            task.add_done_callback(lambda _: self.reading.pop(sha256, None))
        return await asyncio.shield(task)

    async def _read(
        self, data: bytes, sha256: str, name: str, who: str, axle_text: str | None
    ) -> RecordedPhoto:
        try:
            reading = await self.workers.run(
                "read_bytes", data, name, axle_text, None, seconds=READ_S, near=sha256, urgency=LATER
            )
        except MissingExtraError as error:  # who holds a phone can't install it
            raise ContactreadError(
                error.code, error.message, "Have the phone's camera save JPEG, then take the photo again."
            ) from error
        async with self.narrow:
            return await self.shop.told(keep_photo, data, name=name, who=who, try_id=None, reading=reading)

    async def body_of(self, request: Request) -> bytes:
        """The whole body, within what all phones together may send at one time."""
        size = int(request.headers.get("content-length", "0")) or 1_000_000
        if self.in_flight + size > MOST_IN_FLIGHT:
            raise ContactreadError(
                "too-busy", "Too many photos come in at once.", "Wait a minute, then send it again."
            )
        self.in_flight += size
        try:
            return await request.body()
        finally:
            self.in_flight -= size

    async def original(self, sha256: str) -> tuple[RecordedPhoto, Path]:
        """A photo and its file. Raises `BookError` photo-unknown."""
        return await self.shop.asked(asked.photo_file, sha256)

    async def flank_found(self, sha256: str) -> str | None:
        """The flank that the program read of its own; None where it read none."""
        reading = await self.shop.asked(asked.as_found, sha256)
        return None if reading is None else reading["flank"]

    async def correct(self, sha256: str, job_id: int | None, correction: Mapping[str, Any]) -> dict[str, Any]:
        """The reading that a correction leads to; nothing is kept yet."""
        photo, path = await self.original(sha256)
        axle_text = await self.axle_for(job_id)
        reading: dict[str, Any] = await self.workers.run(
            "correct", path, sha256, photo.name, axle_text, dict(correction), await self.flank_found(sha256),
            seconds=QUICK_S, near=sha256, urgency=NOW,
        )  # fmt: skip
        return reading

    async def answer(
        self, photos: list[RecordedPhoto], axle_text: str | None, backlash_mm: tuple[float, ...]
    ) -> dict[str, Any]:
        """Advice on photos that may be loose."""
        found: dict[str, Any] = await self.workers.run(
            "answer",
            asked.read_of(photos),
            axle_text,
            backlash_mm,
            seconds=ANSWER_S,
            near=near(photos),
            urgency=SOON,
        )
        return found


def near(photos: list[RecordedPhoto]) -> str:
    """A name under which a worker remembers what it computed for these photos."""
    return "+".join(sorted(photo.sha256[:16] for photo in photos))


def site_of(request: Request) -> Site:
    """The site that serves a request."""
    site: Site = request.app.state.site
    return site


def session_of(request: Request) -> Session:
    """The paired phone that asks."""
    session: Session = request.state.session
    return session


def job_of(request: Request) -> int | None:
    """The job that an address names, or None for loose photos."""
    text = request.query_params.get("job", "")
    return number_of(text, "job") if text else None


async def photos_of(request: Request) -> list[RecordedPhoto]:
    """The photos that an address names. Raises ContactreadError photos-missing, photo-unknown."""
    hashes = photo_hashes(request.query_params.getlist("photo"))
    if not hashes:
        raise ContactreadError("photos-missing", "No photo is named.", "Take a photo of each side first.")
    return await site_of(request).shop.asked(asked.photos, hashes)


def backlash_of(request: Request) -> tuple[float, ...]:
    """The backlash that an address names, mm."""
    texts = request.query_params.getlist("backlash")[:20]
    return tuple(mm for text in texts for mm in parse_places(text, "mm"))


def name_of(request: Request) -> str:
    """The file name that an upload carries, without any folder; only ever shown."""
    return plain_name(request.query_params.get("name", ""))


def plain_name(text: str) -> str:
    """A file name as it may be kept: its last part, short."""
    return text.replace("\\", "/").rsplit("/", 1)[-1][-120:].strip() or "photo.jpg"


def as_coded(error: Exception) -> ContactreadError:
    """Any error as one with a code."""
    if isinstance(error, HTTPException):
        if error.status_code == 404:
            return ContactreadError("page-missing", "There is no such page.", "Go to the first page.")
        if error.status_code == 405:
            return ContactreadError("page-missing", "Nothing can be done here that way.", "Go back.")
        words = error.detail.rstrip(".")
        again = "Go back and write less." if "exceeded" in words else "Try again."
        return ContactreadError("form-unreadable", f"What was sent can't be read: {words}.", again)
    return coded(error)
