"""Is the book sound? The database, and every photo against its SHA-256."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from contactread.records.book import Book
from contactread.records.photo_store import hash_of


@dataclass(frozen=True)
class Soundness:
    """What was found. database: SQLite's own findings. missing, altered: SHA-256 of photos whose file is
    gone or whose bytes changed. orphans: files that belong to no photo. unfinished: leftovers of a killed
    command, which the next writing command clears up. photos, looked_at: how many there are, and how
    many files were read through."""

    database: tuple[str, ...]
    missing: tuple[str, ...]
    altered: tuple[str, ...]
    orphans: tuple[str, ...]
    unfinished: tuple[str, ...]
    photos: int
    looked_at: int

    @property
    def clean(self) -> bool:
        return not (self.database or self.missing or self.altered or self.orphans)


def check_book(
    book: Book, *, sample: int | None = None, seed: int | None = None, step: Callable[[], None] = lambda: None
) -> Soundness:
    """Check the database and its photos. sample: read only that many files through, chosen by chance;
    all are looked for. step: called for each file that was read."""
    database = book.findings()
    photos = [] if database else _photos(book)
    known = {sha256: book.photos.place(sha256, suffix) for sha256, suffix, _ in photos}
    sizes = {sha256: size for sha256, _, size in photos}
    there = {sha256: path for sha256, path in known.items() if path.is_file()}
    chosen = sorted(there)
    if sample is not None and sample < len(chosen):
        chosen = sorted(random.Random(seed).sample(chosen, sample))
    altered = {sha256 for sha256, path in there.items() if path.stat().st_size != sizes[sha256]}
    for sha256 in chosen:
        if sha256 not in altered and hash_of(there[sha256]) != sha256:
            altered.add(sha256)
        step()
    unfinished = book.photos.unfinished()
    return Soundness(
        database=tuple(database),
        missing=tuple(sorted(set(known) - set(there))),
        altered=tuple(sorted(altered)),
        orphans=() if database else tuple(_orphans(book, set(known.values()), set(unfinished))),
        unfinished=tuple(unfinished),
        photos=len(photos),
        looked_at=len(chosen),
    )


def _photos(book: Book) -> list[tuple[str, str, int]]:
    return [tuple(row) for row in book.rows("SELECT sha256, suffix, bytes FROM photo ORDER BY sha256")]


def _orphans(book: Book, known: set[Path], unfinished: set[str]) -> list[str]:
    folder = book.photos.folder
    return [
        path.relative_to(folder).as_posix()
        for path in book.photos.files()
        if path not in known and path.name.split(".")[0] not in unfinished
    ]
