"""Original photos beside the book, each under the SHA-256 of its bytes, never altered.

A photo and its row in the book come together or not at all. Inside the book's write transaction the
store first leaves a note (`incoming/<sha256>`), then puts the file in its place; the note goes once
the transaction has ended. A kill in between leaves the note, and the next writer clears up by it.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

from contactread.records.place import own_folder, sync_folder

Holds = Callable[[str], bool]
SUFFIXES = {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif"}
OTHER = ".bin"
_SHA256 = re.compile(r"[0-9a-f]{64}")
_LEFT_BEHIND = {"thumbs.db", "desktop.ini", "$recycle.bin", "lost+found", "system volume information"}
_MOST_HASHED = 1_000_000_000  # bytes; our choice, far above MOST_BYTES of a photo


def suffix_of(name: str) -> str:
    """The ending that a stored photo keeps: a known one in lower case, else .bin."""
    suffix = Path(name).suffix.lower()
    return suffix if suffix in SUFFIXES else OTHER


class PhotoStore:
    """The folder of originals, made when the first photo comes. mode: permissions of its files."""

    def __init__(self, folder: Path, mode: int = 0o600) -> None:
        self.mode = mode
        self.folder = folder
        self._notes = folder / "incoming"
        self._open: list[str] = []

    def place(self, sha256: str, suffix: str) -> Path:
        """Where a photo lies, or would lie."""
        return self.folder / sha256[:2] / f"{sha256}{suffix}"

    def holds(self, sha256: str, suffix: str) -> bool:
        """Whether the photo's file is there and as it was stored."""
        return hash_of(self.place(sha256, suffix)) == sha256

    def put(self, data: bytes, suffix: str) -> str:
        """Store bytes durably inside the book's transaction; their SHA-256."""
        sha256 = hashlib.sha256(data).hexdigest()
        target = self.place(sha256, suffix)
        for folder in (self.folder, self._notes, target.parent):
            own_folder(folder)
        note = self._notes / sha256
        self._open.append(sha256)
        _write(note, data, self.mode)
        sync_folder(self._notes)
        unfinished = target.with_name(f"{sha256}.unfinished")
        unfinished.unlink(missing_ok=True)
        try:
            os.link(note, unfinished)  # A second name for the same bytes; the note stays.
        except OSError:  # A disk without links: write the bytes twice.
            _write(unfinished, data, self.mode)
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
        return sorted(note.name for note in self._notes.iterdir() if _SHA256.fullmatch(note.name))

    def recover(self, holds: Holds) -> None:
        """Clear up after killed writers. Only inside the book's write transaction."""
        for sha256 in self.unfinished():
            self._clear(sha256, holds)

    def files(self) -> Iterator[Path]:
        """Every file in order of its name, but for notes and what sync tools and the like leave behind."""
        if not self.folder.is_dir():
            return
        for part in sorted(self.folder.iterdir()):
            if _left_behind(part) or part == self._notes:
                continue
            if part.is_dir():
                yield from (f for f in sorted(part.iterdir()) if f.is_file() and not _left_behind(f))
            else:
                yield part

    def _clear(self, sha256: str, holds: Holds) -> None:
        endings = [".unfinished"]
        if not holds(sha256):
            endings += [*SUFFIXES, OTHER]
        for ending in endings:
            self.place(sha256, ending).unlink(missing_ok=True)
        (self._notes / sha256).unlink(missing_ok=True)


def hash_of(path: Path) -> str:
    """The SHA-256 of a file, read in pieces; empty where it can't be read or has over 1 GB."""
    try:
        about = path.stat()
        if not stat.S_ISREG(about.st_mode) or about.st_size > _MOST_HASHED:  # a device would never end
            return ""
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def _write(path: Path, data: bytes, mode: int) -> None:
    """Write a file and make it durable. A new one gets `mode`."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0), mode)
    with open(handle, "wb") as file:  # noqa: PTH123 (a handle, not a path)
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _left_behind(path: Path) -> bool:
    """Hidden files, thumbnails and the like: `.stfolder`, `@eaDir`, `Thumbs.db`."""
    name = path.name.lower()
    return name.startswith((".", "@", "#", "~")) or name in _LEFT_BEHIND or name.endswith(".tmp")
