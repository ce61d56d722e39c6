"""SQLite's and the disk's failures, as errors a mechanic can act on."""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from contactread.errors import BookError, DamagedBookError

_FULL = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}
_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS}


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn what goes wrong inside into a `BookError` about the book at `path`.

    Codes: record-value (a number beyond 63 bits), book-disk-full, book-read-only,
    book-unreadable, book-locked, book-disk-error; `DamagedBookError` book-damaged.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise _from_sqlite(error, path) from error
    except OSError as error:
        raise _from_disk(error, path) from error
    except UnicodeDecodeError as error:
        raise damaged(path, "it holds text that isn't UTF-8.") from error
    except OverflowError as error:
        raise BookError(
            "record-value",
            "A number is far too large for the shop book. Nothing was changed.",
            "Check the number.",
        ) from error


def damaged(path: Path, detail: str) -> DamagedBookError:
    """The error for a book whose file is damaged."""
    return DamagedBookError(
        "book-damaged",
        f"The shop book {path} is damaged: {detail}",
        "Don't write to it. Put back the newest backup with 'contactread restore'.",
    )


def _from_sqlite(error: sqlite3.Error, path: Path) -> BookError:
    code = getattr(error, "sqlite_errorcode", None)
    primary = code & 0xFF if code is not None else None
    if primary in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return BookError(
            "book-locked",
            f"Another program is writing to the shop book {path}. Nothing was changed.",
            "Wait until it has finished, then do this again.",
        )
    if primary == sqlite3.SQLITE_FULL:
        return _full(path)
    if primary in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return _read_only(path)
    if primary in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) or "decode" in str(error):
        return damaged(path, f"{error}.")
    if primary == sqlite3.SQLITE_IOERR:
        # SQLite reports a full disk this way when the file system, not SQLite, sets the limit.
        if code == sqlite3.SQLITE_IOERR_WRITE:
            return _full(path)
        return _disk_error(path, str(error))
    raise error


def _from_disk(error: OSError, path: Path) -> BookError:
    if error.errno in _FULL:
        return _full(path)
    if error.errno in _REFUSED:
        return _read_only(Path(error.filename) if error.filename else path)
    return _disk_error(path, str(error))


def _full(path: Path) -> BookError:
    return BookError(
        "book-disk-full",
        f"The disk under the shop book {path} is full. Nothing was changed.",
        "Free some space, then do this again.",
    )


def _read_only(path: Path) -> BookError:
    if not _may_be_read(path):
        return BookError(
            "book-unreadable",
            f"{path} can't be read: your user has no permission to. Nothing was changed.",
            "Let your user read it, or choose another place with --book or CONTACTREAD_BOOK.",
        )
    return BookError(
        "book-read-only",
        f"{path} can't be written: the file or its folder is read-only. Nothing was changed.",
        "Allow writing there, or choose another place with --book or CONTACTREAD_BOOK.",
    )


def _may_be_read(path: Path) -> bool:
    if os.access(path, os.F_OK):
        return os.access(path, os.R_OK)
    return os.access(path.parent, os.X_OK) or not os.access(path.parent, os.F_OK)


def _disk_error(path: Path, detail: str) -> BookError:
    return BookError(
        "book-disk-error",
        f"The disk under the shop book {path} failed: {detail}. Nothing was changed.",
        "Check the disk and its cable, then do this again.",
    )
