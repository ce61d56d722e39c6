"""Photos and readings of a try, and the advice given on it."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from contactread import __version__
from contactread.errors import BookError, ContactreadError
from contactread.photo.intake import read_photo_bytes
from contactread.records.book import TAKEN_OUT, Book
from contactread.records.kept_reading import kept_once, numbers_of
from contactread.records.nouns import RecordedAdvice, RecordedPhoto, RecordedReading, Try
from contactread.records.photo_store import suffix_of
from contactread.records.rows import noun_of
from contactread.records.words import line

_SELECT = """
    SELECT photo.*, reading.id AS reading_id, status, refusal, read_at, program, side, confidence,
        centre_u, centre_v, json
    FROM photo LEFT JOIN reading ON reading.id =
        (SELECT max(id) FROM reading WHERE reading.photo_id = photo.id)
"""


def keep_photo(
    book: Book, data: bytes, *, name: str, who: str, try_id: int | None, reading: dict[str, Any] | None
) -> RecordedPhoto:
    """Keep a photo and what was read from it, both or neither; the original, byte for byte.

    A photo that the book holds already is not stored again: it gets the reading, and the try where it
    had none. reading: one photo of ``read --json``, or None for one that isn't read yet.
    Raises `BookError` photo-in-another-try; record-half.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    person = line(who, "name of the person", required=True)
    job_id, _ = place_of(book, try_id) or (None, None)
    with book.writing(f"photo kept: {line(name, 'file name')}", who=person, job_id=job_id):
        known = book.row("SELECT * FROM photo WHERE sha256 = ?", sha256)
        if known is None:
            suffix = suffix_of(name)
            book.photos.put(data, suffix)
            values = {"sha256": sha256, "try_id": try_id, "name": line(name, "file name"), "suffix": suffix}
            values |= {"bytes": len(data), "added_by": person, "added_at": book.stamp()}
            photo_id = book.insert("photo", values)
        else:
            photo_id = known["id"]
            if not book.photos.holds(sha256, known["suffix"]):
                book.photos.put(data, known["suffix"])  # A lost or altered original came back.
            _give_try(book, known, try_id)
        if reading is not None:
            row = {"photo_id": photo_id, "read_at": book.stamp(), "program": __version__}
            book.insert("reading", row | reading_row(kept_once(reading)))
    return as_kept(book, sha256)


def known_photo(book: Book, sha256: str) -> RecordedPhoto | None:
    """The photo with these bytes, or None."""
    row = book.row(f"{_SELECT} WHERE photo.sha256 = ?", sha256)
    return None if row is None else _photo(row)


def as_kept(book: Book, sha256: str) -> RecordedPhoto:
    """The photo with these bytes, which the book holds."""
    found = known_photo(book, sha256)
    assert found is not None, sha256
    return found


def known_file(book: Book, path: Path) -> RecordedPhoto | None:
    """The photo of a file's bytes, or None, also where the file can't be read."""
    try:
        return known_photo(book, hashlib.sha256(read_photo_bytes(path)).hexdigest())
    except ContactreadError:
        return None


def refuse_after_move(book: Book, attempt: Try, paths: Sequence[Path]) -> None:
    """Raise `BookError` photos-after-move where a try was told to move a shim and photos come that the book
    doesn't hold: they are hardly of the same assembly, and one reading would be made of both.
    """
    if attempt.advice is None or not attempt.advice.json.get("moves"):
        return
    if all(known_file(book, path) is not None for path in paths):
        return
    job, number = attempt.job_id, attempt.number
    raise BookError(
        "photos-after-move",
        f"Try {number} was told to move a shim; photos from now are hardly of that try.",
        f"Moved: begin the next one with 'contactread try start {job} --pinion-shim ...', with the shims as "
        f"built now, then do this again. Not moved: 'contactread try photo {job} --try {number} PHOTO...'.",
    )


def photos_of(book: Book, try_id: int) -> tuple[RecordedPhoto, ...]:
    """The photos of a try in the order in which they came."""
    return tuple(_photo(r) for r in book.rows(f"{_SELECT} WHERE photo.try_id = ? ORDER BY photo.id", try_id))


def kept_photos(book: Book) -> list[tuple[str, str, int]]:
    """SHA-256, ending and size of every photo whose file must be there: those that were taken out too, since
    undo can bring them back."""
    rows = book.rows("SELECT sha256, suffix, bytes FROM photo")
    photos: dict[str, tuple[str, str, int]] = {row[0]: (row[0], row[1], row[2]) for row in rows}
    for row in book.rows(TAKEN_OUT):
        before = json.loads(row["before"])
        photos.setdefault(before["sha256"], (before["sha256"], before["suffix"], before["bytes"]))
    return [photos[sha256] for sha256 in sorted(photos)]


