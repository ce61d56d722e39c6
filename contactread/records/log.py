"""The log of the shop book: each write as an entry, with every row as it was before and a digest of it since.

Digests are chained: an entry's covers the one before. So a row, or the log itself, that changed without an
entry is found (`check`), and any entry can be taken back (`undo`).
"""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

# Every table that is kept, with its primary key, in the order in which rows can be put back: what is referred
# to comes first.
TABLES: dict[str, tuple[str, ...]] = {
    "axle": ("id",), "job": ("id",), "try": ("id",), "backlash": ("try_id", "place"),
    "fastener": ("try_id", "name"), "photo": ("id",), "reading": ("id",), "advice": ("id",),
    "sign_off": ("job_id",), "check_list": ("job_id", "item"), "correction": ("id",), "reopening": ("id",),
    "practice_answer": ("id",), "practice_case": ("try_id",),
}  # fmt: skip
WITH_UID = frozenset({"job", "try", "reading", "advice", "correction", "reopening", "practice_answer"})
_START = "0" * 64
REVIEW, UNDO = "review", "undo"  # so begin the words of entries that belong together, with their number
Row = Mapping[str, Any] | sqlite3.Row


@dataclass(frozen=True)
class Change:
    """One row that an entry put in (before None), changed, or took out (after None)."""

    table: str
    key: str
    before: str | None
    after: str | None


@dataclass
class Draft:
    """An entry while its transaction is open."""

    what: str
    who: str
    job_id: int | None
    undoes: int | None = None
    changes: list[Change] = field(default_factory=list)


@dataclass
class Together:
    """What all entries of one review, or of one undo, belong to. word: which. number: of the first of them,
    None before that.
    """

    word: str = REVIEW
    number: int | None = None


def start_of_all(what: str) -> str:
    """The words with which all entries begin that belong together with this one; empty for one alone."""
    found = re.match(rf"({REVIEW}|{UNDO}) \d+: ", what)
    return found[0] if found else ""


def key_of(table: str, row: Row) -> str:
    """A row's primary key in one text."""
    return "/".join(str(row[column]) for column in TABLES[table])


def key_values(table: str, key: str) -> dict[str, Any]:
    """The columns of a primary key; what `key_of` made."""
    columns = TABLES[table]
    parts = key.split("/", len(columns) - 1)
    texts = {"name", "item"}
    return {c: part if c in texts else int(part) for c, part in zip(columns, parts, strict=True)}


def where(columns: Iterable[str]) -> str:
    """The condition that names a row by these columns; values come in their order."""
    return " AND ".join(f"{column} = ?" for column in columns)


def digest_of(row: Row) -> str:
    """A digest of each column of a row, joined by dots."""
    return ".".join(
        hashlib.blake2b(json.dumps([name, row[name]]).encode(), digest_size=8).hexdigest()
        for name in row.keys()  # noqa: SIM118 (a sqlite3.Row iterates over its values)
    )


def as_json(row: Row) -> str:
    """A row as it is kept in the log."""
    return json.dumps({name: row[name] for name in row.keys()}, ensure_ascii=False)  # noqa: SIM118


def write_entry(
    connection: sqlite3.Connection, draft: Draft, at: str, together: Together | None = None
) -> int | None:
    """Put an entry and its changes at the log's end, inside the open transaction; its number.

    together: what it belongs to, which its words then begin with. None where nothing was changed.
    """
    if not draft.changes:
        return None
    last = connection.execute("SELECT id, digest FROM entry ORDER BY id DESC LIMIT 1").fetchone()
    number, before = (1, _START) if last is None else (last[0] + 1, last[1])
    what = draft.what if together is None else f"{together.word} {together.number or number}: {draft.what}"
    entry = (number, draft.who, at, what, draft.job_id, draft.undoes)
    rows = [(number, k, c.table, c.key, c.before, c.after) for k, c in enumerate(draft.changes, 1)]
    digest = _chained(before, entry, rows)
    connection.execute("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)", (*entry, digest))
    connection.executemany("INSERT INTO change VALUES (?, ?, ?, ?, ?, ?)", rows)
    return number


def adopt(connection: sqlite3.Connection, what: str, at: str) -> None:
    """One entry for all rows that the log doesn't know, or knows otherwise: after a migration."""
    draft = Draft(what, "", None)
    for table in TABLES:
        known = latest(connection, table)
        cursor = connection.execute(f"SELECT * FROM {table}")
        cursor.row_factory = sqlite3.Row
        for row in cursor:
            key, digest = key_of(table, row), digest_of(row)
            if known.get(key) != digest:
                draft.changes.append(Change(table, key, None, digest))
    write_entry(connection, draft, at)


def latest(connection: sqlite3.Connection, table: str) -> dict[str, str]:
    """Row key -> digest of the rows that a table must hold by the log."""
    cursor = connection.execute(
        "SELECT row_key, after FROM change WHERE table_name = ? ORDER BY entry_id, number", (table,)
    )
    cursor.row_factory = None
    known: dict[str, str] = {}
    for key, after in cursor:
        if after is None:
            known.pop(key, None)
        else:
            known[key] = after
    return known


def broken_entries(connection: sqlite3.Connection) -> Iterator[int]:
    """Numbers of the entries that aren't as they were written, or are missing."""
    entries = connection.execute("SELECT id, who, at, what, job_id, undoes, digest FROM entry ORDER BY id")
    changes = connection.execute("SELECT * FROM change ORDER BY entry_id, number")
    entries.row_factory = changes.row_factory = None
    waiting = next(changes, None)
    number, before = 0, _START
    for *entry, digest in entries:
        while entry[0] > number + 1:
            number += 1
            yield number
        number = entry[0]
        rows = []
        while waiting is not None and waiting[0] <= number:
            rows.append(waiting)
            waiting = next(changes, None)
        if _chained(before, tuple(entry), rows) != digest:
            yield number
        before = str(digest)
    if waiting is not None:
        yield waiting[0]


def changed_rows(connection: sqlite3.Connection, table: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Rows that aren't as the log says: key, and the columns that changed; none for a row that is missing,
    ("*",) for one that no entry put in."""
    known = latest(connection, table)
    cursor = connection.execute(f"SELECT * FROM {table}")
    cursor.row_factory = sqlite3.Row
    for row in cursor:
        key, digest = key_of(table, row), digest_of(row)
        said = known.pop(key, None)
        if said is None:
            yield key, ("*",)
        elif said != digest:
            parts = zip(row.keys(), said.split("."), digest.split("."), strict=False)
            yield key, tuple(name for name, a, b in parts if a != b) or ("*",)
    for key in known:
        yield key, ()


def _chained(before: str, entry: tuple[Any, ...], rows: list[tuple[Any, ...]]) -> str:
    digest = hashlib.sha256(before.encode())
    for part in (entry, *rows):
        digest.update(json.dumps(part, ensure_ascii=False).encode("utf-8", "surrogatepass"))
    return digest.hexdigest()
