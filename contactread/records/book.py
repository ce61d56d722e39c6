"""The shop book: one SQLite file, its photos beside it, and the only way to read or change them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any
from uuid import uuid4

from contactread.errors import BookError
from contactread.records.failures import told
from contactread.records.log import (
    REVIEW,
    TABLES,
    WITH_UID,
    Change,
    Draft,
    Together,
    as_json,
    digest_of,
    key_of,
    key_values,
    where,
    write_entry,
)
from contactread.records.migrate import (
    Step,
    back_up,
    migrate,
    refuse_foreign,
    refuse_other_schema,
    steps,
    version_of,
)
from contactread.records.moments import Clock, now, stamp
from contactread.records.opening import (
    connect_to_read,
    connect_to_write,
    keep_a_log,
    log_in_doubt,
    mode_of,
    refuse_lost,
    refuse_mixed,
)
from contactread.records.photo_store import PhotoStore
from contactread.records.place import default_place, photo_folder
from contactread.records.rows import Rows

WAIT_S = 5.0
TAKEN_OUT = "SELECT before FROM change WHERE table_name = 'photo' AND after IS NULL"


class Book(Rows):
    """An open shop book. Use it as a context manager.

    path: the database's file. photos: the store of original photos beside it. clock: gives the time of
    what is recorded without one. create: whether writing may begin a new book. Reading and writing books
    share this class; a reading one can't change the file.

    Raises `BookError`: book-missing, book-not-a-book, book-too-new, book-too-old (needs a writing command
    first), book-locked, book-read-only, book-unreadable, book-disk-full, book-disk-error;
    `DamagedBookError` book-damaged; `ContactreadError` own-files-unreadable (no fault of the book's).
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
        self.path = (path or default_place()).expanduser().absolute()
        self.clock = clock
        self.photos = PhotoStore(photo_folder(self.path), mode_of(self.path))
        self._writable = write
        self._draft: Draft | None = None
        self._depth = 1
        self._together: Together | None = None
        schema = steps() if schema is None else schema
        with told(self.path):
            refuse_lost(self.path, self.photos, may_begin=write and create)
            doubtful = log_in_doubt(self.path)
            self._connection = (connect_to_write if write else connect_to_read)(self.path, wait_s)
            try:
                self._prepare(schema, wait_s, doubtful)
            except BaseException:
                self._connection.close()
                raise

    def _prepare(self, schema: tuple[Step, ...], wait_s: float, doubtful: bool) -> None:
        newest = schema[-1].number
        refuse_foreign(self._connection, self.path, newest)
        refuse_other_schema(self._connection, self.path, schema)
        if doubtful:
            with self.one_moment():
                refuse_mixed(self._connection, self.path)
        if not self._writable:
            if version_of(self._connection) < newest:
                raise BookError(
                    "book-too-old",
                    f"The shop book {self.path} has an older schema and must be brought up to date first.",
                    "Run 'contactread backup': it makes a backup and brings the book up to date.",
                )
            return
        if version_of(self._connection) < newest:
            keep_a_log(self._connection, wait_s)
            migrate(self._connection, self.path, schema, self.clock)
        if self.photos.unfinished():
            with self.writing():
                self.photos.recover(self._holds_photo)

    def _holds_photo(self, sha256: str) -> bool:
        """Whether a photo's file must stay: it is in the book, or was, and undo can bring it back."""
        return self.row("SELECT 1 FROM photo WHERE sha256 = ?", sha256) is not None or any(
            sha256 in row["before"] for row in self.rows(TAKEN_OUT)
        )

    def insert(self, table: str, values: dict[str, Any]) -> int:
        """Add one row inside `writing()`; its row number. Table and columns come from the program.

        A table whose records have an identity of their own gets a new one, unless it is given.
        """
        if table in WITH_UID and "uid" not in values:
            values = {"uid": uuid4().hex} | values
        marks = ", ".join("?" * len(values))
        cursor = self._run(f"INSERT INTO {table} ({', '.join(values)}) VALUES ({marks})", *values.values())
        number = int(cursor.lastrowid or 0)
        row = self._one(table, {column: values.get(column, number) for column in TABLES[table]})
        self._note(table, row, None, digest_of(row))
        return number

    def update(self, table: str, key: dict[str, Any], values: dict[str, Any]) -> None:
        """Change columns of one row, named by its primary key, inside `writing()`."""
        before = self._one(table, key)
        if all(before[column] == value for column, value in values.items()):
            return
        columns = ", ".join(f"{column} = ?" for column in values)
        self._run(f"UPDATE {table} SET {columns} WHERE {where(key)}", *values.values(), *key.values())
        row = self._one(table, {column: values.get(column, value) for column, value in key.items()})
        self._note(table, row, as_json(before), digest_of(row))

    def delete(self, table: str, **values: Any) -> int:
        """Take out the rows with these values inside `writing()`; how many there were."""
        rows = self.rows(f"SELECT * FROM {table} WHERE {where(values)}", *values.values())
        self._run(f"DELETE FROM {table} WHERE {where(values)}", *values.values())
        for row in rows:
            self._note(table, row, as_json(row), None)
        return len(rows)

    def says(self, what: str) -> None:
        """Put the entry that is being written in better words, where they weren't known before. Not inside
        another `writing`, whose words stand."""
        assert self._draft is not None
        if self._depth == 1:
            self._draft.what = what

    def takes_back(self, number: int, what: str, who: str, job_id: int | None) -> None:
        """Say that the entry that is being written takes back another one."""
        assert self._draft is not None
        self._draft.what, self._draft.who = f"taken back: {what}", who
        self._draft.job_id, self._draft.undoes = job_id, number

    def concerns(self, job_id: int) -> None:
        """Say which job the entry that is being written is about, where it wasn't known before."""
        assert self._draft is not None
        self._draft.job_id = job_id

    def revert(self, change: Change) -> bool:
        """Put one row back as it was before a change, inside `writing()`; False where it isn't any more as
        that change left it."""
        key = key_values(change.table, change.key)
        row = self._found(change.table, key)
        if (None if row is None else digest_of(row)) != change.after:
            return False
        if change.before is None:
            self.delete(change.table, **key)
        elif row is None:
            self.insert(change.table, json.loads(change.before))
        else:
            self.update(change.table, key, json.loads(change.before))
        return True

    def put_back(self, table: str, rows: Iterable[dict[str, Any]]) -> int:
        """Add rows of an exported book as they are, log included, without an entry of their own; how many."""
        count = 0
        with told(self.path):
            for row in rows:
                sql = f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})"
                self._connection.execute(sql, tuple(row.values()))
                count += 1
        return count

    def _run(self, sql: str, *values: Any) -> sqlite3.Cursor:
        with told(self.path):
            return self._connection.execute(sql, values)

    def _one(self, table: str, key: dict[str, Any]) -> sqlite3.Row:
        """The row with this primary key, as it is stored (RETURNING gives numbers as they were given)."""
        row = self._found(table, key)
        assert row is not None, (table, key)
        return row

    def _found(self, table: str, key: dict[str, Any]) -> sqlite3.Row | None:
        return self.row(f"SELECT * FROM {table} WHERE {where(key)}", *key.values())

    def _note(self, table: str, row: sqlite3.Row, before: str | None, after: str | None) -> None:
        assert self._draft is not None, "rows are changed inside writing() only"
        self._draft.changes.append(Change(table, key_of(table, row), before, after))

    @contextmanager
    def writing(self, what: str = "", *, who: str = "", job_id: int | None = None) -> Iterator[None]:
        """All that is done inside becomes durable together on leaving, or nothing does; one entry of the log.

        what: the write in words. who: who does it. What was acknowledged after leaving survives a kill and
        a power cut. Inside another `writing` it joins that one.
        """
        if self._draft is not None:
            self._depth += 1
            try:
                yield
            finally:
                self._depth -= 1
            return
        with told(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            self._draft = Draft(what, who, job_id)
            try:
                yield
                number = write_entry(self._connection, self._draft, self.stamp(), self._together)
                self._connection.execute("COMMIT")
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                self.photos.abandon(self._holds_photo)
                raise
            finally:
                self._draft = None
            self.photos.settle()
            if self._together is not None and number is not None:
                self._together.number = self._together.number or number

    @contextmanager
    def together(self, word: str = REVIEW) -> Iterator[None]:
        """Entries written inside belong together, under a word: `undo` takes them back as one."""
        self._together = Together(word)
        try:
            yield
        finally:
            self._together = None

    def stamp(self) -> str:
        """The present moment as the book writes it."""
        return stamp(self.clock())

    def back_up(self, label: str = "by-hand") -> Path:
        """A copy of the database in the backup folder; photos aren't copied, they never change."""
        with told(self.path):
            return back_up(self._connection, self.path, label, self.clock)

    def close(self) -> None:
        self._connection.close()

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