def loose_photos(book: Book, most: int = 50) -> list[RecordedPhoto]:
    """Photos that belong to no try yet, newest first."""
    rows = book.rows(f"{_SELECT} WHERE photo.try_id IS NULL ORDER BY photo.id DESC LIMIT ?", most)
    return [_photo(row) for row in rows]


def readings_of(book: Book, sha256: str) -> list[dict[str, Any]]:
    """Every reading of a photo, oldest first: as found, and as corrected since."""
    rows = book.rows(
        "SELECT json FROM reading JOIN photo ON photo.id = photo_id WHERE sha256 = ? ORDER BY reading.id",
        sha256,
    )
    return [json.loads(row["json"]) for row in rows]


def place_of(book: Book, try_id: int | None) -> tuple[int, int] | None:
    """Job and number of a try; None where there is no such try."""
    row = book.row("SELECT job_id, number FROM try WHERE id = ?", try_id)
    return None if row is None else (row["job_id"], row["number"])


def keep_advice(
    book: Book,
    try_id: int,
    *,
    verdict: str,
    pinion_shim_change_mm: float | None,
    ring_move_mm: float | None,
    advice: dict[str, Any],
    words: str = "",
    who: str = "",
) -> None:
    """Keep advice that was given on a try. words: as it was shown."""
    job = book.row(
        "SELECT job.id, job.axle_id FROM try JOIN job ON job.id = try.job_id WHERE try.id = ?", try_id
    )
    assert job is not None
    with book.writing("advice given", who=who, job_id=job["id"]):
        book.insert("advice", {
            "try_id": try_id, "given_at": book.stamp(), "program": __version__, "verdict": verdict,
            "pinion_shim_change_mm": pinion_shim_change_mm, "ring_move_mm": ring_move_mm,
            "axle_id": job["axle_id"], "words": words, "json": json.dumps(advice, separators=(",", ":")),
        })  # fmt: skip


def advice_of(book: Book, try_id: int) -> tuple[RecordedAdvice, ...]:
    """All advice on a try, oldest first."""
    rows = book.rows(
        "SELECT advice.*, job_id FROM advice JOIN try ON try.id = try_id WHERE try_id = ? ORDER BY advice.id",
        try_id,
    )
    versions = axle_versions(book, rows[0]["job_id"]) if rows else {}
    return tuple(
        noun_of(
            RecordedAdvice, row, json=json.loads(row["json"]), axle_version=versions.get(row["axle_id"], 1)
        )
        for row in rows
    )


def axle_versions(book: Book, job_id: int) -> dict[int, int]:
    """Row of each axle file that a job went by -> 1, 2, ... in order."""
    replaced = book.rows(
        "SELECT axle.id FROM correction JOIN axle ON axle.sha256 = old_value "
        "WHERE job_id = ? AND field = 'axle file' ORDER BY correction.id",
        job_id,
    )
    now = book.value("SELECT axle_id FROM job WHERE id = ?", job_id)
    order = dict.fromkeys([*(row["id"] for row in replaced), now])
    return {axle_id: number for number, axle_id in enumerate(order, 1)}


def _give_try(book: Book, known: sqlite3.Row, try_id: int | None) -> None:
    if try_id is None or known["try_id"] == try_id:
        return
    if place := place_of(book, known["try_id"]):
        raise BookError(
            "photo-in-another-try",
            f"This photo is already in the book: job {place[0]}, try {place[1]}. Nothing was changed.",
            "Check that you picked the right photo: one photo shows one try. "
            f"'contactread photo move {known['id']} JOB' moves it.",
        )
    book.update("photo", {"id": known["id"]}, {"try_id": try_id})


def reading_row(reading: dict[str, Any]) -> dict[str, Any]:
    """The columns that questions need, taken from a reading as the book keeps it."""
    pairs = [f"{name}_{axis}" for name in ("centre", "spread", "wave") for axis in "uv"]
    values = dict.fromkeys(("refusal", "side", "flank", "confidence", *pairs))
    values |= {"status": reading["status"], "json": json.dumps(reading, separators=(",", ":"))}
    if reading["status"] == "refused":
        return values | {"refusal": reading["refusal"]["code"]}
    numbers = numbers_of(reading)
    places = (*numbers["centre"], *numbers["spread"], *(numbers["wave"] or (None, None)))
    values |= {name: reading[name] for name in ("side", "flank", "confidence")}
    return values | dict(zip(pairs, places, strict=True))


def _photo(row: sqlite3.Row) -> RecordedPhoto:
    reading = None
    if row["reading_id"] is not None:
        centre = None if row["centre_u"] is None else (row["centre_u"], row["centre_v"])
        reading = noun_of(RecordedReading, row, centre=centre, json=json.loads(row["json"]))
    return noun_of(RecordedPhoto, row, reading=reading)
