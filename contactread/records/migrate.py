"""Steps that bring a book to the schema of this program: all of a step or nothing, after a backup."""

from __future__ import annotations

import hashlib
import os
import re
import sqlite3
import time
from collections.abc import Iterable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from contactread.errors import BookError, ContactreadError, DamagedBookError
from contactread.records.failures import damaged
from contactread.records.log import adopt
from contactread.records.moments import Clock, in_a_name, stamp
from contactread.records.place import backup_folder, own_folder, sync_folder

# Marks the file as ours in its SQLite header ("CtRd").
APPLICATION_ID = 0x43745264
_ABANDONED_S = 3600.0
LOGGED_SINCE = 3  # the schema that brought the log


@dataclass(frozen=True)
class Step:
    """One step of the schema. number: 1, 2, 3, ... in order. sql: its statements."""

    number: int
    name: str
    sql: str


@cache
def steps() -> tuple[Step, ...]:
    """The steps that ship with this program, in order. Raises `ContactreadError` own-files-unreadable."""
    folder, reason = Path(__file__).parent, "its schema isn't there"
    try:
        files = sorted(path for path in folder.iterdir() if path.match("schema_*.sql"))
        found = tuple(Step(int(f.stem[-3:]), f.name, f.read_text(encoding="utf-8")) for f in files)
    except OSError as error:
        found, reason = (), f"{error.strerror} ({error.filename})"
    if not found:
        raise ContactreadError(
            "own-files-unreadable",
            f"contactread can't read its own files in {folder}: {reason}.",
            "Let your user read that folder, or install contactread anew where it may be read.",
        )
    return found


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
    """Apply the steps that the book lacks, each with its record, all in one transaction.

    A book that holds something is backed up first. Where a step fails, the book stays as it was.
    """
    began_with = version_of(connection)
    if began_with:
        back_up(connection, path, f"before-schema-{todo[-1].number}", clock)
    # A table that is made anew keeps the rows that refer to it; they are all looked at before the end.
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("BEGIN IMMEDIATE")
    try:
        began_with = version_of(connection)  # Another process may have been quicker.
        apply(connection, [step for step in todo if step.number > began_with], stamp(clock()))
        if connection.execute("PRAGMA foreign_key_check").fetchone() is not None:
            raise damaged(path, "rows refer to others that are missing.")
        if began_with and version_of(connection) >= LOGGED_SINCE:
            adopt(connection, f"brought from schema {began_with} to {todo[-1].number}", stamp(clock()))
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    finally:
        connection.execute("PRAGMA foreign_keys = ON")


def apply(connection: sqlite3.Connection, todo: Iterable[Step], at: str) -> None:
    """Run the statements of steps, each with its record, inside the open transaction."""
    connection.create_function("sha256", 1, _sha256, deterministic=True)
    for step in todo:
        for statement in statements(step.sql):
            connection.execute(statement)
        connection.execute("INSERT INTO migration VALUES (?, ?, ?)", (step.number, step.name, at))
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {step.number}")


@cache
def _objects_of(todo: tuple[Step, ...]) -> frozenset[tuple[str, ...]]:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as model:
        model.execute("PRAGMA foreign_keys = OFF")
        apply(model, todo, "")
        return _objects(model)


def refuse_other_schema(connection: sqlite3.Connection, path: Path, todo: tuple[Step, ...]) -> None:
    """Raise `DamagedBookError` book-schema for a book whose tables aren't those of its schema's number."""
    version = version_of(connection)
    expected = _objects_of(tuple(step for step in todo if step.number <= version))
    strange = sorted({name for _, name, *_ in expected ^ _objects(connection)})
    if strange:
        raise DamagedBookError(
            "book-schema",
            f"The shop book {path} is not what it says: schema {version} has {strange[0][:60]!r} otherwise. "
            "Nothing was changed.",
            "Put back a backup with 'contactread restore', and don't write to this file.",
        )


def _objects(connection: sqlite3.Connection) -> frozenset[tuple[str, ...]]:
    sql = "SELECT type, name, tbl_name, ifnull(sql, '') FROM sqlite_master WHERE name NOT LIKE 'sqlite_stat%'"
    return frozenset((*names, _bare(text)) for *names, text in connection.execute(sql))


@lru_cache(maxsize=500)
def _bare(sql: str) -> str:
    """A statement without its comments, so that their words may be bettered."""
    return " ".join(re.sub(r"--[^\n]*", "", sql).split())


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


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


def _sweep(folder: Path) -> None:
    """Take away what killed programs left half written an hour ago or more."""
    with suppress(OSError):
        for left in folder.glob("*.unfinished-*"):
            if time.time() - left.stat().st_mtime > _ABANDONED_S:
                left.unlink()


def back_up(connection: sqlite3.Connection, path: Path, label: str, clock: Clock) -> Path:
    """Copy the book's database into its backup folder, whole and synced; the new file's path.

    Written under a temporary name and renamed, so that a half backup never looks like one.
    """
    folder = backup_folder(path)
    own_folder(folder)
    target = folder / f"{path.stem}-{in_a_name(clock())}-{label}.sqlite"
    _sweep(folder)
    unfinished = target.with_suffix(f".unfinished-{os.getpid()}")
    try:
        os.close(os.open(unfinished, os.O_CREAT | os.O_RDWR, 0o600))
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
