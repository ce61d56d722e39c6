"""Opening the book's file: connections, and what must not pass for a book as it was left."""

from __future__ import annotations

import os
import sqlite3
import stat
import time
from pathlib import Path
from urllib.parse import quote

from contactread.errors import BookError, DamagedBookError
from contactread.records.failures import damaged
from contactread.records.log import TABLES, broken_entries, changed_rows
from contactread.records.migrate import LOGGED_SINCE, version_of
from contactread.records.photo_store import PhotoStore
from contactread.records.place import backup_folder, own_folder

# Bytes of a book up to which a log in doubt costs a check of its pages, and of every row.
_QUICKLY_CHECKED, _FULLY_CHECKED = 64_000_000, 4_000_000


def connect_to_write(path: Path, wait_s: float) -> sqlite3.Connection:
    """A writing connection; a file that isn't there is begun, for its owner alone.

    Raises `DamagedBookError` book-damaged, OSError, sqlite3.Error.
    """
    own_folder(path.parent)
    if not path.exists():
        # Who wants others to read the book, gives its file other permissions.
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    elif not os.access(path, os.W_OK):
        raise PermissionError(13, "read-only", str(path))
    return _connection(path, "rw", wait_s)


def connect_to_read(path: Path, wait_s: float) -> sqlite3.Connection:
    """A connection that can't change the file. Raises as `connect_to_write`."""
    wal = Path(f"{path}-wal")
    # A closed book in a folder that can't be written has no side files, and SQLite can't make any.
    alone = not os.access(path.parent, os.W_OK) and not wal.exists()
    return _connection(path, "ro", wait_s, immutable=alone)


def refuse_lost(path: Path, photos: PhotoStore, *, may_begin: bool) -> None:
    """Raise `DamagedBookError` book-lost for an emptied or lost file beside what belongs to a book, which
    must not pass for a new one; `BookError` book-missing where there is none, and none may be begun,
    book-not-a-book for a folder."""
    if path.exists() and not path.is_file():
        what = "a folder" if path.is_dir() else "a pipe or a device"
        raise BookError(
            "book-not-a-book",
            f"{path} is {what}, not the shop book's file.",
            "Give a file name with --book, such as shop-book.sqlite.",
        )
    if path.is_file() and path.stat().st_size > 0:
        return
    backups = next(backup_folder(path).glob(f"{path.stem}-*.sqlite"), None)
    if _size(Path(f"{path}-wal")) or backups is not None or next(photos.files(), None) is not None:
        raise DamagedBookError(
            "book-lost",
            f"Photos, backups or the log of a shop book lie beside {path}, but its file is missing or empty. "
            "Nothing was changed.",
            "Put back the newest backup with 'contactread restore', or give another file with --book.",
        )
    if not may_begin:
        raise BookError(
            "book-missing",
            f"There is no shop book at {path} yet.",
            "Open a first job with 'contactread job open', or give the book's file with --book.",
        )


def log_in_doubt(path: Path) -> bool:
    """Whether SQLite's log beside the book may belong to another state of the file: it is older than the
    file's last change. So it is too for a moment whenever SQLite has moved the log into the file."""
    # Another program that closes the book takes the log away, perhaps between two looks: one look each.
    log, book = _about(Path(f"{path}-wal")), _about(path)
    if log is None or book is None or not log.st_size:
        return False
    return max(book.st_mtime_ns, book.st_ctime_ns) >= log.st_mtime_ns


def refuse_mixed(connection: sqlite3.Connection, path: Path) -> None:
    """A log left by a stopped program may belong to another state of the file, such as after a backup was
    copied over it by hand: what the two give together must be sound before anything builds on it.

    Raises `DamagedBookError` book-damaged. Inside a transaction, since others may be writing.
    """
    found = []
    if path.stat().st_size <= _QUICKLY_CHECKED:
        found = [str(row[0]) for row in connection.execute("PRAGMA quick_check(1)")]
    if version_of(connection) >= LOGGED_SINCE:
        missing = connection.execute("SELECT ifnull(max(id), 0) - count(*) FROM entry").fetchone()[0]
        found += ["entries of the log are missing"] if missing else []
        if path.stat().st_size <= _FULLY_CHECKED and not set(found) - {"ok"}:
            found += [f"entry {number} of the log isn't whole" for number in broken_entries(connection)]
            for table in TABLES:
                found += [f"table {table} isn't what was written" for _ in changed_rows(connection, table)]
    wrong = [words for words in found if words != "ok"]
    if wrong:
        raise damaged(path, f"{wrong[0]}. Perhaps a backup was copied over it by hand.")


def keep_a_log(connection: sqlite3.Connection, wait_s: float) -> None:
    """Switch to write-ahead logging. SQLite doesn't wait for other programs that do the same at this moment
    (its busy handler isn't asked then), so this waits for them."""
    until = time.monotonic() + wait_s
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
        time.sleep(0.02)


def mode_of(path: Path) -> int:
    """Permissions of new files beside the book: as the book's own file has them."""
    try:
        return path.stat().st_mode & 0o666
    except OSError:
        return 0o600


def _size(path: Path) -> int:
    about = _about(path)
    return about.st_size if about is not None else 0


def _about(path: Path) -> os.stat_result | None:
    """What the system says about a file; None where there is none."""
    try:
        about = path.stat()
    except FileNotFoundError:
        return None
    return about if stat.S_ISREG(about.st_mode) else None


def _connection(path: Path, mode: str, wait_s: float, immutable: bool = False) -> sqlite3.Connection:
    uri = f"file:{quote(os.fsencode(path.as_posix()))}?mode={mode}{'&immutable=1' if immutable else ''}"
    connection = sqlite3.connect(uri, uri=True, timeout=wait_s, isolation_level=None)
    try:
        connection.row_factory = sqlite3.Row
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except BaseException as error:
        connection.close()
        if getattr(error, "sqlite_errorcode", None) in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR):
            raise damaged(path, "it is not a database any more, or never was one.") from error
        raise
    return connection
