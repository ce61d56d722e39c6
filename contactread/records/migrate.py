"""Steps that bring a book to the schema of this program: all of a step or nothing, after a backup."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from contactread.errors import BookError
from contactread.records.place import backup_folder

# Marks the file as ours in its SQLite header ("CtRd").
APPLICATION_ID = 0x43745264

Clock = Callable[[], datetime]


@dataclass(frozen=True)
class Step:
    """One step of the schema. number: 1, 2, 3, ... in order. sql: its statements."""

    number: int
    name: str
    sql: str


def steps() -> tuple[Step, ...]:
    """The steps that ship with this program, in order."""
    files = sorted(Path(__file__).parent.glob("schema_*.sql"))
    return tuple(Step(int(file.stem[-3:]), file.name, file.read_text(encoding="utf-8")) for file in files)


def now() -> datetime:
    """The present time in UTC; the default clock."""
    return datetime.now(UTC)


def stamp(moment: datetime) -> str:
    """A moment as the book writes it: UTC, to the second."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def version_of(connection: sqlite3.Connection) -> int:
    """The book's schema version; 0 for a file that holds nothing yet."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def refuse_foreign(connection: sqlite3.Connection, path: Path, newest: int) -> None:
    """Raise `BookError` for a file that isn't a book (book-not-a-book) or a newer one (book-too-new)."""
    version = version_of(connection)
    mark = int(connection.execute("PRAGMA application_id").fetchone()[0])
    tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    if mark != APPLICATION_ID and (tables or version):
        raise BookError(
            "book-not-a-book",
            f"{path} is a database, but not a shop book of contactread. Nothing was changed.",
            "Give the book's own file with --book, or a new name to begin a book there.",
        )
    if version > newest:
        raise BookError(
            "book-too-new",
            f"The shop book {path} was written by a newer contactread (schema {version}; this one knows "
            f"{newest}). Nothing was changed.",
            "Update contactread, then do this again.",
        )


def migrate(connection: sqlite3.Connection, path: Path, todo: tuple[Step, ...], clock: Clock) -> None:
    """Apply the steps that the book lacks, each with its record in one transaction.

    A book that holds something is backed up first. A step that fails leaves the book as it was.
    """
    holds_something = version_of(connection) > 0
    for step in todo:
        if version_of(connection) >= step.number:
            continue
        if holds_something:
            back_up(connection, path, f"before-schema-{step.number}", clock)
        connection.execute("BEGIN IMMEDIATE")
        try:
            if version_of(connection) < step.number:  # Another process may have been quicker.
                for statement in statements(step.sql):
                    connection.execute(statement)
                connection.execute(
                    "INSERT INTO migration VALUES (?, ?, ?)", (step.number, step.name, stamp(clock()))
                )
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {step.number}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def statements(sql: str) -> Iterator[str]:
    """The single statements of an SQL text; triggers stay whole."""
    pending = ""
    for line in sql.splitlines(keepends=True):
        pending += line
        if pending.strip() and sqlite3.complete_statement(pending):
            yield pending
            pending = ""
    if pending.strip():
        yield pending


def back_up(connection: sqlite3.Connection, path: Path, label: str, clock: Clock) -> Path:
    """Copy the book's database into its backup folder, whole and synced; the new file's path.

    Written under a temporary name and renamed, so that a half backup never looks like one.
    """
    folder = backup_folder(path)
    folder.mkdir(exist_ok=True)
    moment = clock().astimezone(UTC).strftime("%Y%m%dT%H%M%S%f")
    target = folder / f"{path.stem}-{moment}-{label}.sqlite"
    unfinished = target.with_suffix(f".unfinished-{os.getpid()}")
    try:
        copy = sqlite3.connect(unfinished)
        try:
            connection.backup(copy)
        finally:
            copy.close()
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        unfinished.replace(target)
    finally:
        unfinished.unlink(missing_ok=True)
    sync_folder(folder)
    return target


def sync_folder(folder: Path) -> None:
    """Make a rename inside `folder` durable, where the system allows syncing folders."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
