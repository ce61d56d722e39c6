"""Putting a backup or an exported book back in the place of the shop book."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from contactread.errors import BookError, ContactreadError, DamagedBookError
from contactread.records.book import Book
from contactread.records.check import check_facts, database_findings
from contactread.records.failures import told
from contactread.records.migrate import back_up
from contactread.records.moments import Clock, in_a_name, now
from contactread.records.photo_store import PhotoStore
from contactread.records.photos import kept_photos
from contactread.records.place import backup_folder, own_folder, photo_folder, sync_folder
from contactread.records.transfer import original, remove, unpack

_SIDE_FILES = ("-wal", "-shm")


@dataclass(frozen=True)
class Restored:
    """What was put back. source: the backup or exported book. kept: copy of what lay there before, None
    where nothing did. jobs: how many the book has now. missing: SHA-256 of photos whose file isn't there."""

    source: Path
    kept: Path | None
    jobs: int
    missing: tuple[str, ...]


def newest_backup(path: Path) -> Path:
    """The newest backup of a book. Raises `BookError` restore-nothing."""
    found = sorted(backup_folder(path).glob(f"{path.stem}-*.sqlite"))
    if not found:
        raise BookError(
            "restore-nothing",
            f"There is no backup beside {path}.",
            "Name a backup or an exported folder that lies elsewhere.",
        )
    return found[-1]


def restore(
    path: Path, source: Path | None = None, *, clock: Clock = now, step: Callable[[], None] = lambda: None
) -> Restored:
    """Put a backup (the newest, unless named) or an exported folder in the place of the book at `path`.

    What is put back is checked first, and brought up to date. What lay there is copied into the backup
    folder. A stop at any moment leaves the book as it was, or whole as it is put back.
    Raises `BookError` restore-nothing, restore-same, import-format, import-damaged, book-locked,
    book-disk-full, book-read-only; `DamagedBookError` restore-damaged.
    """
    path = path.expanduser().absolute()
    the_source = newest_backup(path) if source is None else source.expanduser().absolute()
    if the_source == path:
        raise BookError("restore-same", f"{path} is the book itself.", "Name a backup or an exported folder.")
    if not the_source.exists():
        raise BookError("restore-nothing", f"There is no {the_source}.", "Check the name.")
    if not (the_source.is_dir() or the_source.is_file()):  # SQLite would wait for a pipe without end
        raise BookError(
            "restore-nothing",
            f"{the_source} is a pipe or a device, not a file.",
            "Name a backup, or an export.",
        )
    fresh = path.with_name(f"{path.stem}-restoring{path.suffix}")
    store = PhotoStore(photo_folder(path))
    with told(path):
        own_folder(path.parent)
        try:
            if the_source.is_dir():
                unpack(the_source, fresh, photos=False)
            else:
                _copy(the_source, fresh)
            missing, jobs = _photos(fresh, store, the_source, step)
            kept = _keep_present(path, clock)
            _swap(fresh, path)
        except BaseException:
            store.abandon(lambda _: True)
            raise
        finally:
            remove(fresh)
        store.settle()
    return Restored(the_source, kept, jobs, missing)


def _copy(source: Path, fresh: Path) -> None:
    """A checked copy of a backup at `fresh`, brought up to date."""
    remove(fresh)
    try:
        os.close(os.open(fresh, os.O_CREAT | os.O_RDWR, 0o600))
        uri = f"file:{quote(os.fsencode(source.as_posix()))}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True)) as old, closing(sqlite3.connect(fresh)) as new:
            old.backup(new)
        Book(fresh, write=True).close()
        with Book(fresh) as book:
            database = database_findings(book)
            changed, impossible = check_facts(book, database)
    except (sqlite3.DatabaseError, DamagedBookError) as error:
        if isinstance(error, sqlite3.OperationalError):
            raise
        raise _damaged(source, str(error)) from error
    if findings := [*database, *changed, *impossible]:
        raise _damaged(source, findings[0])


def _photos(
    fresh: Path, store: PhotoStore, source: Path, step: Callable[[], None]
) -> tuple[tuple[str, ...], int]:
    """Put photos of an exported book into the store; those that are still missing, and the number of jobs."""
    missing = []
    with Book(fresh) as book:
        for sha256, suffix, _ in kept_photos(book):
            if not store.holds(sha256, suffix):
                photo = original(source, sha256, suffix)
                if photo.is_file():
                    store.put(photo.read_bytes(), suffix)
            if not store.holds(sha256, suffix):
                missing.append(sha256)
            step()
        return tuple(missing), int(book.value("SELECT count(*) FROM job"))


def _keep_present(path: Path, clock: Clock) -> Path | None:
    """Copy what lies in the book's place into its backup folder; the file's path."""
    if not path.is_file() or path.stat().st_size == 0:
        return None
    log = Path(f"{path}-wal")
    # A log that may not belong to the file is copied before SQLite looks at the two: it would join them.
    if not (log.is_file() and log.stat().st_size) and _is_sound(path):
        with closing(sqlite3.connect(path)) as present:
            return back_up(present, path, "before-restore", clock)
    folder = backup_folder(path)
    own_folder(folder)
    target = folder / f"{path.stem}-{in_a_name(clock())}-before-restore.damaged"
    for ending in ("", *_SIDE_FILES):
        if Path(f"{path}{ending}").is_file():
            shutil.copyfile(f"{path}{ending}", f"{target}{ending}")
            Path(f"{target}{ending}").chmod(0o600)
    sync_folder(folder)
    return target


def _swap(fresh: Path, path: Path) -> None:
    """Put the new file in the book's place: inside a transaction where a sound book lies there, since others
    may have it open; else by renaming, after the log that belongs to the damaged one is out of the way."""
    if _is_sound(path):
        with closing(sqlite3.connect(fresh)) as new, closing(sqlite3.connect(path, timeout=5.0)) as present:
            present.execute("PRAGMA synchronous = FULL")
            new.backup(present)
        return
    with fresh.open("rb+") as file:
        os.fsync(file.fileno())
    for ending in _SIDE_FILES:
        Path(f"{path}{ending}").unlink(missing_ok=True)
    fresh.replace(path)
    sync_folder(path.parent)


def _is_sound(path: Path) -> bool:
    """Whether a book lies there that SQLite can write to as it is."""
    if not path.is_file() or path.stat().st_size == 0:
        return False
    try:
        with closing(sqlite3.connect(path)) as present:
            return [row[0] for row in present.execute("PRAGMA quick_check(1)")] == ["ok"]
    except sqlite3.OperationalError:
        raise
    except sqlite3.DatabaseError:
        return False


def _damaged(source: Path, why: str) -> ContactreadError:
    return DamagedBookError(
        "restore-damaged",
        f"{source} can't be put back, since it is damaged itself: {why}. Nothing was changed.",
        "Name an older backup or an exported folder.",
    )
