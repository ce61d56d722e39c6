"""Original photos beside the book, each under the SHA-256 of its bytes, never altered.

A photo and its row in the book come together or not at all. Inside the book's write transaction the
store first leaves a note (`incoming/<sha256>`), then puts the file in its place; the note goes once
the transaction has ended. A kill in between leaves the note, and the next writer clears up by it.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from pathlib import Path

from contactread.records.migrate import sync_folder

Holds = Callable[[str], bool]
SUFFIXES = {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif"}


def suffix_of(name: str) -> str:
    """The ending that a stored photo keeps: a known one in lower case, else .bin."""
    suffix = Path(name).suffix.lower()
    return suffix if suffix in SUFFIXES else ".bin"


class PhotoStore:
    """The folder of originals. `folder` is made when the first photo comes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._notes = folder / "incoming"
        self._open: list[str] = []

    def place(self, sha256: str, suffix: str) -> Path:
        """Where a photo lies, or would lie."""
        return self.folder / sha256[:2] / f"{sha256}{suffix}"

    def put(self, data: bytes, suffix: str) -> str:
        """Store bytes durably inside the book's transaction; their SHA-256."""
        sha256 = hashlib.sha256(data).hexdigest()
        target = self.place(sha256, suffix)
        self._notes.mkdir(parents=True, exist_ok=True)
        target.parent.mkdir(exist_ok=True)
        note = self._notes / sha256
        self._open.append(sha256)
        with note.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        sync_folder(self._notes)
        unfinished = target.with_suffix(".unfinished")
        unfinished.unlink(missing_ok=True)
        try:
            os.link(note, unfinished)  # A second name for the same bytes; the note stays.
        except OSError:  # A disk without links: write the bytes twice.
            with unfinished.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        unfinished.replace(target)
        sync_folder(target.parent)
        sync_folder(self.folder)
        return sha256

    def settle(self) -> None:
        """The transaction has ended well: drop the notes of its photos."""
        while self._open:
            (self._notes / self._open.pop()).unlink(missing_ok=True)

    def abandon(self, holds: Holds) -> None:
        """The transaction was undone: drop its photos, except those that the book already held."""
        while self._open:
            self._clear(self._open.pop(), holds)

    def unfinished(self) -> list[str]:
        """SHA-256 of photos that a killed writer left in between."""
        if not self._notes.is_dir():
            return []
        return sorted(note.name for note in self._notes.iterdir())

    def recover(self, holds: Holds) -> None:
        """Clear up after killed writers. Only inside the book's write transaction."""
        for sha256 in self.unfinished():
            self._clear(sha256, holds)

    def files(self) -> Iterator[Path]:
        """Every stored file in order of its name, notes left out."""
        if not self.folder.is_dir():
            return
        for part in sorted(self.folder.iterdir()):
            if part.is_dir() and part != self._notes:
                yield from sorted(part.iterdir())
            elif part.is_file():
                yield part

    def _clear(self, sha256: str, holds: Holds) -> None:
        part = self.folder / sha256[:2]
        leftovers = "unfinished" if holds(sha256) else "*"
        for file in part.glob(f"{sha256}.{leftovers}"):
            file.unlink(missing_ok=True)
        (self._notes / sha256).unlink(missing_ok=True)
