"""Is the book sound? The database, every row and the log by their digests, every photo by its SHA-256."""

from __future__ import annotations

import json
import math
import random
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from contactread.errors import BookError
from contactread.records.book import WAIT_S, Book
from contactread.records.log import TABLES, broken_entries, changed_rows, key_of, key_values, where
from contactread.records.measured import refuse_unreadable
from contactread.records.opening import connect_to_write
from contactread.records.photo_store import hash_of
from contactread.records.photos import kept_photos, place_of, reading_row

_MOMENT = re.compile(r"(19[7-9]\d|20\d\d)-\d\d-\d\dT\d\d:\d\d:\d\dZ")
# What reading a damaged table can end in; told as a finding.
_UNREADABLE = (sqlite3.Error, ValueError, OverflowError, TypeError, LookupError, BookError)
_JSON = ("json", "left_open", "signed")
_TEXTS = ("job_text", "try_text", "photo_text", "sign_off_text", "reading_text")


@dataclass(frozen=True)
class Soundness:
    """What was found. database: SQLite's own findings. changed: facts that aren't as they were written, and
    entries of the log. impossible: dates, numbers and readings that can't be. missing, altered: SHA-256 of
    photos whose file is gone or whose bytes changed. orphans: files that belong to no photo, which do no
    harm. unfinished: leftovers of a killed command, which the next writing command clears up. photos,
    looked_at: how many there are, and how many files were read through."""

    database: tuple[str, ...]
    changed: tuple[str, ...]
    impossible: tuple[str, ...]
    missing: tuple[str, ...]
    altered: tuple[str, ...]
    orphans: tuple[str, ...]
    unfinished: tuple[str, ...]
    photos: int
    looked_at: int

    @property
    def clean(self) -> bool:
        return not (self.database or self.changed or self.impossible or self.missing or self.altered)


def check_book(
    book: Book, *, sample: int | None = None, seed: int | None = None, step: Callable[[], None] = lambda: None
) -> Soundness:
    """Check the database and its photos. sample: read only that many files through, chosen by chance;
    all are looked for. step: called for each file that was read."""
    database = database_findings(book)
    with book.one_moment():  # others may write meanwhile
        changed, impossible = check_facts(book, database)
    photos = [] if database else kept_photos(book)
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
        changed=tuple(changed),
        impossible=tuple(impossible),
        missing=tuple(sorted(set(known) - set(there))),
        altered=tuple(sorted(altered)),
        orphans=() if database else tuple(_orphans(book, set(known.values()), set(unfinished))),
        unfinished=tuple(unfinished),
        photos=len(photos),
        looked_at=len(chosen),
    )


def check_facts(book: Book, database: list[str]) -> tuple[list[str], list[str]]:
    """What changed without an entry, and what can't be, in words. What can't even be read any more is added
    to `database`."""
    changed: list[str] = []
    impossible: list[str] = []
    for table in TABLES:
        try:
            for key, columns in changed_rows(book.connection, table):
                changed.append(f"{named(book, table, key)}: {_what(book, table, key, columns)}")
            for row in book.connection.execute(f"SELECT * FROM {table}"):
                impossible += [
                    f"{named(book, table, key_of(table, row))}: {w}" for w in _impossible(table, row)
                ]
        except _UNREADABLE as error:
            database.append(f"table {table} can't be read: {error}")
    try:
        changed += [f"entry {n} of the log isn't as it was written" for n in broken_entries(book.connection)]
        changed += _search_index(book)
    except _UNREADABLE as error:
        database.append(f"the log or the search index can't be read: {error}")
    return changed, impossible


def _what(book: Book, table: str, key: str, columns: tuple[str, ...]) -> str:
    if not columns:
        return "the row is missing"
    if columns == ("*",):
        return "no entry of the log put it there"
    row = book.row(f"SELECT * FROM {table} WHERE {where(TABLES[table])}", *key_values(table, key).values())
    shown = [f"{c} is {str(row[c])[:60]!r} now" if row is not None else c for c in columns]
    return f"changed since it was written: {', '.join(shown)}"


