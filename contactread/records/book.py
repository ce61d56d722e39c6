"""The shop book: one SQLite file, its photos beside it, and the only way to read or change them."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any
from urllib.parse import quote

from contactread.errors import BookError, ContactreadError
from contactread.records.failures import damaged, told
from contactread.records.migrate import (
    Clock,
    Step,
    back_up,
    migrate,
    now,
    refuse_foreign,
    stamp,
    steps,
    version_of,
)
from contactread.records.photo_store import PhotoStore
from contactread.records.place import default_place, photo_folder

WAIT_S = 5.0


class Book:
    """An open shop book. Use it as a context manager.

    path: the database's file. photos: the store of original photos beside it. clock: gives the time of
    what is recorded without one. create: whether writing may begin a new book. Reading and writing books
    share this class; a reading one can't change the file.

    Raises `BookError`: book-missing, book-not-a-book, book-too-new, book-too-old (needs a writing command
    first), book-locked, book-read-only, book-disk-full, book-disk-error; `DamagedBookError` book-damaged.
    """

    def __init__(
        self,
        path: Path | None = None,
        *,
        write: bool = False,
        create: bool = True,
        clock: Clock = now,
        wait_s: float = WAIT_S,
        schema: tuple[Step, ...] | None = None,
    ) -> None:
        self.path = (path or default_place()).absolute()
        self.clock = clock
        self.photos = PhotoStore(photo_folder(self.path))
        self._writable = write
        with told(self.path):
            if not (write and create):
                self._refuse_missing()
            self._connection = self._connect_to_write(wait_s) if write else self._connect_to_read(wait_s)
            try:
                self._prepare(steps() if schema is None else schema, wait_s)
            except BaseException:
                self._connection.close()
                raise

    def _connect_to_write(self, wait_s: float) -> sqlite3.Connection:
        if self.path.is_dir():
            raise BookError(
                "book-not-a-book",
                f"{self.path} is a folder, not the shop book's file.",
                "Give a file name with --book, such as shop-book.sqlite.",
            )
        self.path.parent.mkdir(parents=True, exist_ok=True)
        if self.path.exists() and not os.access(self.path, os.W_OK):
            raise PermissionError(13, "read-only", str(self.path))
        return _connection(self.path, "rwc", wait_s)

    def _refuse_missing(self) -> None:
        if not self.path.is_file() or self.path.stat().st_size == 0:
            raise BookError(
                "book-missing",
                f"There is no shop book at {self.path} yet.",
                "Open a first job with 'contactread job open', or give the book's file with --book.",
            )

    def _connect_to_read(self, wait_s: float) -> sqlite3.Connection:
        wal = Path(f"{self.path}-wal")
        # A closed book in a folder that can't be written has no side files, and SQLite can't make any.
        alone = not os.access(self.path.parent, os.W_OK) and not wal.exists()
        return _connection(self.path, "ro", wait_s, immutable=alone)

    def _prepare(self, schema: tuple[Step, ...], wait_s: float) -> None:
        newest = schema[-1].number
        refuse_foreign(self._connection, self.path, newest)
        if not self._writable:
            if version_of(self._connection) < newest:
                raise BookError(
                    "book-too-old",
                    f"The shop book {self.path} has an older schema and must be brought up to date first.",
                    "Run 'contactread backup': it makes a backup and brings the book up to date.",
                )
            return
        if version_of(self._connection) < newest:
            self._keep_a_log(wait_s)
            migrate(self._connection, self.path, schema, self.clock)
        if self.photos.unfinished():
            with self.writing():
                self.photos.recover(self._holds_photo)

    def _keep_a_log(self, wait_s: float) -> None:
        """Switch to write-ahead logging. SQLite doesn't wait for other programs that do the same at this
        moment (its busy handler isn't asked then), so this waits for them."""
        until = time.monotonic() + wait_s
        while True:
            try:
                self._connection.execute("PRAGMA journal_mode = WAL")
                return
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                    raise
            time.sleep(0.02)

    def _holds_photo(self, sha256: str) -> bool:
        return self.row("SELECT 1 FROM photo WHERE sha256 = ?", sha256) is not None

    def rows(self, sql: str, *values: Any) -> list[sqlite3.Row]:
        """All rows of a query."""
        with told(self.path):
            return self._connection.execute(sql, values).fetchall()

    def row(self, sql: str, *values: Any) -> sqlite3.Row | None:
        """The first row of a query, or None."""
        with told(self.path):
            found: sqlite3.Row | None = self._connection.execute(sql, values).fetchone()
            return found

    def table(self, sql: str, values: Any) -> tuple[tuple[str, ...], tuple[tuple[Any, ...], ...]]:
        """The column names of a query and its rows, for values by place or by name."""
        with told(self.path):
            cursor = self._connection.execute(sql, values)
            cursor.row_factory = None
            return tuple(column[0] for column in cursor.description), tuple(cursor.fetchall())

    def value(self, sql: str, *values: Any) -> Any:
        """The first column of the first row."""
        found = self.row(sql, *values)
        return None if found is None else found[0]

    def each(self, sql: str, *values: Any) -> Iterator[sqlite3.Row]:
        """The rows of a query one by one, for tables too large to hold."""
        with told(self.path):
            yield from self._connection.execute(sql, values)

    def insert(self, table: str, values: dict[str, Any]) -> int:
        """Add one row inside `writing()`; its row number. Table and columns come from the program."""
        columns = ", ".join(values)
        marks = ", ".join("?" * len(values))
        with told(self.path):
            sql = f"INSERT INTO {table} ({columns}) VALUES ({marks})"
            return int(self._connection.execute(sql, tuple(values.values())).lastrowid or 0)

    def execute(self, sql: str, *values: Any) -> None:
        """Change rows inside `writing()`."""
        with told(self.path):
            self._connection.execute(sql, values)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """All that is done inside becomes durable together on leaving, or nothing does.

        What was acknowledged after leaving survives a kill and a power cut.
        """
        with told(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                self.photos.abandon(self._holds_photo)
                raise
            self.photos.settle()

    @contextmanager
    def one_moment(self) -> Iterator[None]:
        """Queries inside see the book as it was at one moment, whatever others write meanwhile."""
        with told(self.path):
            self._connection.execute("BEGIN")
            try:
                yield
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    def stamp(self) -> str:
        """The present moment as the book writes it."""
        return stamp(self.clock())

    def back_up(self, label: str = "by-hand") -> Path:
        """A copy of the database in the backup folder; photos aren't copied, they never change."""
        with told(self.path):
            return back_up(self._connection, self.path, label, self.clock)

    def findings(self) -> list[str]:
        """What SQLite's own checks find wrong; empty for a sound database."""
        try:
            bad = [str(row[0]) for row in self._connection.execute("PRAGMA integrity_check")]
            bad = [] if bad == ["ok"] else bad
            for row in self._connection.execute("PRAGMA foreign_key_check"):
                bad.append(f"table {row[0]}, row {row[1]}: refers to a missing row of {row[2]}")
        except sqlite3.DatabaseError as error:
            bad = [str(error)]
        return bad

    def close(self) -> None:
        self._connection.close()

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _connection(path: Path, mode: str, wait_s: float, immutable: bool = False) -> sqlite3.Connection:
    uri = f"file:{quote(path.as_posix())}?mode={mode}{'&immutable=1' if immutable else ''}"
    connection = sqlite3.connect(uri, uri=True, timeout=wait_s, isolation_level=None)
    connection.row_factory = sqlite3.Row
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.DatabaseError as error:
        connection.close()
        if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_NOTADB:
            raise damaged(path, "it is not a database any more, or never was one.") from error
        raise
    except ContactreadError:
        connection.close()
        raise
    return connection
