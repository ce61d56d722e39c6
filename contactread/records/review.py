"""Many photos at once: read in parallel, kept one by one, carried on after a stop where it left off."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from contactread.axle import FlankName
from contactread.errors import BookError, ContactreadError, PhotoError, coded
from contactread.outside import Unfit, read_json
from contactread.photo.intake import read_photo_bytes
from contactread.records.book import Book
from contactread.records.filing import Filed
from contactread.records.photos import keep_photo, known_photo
from contactread.records.review_places import Place, find_places

Status = Literal["read", "refused", "known", "not kept"]


@dataclass(frozen=True)
class ReadTask:
    """What a worker needs to read one photo. data: its bytes where the worker can't see the file.
    corners: flanks marked by hand, as a file or as its contents."""

    path: Path
    data: bytes | None = None
    corners: Path | dict[str, Any] | None = None
    flank: FlankName | None = None
    axle_text: str | None = None


def read_photo(task: ReadTask) -> dict[str, Any]:
    """One photo of ``read --json`` with what was measured; a refusal where the photo can't be read.

    Raises what isn't the photo's fault, such as `CornersError` or `MissingExtraError`: with that put right
    it may be read.
    """
    from contactread.axle_file import parse_axle
    from contactread.photo.load import load_photo
    from contactread.reading import read
    from contactread.records.measured import with_measured

    axle = None if task.axle_text is None else parse_axle(task.axle_text, kept=True)
    try:
        photo = load_photo(task.path if task.data is None else task.data, reduce=True)
        found = with_measured(read(photo, corners=task.corners, flank=task.flank, axle=axle))
    except PhotoError as error:
        found = error.refused_photo(task.path.name)
    return found | {"path": task.path.name}  # The folder says nothing about the photo, and may say too much.


# Returns one photo of ``read --json``; a photo that can't be read is a refusal, not an exception.
ReadPhoto = Callable[[ReadTask], dict[str, Any]]
Workers = Callable[[], AbstractContextManager[Executor]]


@dataclass(frozen=True)
class Outcome:
    """What became of one photo. code, words: why it was refused or not kept; empty otherwise."""

    path: Path
    status: Status
    job: int | None
    attempt: int | None
    side: str | None = None
    code: str = ""
    words: str = ""


@dataclass
class Summary:
    """Counts of a review. why: refusals and photos not kept, by code."""

    counts: Counter[str] = field(default_factory=Counter)
    why: Counter[str] = field(default_factory=Counter)

    def add(self, outcome: Outcome) -> None:
        self.counts[outcome.status] += 1
        if outcome.code:
            self.why[outcome.code] += 1


def review(
    book: Book,
    filed: list[Filed],
    read: ReadPhoto,
    workers: Workers,
    *,
    who: str,
    axle_text: str | None = None,
    at_once: int = 4,
    send_bytes: bool = False,
    refused_again: bool = False,
    sure: bool = False,
) -> Iterator[Outcome]:
    """Read photos and keep them; yields each outcome once it is durable.

    A photo that the book has read already isn't read again; one that was refused is where its flanks are
    marked by hand by now, or with refused_again. axle_text: axle file for jobs that the filing opens.
    at_once: photos in the workers' hands at a time, which bounds memory. send_bytes: for workers on other
    machines. A photo that kills its worker is tried once more alone, then refused. sure:
    values that look like slips are right.
    Raises `BookError` as `find_places` before anything is read.
    """
    places = find_places(book, filed, who, axle_text, sure)
    batch = _Batch(book, read, send_bytes, refused_again)
    queue = iter(zip(filed, places, strict=True))
    suspects: list[_Waiting] = []
    done = False
    while not done:
        with workers() as executor:
            try:
                yield from batch.run(executor, queue, at_once)
                done = True
            except BrokenExecutor:
                suspects = batch.give_up_waiting()
        for suspect in suspects:
            yield batch.alone(workers, suspect)
        suspects = []


@dataclass(frozen=True)
class _Waiting:
    filed: Filed
    place: Place
    sha256: str
    task: ReadTask


class _Batch:
    def __init__(self, book: Book, read: ReadPhoto, send_bytes: bool, refused_again: bool) -> None:
        self._book, self._read = book, read
        self._send_bytes, self._refused_again = send_bytes, refused_again
        self._waiting: dict[Future[dict[str, Any]], _Waiting] = {}
        self._held: _Waiting | None = None

    def run(
        self, executor: Executor, queue: Iterable[tuple[Filed, Place]], at_once: int
    ) -> Iterator[Outcome]:
        for filed, place in queue:
            prepared = self._prepare(filed, place)
            if isinstance(prepared, Outcome):
                yield prepared
                continue
            self._held = prepared
            future = executor.submit(self._read, prepared.task)
            self._held = None
            self._waiting[future] = prepared
            while len(self._waiting) >= at_once:
                yield from self._collect()
        while self._waiting:
            yield from self._collect()

    def give_up_waiting(self) -> list[_Waiting]:
        """What a broken executor left unread."""
        left = [*self._waiting.values(), *([self._held] if self._held else [])]
        self._waiting.clear()
        self._held = None
        return left

    def alone(self, workers: Workers, waiting: _Waiting) -> Outcome:
        try:
            with workers() as executor:
                reading = executor.submit(self._read, waiting.task).result()
        except BrokenExecutor:
            crashed = BookError(
                "reading-crashed",
                "Reading this photo ended the program that read it.",
                "Take the photo again, or save it as an ordinary JPEG. Please report this photo.",
            )
            reading = crashed.refused_photo(waiting.filed.path.name)
        return self._keep(waiting, reading)

    def _prepare(self, filed: Filed, place: Place) -> Outcome | _Waiting:
        try:
            data = read_photo_bytes(filed.path)
        except ContactreadError as error:
            return self._not_kept(filed, place, error)
        sha256 = hashlib.sha256(data).hexdigest()
        known = known_photo(self._book, sha256)
        if known is not None and known.reading is not None:
            better = self._refused_again or filed.corners is not None
            if known.reading.status == "read" or not better:
                return self._known(filed, place, data)
        task = ReadTask(filed.path, None, filed.corners, filed.flank, place.axle_text)
        if self._send_bytes:
            try:
                marks = None if filed.corners is None else read_json(filed.corners, 1_000_000)
            except Unfit:
                marks = {}  # The reader refuses this with the right words.
            task = replace(task, data=data, corners=marks)
        return _Waiting(filed, place, sha256, task)

    def _collect(self) -> Iterator[Outcome]:
        done, _ = wait(self._waiting, return_when=FIRST_COMPLETED)
        for future in done:
            try:
                reading = future.result()
            except BrokenExecutor:
                raise
            except Exception as error:
                # One photo's trouble must not end the review of hundreds.
                waiting = self._waiting.pop(future)
                yield self._not_kept(waiting.filed, waiting.place, coded(error))
            else:
                yield self._keep(self._waiting.pop(future), reading)

    def _keep(self, waiting: _Waiting, reading: dict[str, Any]) -> Outcome:
        filed, place = waiting.filed, waiting.place
        try:
            data = read_photo_bytes(filed.path)
            if hashlib.sha256(data).hexdigest() != waiting.sha256:
                raise BookError(
                    "photo-changed", "The file changed while it was being read.", "Review the folder again."
                )
            keep_photo(
                self._book, data, name=filed.path.name, who=place.who, try_id=place.try_id, reading=reading
            )
        except ContactreadError as error:
            if error.code.startswith("book-"):
                raise
            return self._not_kept(filed, place, error)
        why = reading["refusal"] or {"code": "", "message": "", "next_step": ""}
        words = f"{why['message']} {why['next_step']}".strip()
        return Outcome(
            filed.path, reading["status"], place.job, place.attempt, reading["side"], why["code"], words
        )

    def _known(self, filed: Filed, place: Place, data: bytes) -> Outcome:
        try:
            keep_photo(
                self._book, data, name=filed.path.name, who=place.who, try_id=place.try_id, reading=None
            )
        except BookError as error:
            if error.code != "photo-in-another-try":
                raise
            return self._not_kept(filed, place, error)
        return Outcome(filed.path, "known", place.job, place.attempt)

    @staticmethod
    def _not_kept(filed: Filed, place: Place, error: ContactreadError) -> Outcome:
        return Outcome(filed.path, "not kept", place.job, place.attempt, code=error.code, words=error.message)