def named(book: Book, table: str, key: str) -> str:
    """A row as a person knows it."""
    try:
        values = key_values(table, key)
        number = values.get("try_id", values.get("id") if table == "try" else None)
        if place := place_of(book, number):
            rest = "".join(f", {table} {v}" for name, v in values.items() if name in ("place", "name"))
            return f"job {place[0]}, try {place[1]}{rest}"
    except (ValueError, BookError, sqlite3.Error):
        pass
    return f"{table.replace('_', ' ')} {key}"


def _impossible(table: str, row: sqlite3.Row) -> Iterator[str]:
    for column in row.keys():  # noqa: SIM118 (a sqlite3.Row iterates over its values)
        value = row[column]
        if column.endswith("_at") and not _is_moment(value):
            yield f"{column} {str(value)[:40]!r} is no date"
        elif isinstance(value, float) and not math.isfinite(value):
            yield f"{column} {value} is no number"
        elif column in _JSON and not _is_json(value):
            yield f"{column} isn't JSON"
    if table == "reading" and _is_json(row["json"]):
        yield from _reading(row)


def _reading(row: sqlite3.Row) -> Iterator[str]:
    data = json.loads(row["json"])
    try:
        refuse_unreadable(data)
        expected: dict[str, Any] = reading_row(data)
    except BookError as error:
        yield error.message
        return
    except (KeyError, TypeError, IndexError) as error:
        yield f"json isn't a reading: {error}"
        return
    for column, value in expected.items():
        if column != "json" and row[column] != value:
            yield f"{column} {str(row[column])[:40]!r} isn't what was read"


def _is_moment(value: object) -> bool:
    if not isinstance(value, str) or not _MOMENT.fullmatch(value):
        return False
    try:
        datetime.fromisoformat(value)
    except ValueError:
        return False
    return True


def _is_json(value: object) -> bool:
    try:
        json.loads(str(value))
    except (ValueError, RecursionError):
        return False
    return True


def _search_index(book: Book) -> list[str]:
    """Words of the search index that aren't what the tables say."""
    texts = " UNION ALL ".join(f"SELECT place, text FROM {view}" for view in _TEXTS)
    sql = f"""
        SELECT count(*) FROM (
            SELECT * FROM (SELECT rowid, text FROM words EXCEPT SELECT * FROM ({texts}))
            UNION ALL SELECT * FROM ({texts} EXCEPT SELECT rowid, text FROM words))
    """
    wrong = book.value(sql)
    found = [f"the search index has {wrong} texts otherwise than the tables"] if wrong else []
    return found + _search_findings(book)


def database_findings(book: Book) -> list[str]:
    """What SQLite's own checks find wrong; empty for a sound database."""
    try:
        bad = [str(row[0]) for row in book.connection.execute("PRAGMA integrity_check")]
        bad = [] if bad == ["ok"] else bad
        for row in book.connection.execute("PRAGMA foreign_key_check"):
            bad.append(f"table {row[0]}, row {row[1]}: refers to a missing row of {row[2]}")
    except sqlite3.DatabaseError as error:
        bad = [str(error)]
    return bad


def _search_findings(book: Book) -> list[str]:
    """What SQLite's own check of the search index finds. It needs a writing connection, which writes
    nothing; where the book can't be written, the index isn't checked."""
    try:
        with closing(connect_to_write(book.path, WAIT_S)) as second:
            second.execute("BEGIN IMMEDIATE")
            try:
                second.execute("INSERT INTO words (words) VALUES ('integrity-check')")
            finally:
                second.execute("ROLLBACK")
    except sqlite3.DatabaseError as error:
        if (getattr(error, "sqlite_errorcode", 0) or 0) & 0xFF == sqlite3.SQLITE_CORRUPT:
            return ["the search index is damaged"]
    except BookError:
        pass
    return []


def _orphans(book: Book, known: set[Path], unfinished: set[str]) -> list[str]:
    folder = book.photos.folder
    return [
        path.relative_to(folder).as_posix()
        for path in book.photos.files()
        if path not in known and path.name.split(".")[0] not in unfinished
    ]
