"""The log as a person reads it, and taking an entry back."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.log import UNDO, Change, start_of_all
from contactread.records.rows import noun_of


@dataclass(frozen=True)
class Entry:
    """One write. job: the job it concerns, None for none or several. undoes: the entry that it took back;
    undone: whether it was taken back itself and is so still."""

    number: int
    who: str
    at: str
    what: str
    job: int | None
    undoes: int | None
    undone: bool


_Thing = tuple[str, int]  # "job" or "photo", and its number


class _Later(NamedTuple):
    """A later entry that stands, and the jobs and photos that it touched."""

    number: int
    who: str
    what: str
    touched: set[_Thing]


def entries(book: Book, *, job_id: int | None = None, most: int = 50) -> list[Entry]:
    """The log's entries, newest first; those about one job where it is named."""
    where = "" if job_id is None else "WHERE job_id = ?"
    values = (most,) if job_id is None else (job_id, most)
    rows = book.rows(f"SELECT * FROM entry {where} ORDER BY id DESC LIMIT ?", *values)
    undone = _undone(book)
    return [_entry(row, undone) for row in rows]


def undo(book: Book, *, who: str | None = None, number: int | None = None) -> Entry:
    """Take back an entry: the last one of a person (of anyone, where nobody is named), or one by its number.

    Every row becomes what it was before. What was taken back stays in the log, and this is an entry of its
    own, which can be taken back too. Refused where later entries about the same job or photo still stand: the
    book always becomes what it would be had the entry never been written.
    Raises `BookError` undo-nothing, undo-done, undo-built-upon.
    """
    with book.writing("undo"):
        entry = _last(book, who) if number is None else _numbered(book, number)
        _take_back(book, entry, who, _later(book, entry.number))
    return entry


def undo_whole(book: Book, *, who: str | None = None, number: int | None = None) -> list[Entry]:
    """As `undo`, with all that belongs to it: the other entries of a review, where its last one is taken
    back; of an undo of several, where one of them is. One entry of a review by its number goes alone. The
    entries, newest first.

    Raises `BookError` as `undo`, before anything is taken back. A stop halfway leaves the rest to the next.
    """
    last = _last(book, who) if number is None else _numbered(book, number)
    start = start_of_all(last.what)
    if not start or (number is not None and last.undoes is None):
        return [undo(book, who=who, number=last.number)]
    undone = _undone(book)
    rows = book.rows("SELECT * FROM entry ORDER BY id DESC")
    every = [_entry(row, undone) for row in rows if row["what"].startswith(start) and row["id"] not in undone]
    others = [each for each in _later(book, every[-1].number) if not each.what.startswith(start)]
    for entry in every:
        _refuse_built_upon(book, entry, others)
    with book.together(UNDO):
        for entry in every:
            with book.writing("undo"):
                _take_back(book, entry, who, _later(book, rows[0]["id"]))
    return every


def _take_back(book: Book, entry: Entry, who: str | None, later: Sequence[_Later]) -> None:
    _refuse_built_upon(book, entry, later)
    book.takes_back(entry.number, entry.what, who or entry.who, entry.job)
    try:
        for change in reversed(_changes(book, entry.number)):
            if change.table == "axle":
                continue  # An axle file is kept once for all that use it, perhaps others by now.
            if not book.revert(change):
                raise _built_upon(entry, f"a row of {change.table} has changed since")
    except sqlite3.IntegrityError as error:
        raise _built_upon(entry, "later work refers to it") from error


def _last(book: Book, who: str | None) -> Entry:
    undone = _undone(book)
    for row in book.each("SELECT * FROM entry WHERE undoes IS NULL ORDER BY id DESC"):
        if row["id"] in undone or (who is not None and row["who"].casefold() != who.strip().casefold()):
            continue
        if not row["who"]:
            break  # what the program did when it brought the book up to date
        return _entry(row, undone)
    raise BookError(
        "undo-nothing",
        "There is nothing to take back" + ("." if who is None else f" by {who}."),
        "See 'contactread log' for what was written, and by whom.",
    )


def _numbered(book: Book, number: int) -> Entry:
    row = book.row("SELECT * FROM entry WHERE id = ?", number)
    undone = _undone(book)
    if row is None or not row["who"]:
        raise BookError("undo-nothing", f"There is no entry {number} to take back.", "See 'contactread log'.")
    if number in undone:
        raise BookError("undo-done", f"Entry {number} is taken back already.", "See 'contactread log'.")
    return _entry(row, undone)


def _undone(book: Book) -> set[int]:
    """Entries that are taken back, and whose taking back still stands."""
    undone: set[int] = set()
    for number, undoes in book.rows("SELECT id, undoes FROM entry WHERE undoes IS NOT NULL ORDER BY id DESC"):
        if number not in undone:
            undone.add(undoes)
    return undone


def _changes(book: Book, number: int) -> list[Change]:
    sql = "SELECT table_name, row_key, before, after FROM change WHERE entry_id = ? ORDER BY number"
    return [Change(*row) for row in book.rows(sql, number)]


def _touched(book: Book, number: int, job: int | None) -> set[_Thing]:
    """The jobs and photos that an entry touched."""
    touched: set[_Thing] = set() if job is None else {("job", job)}
    for change in _changes(book, number):
        if change.table in ("job", "sign_off", "check_list"):
            touched.add(("job", int(change.key.split("/")[0])))
        elif change.table == "photo":
            touched.add(("photo", int(change.key)))
        elif change.table == "reading":
            now = book.value("SELECT photo_id FROM reading WHERE id = ?", int(change.key))
            touched.add(("photo", now if change.before is None else json.loads(change.before)["photo_id"]))
        elif change.table in ("try", "correction", "reopening"):
            now = book.value(f"SELECT job_id FROM {change.table} WHERE id = ?", int(change.key))
            before = None if change.before is None else json.loads(change.before)["job_id"]
            touched |= {("job", each) for each in (now, before) if each is not None}
    return touched


def _later(book: Book, number: int) -> list[_Later]:
    """What still stands of the entries after this one, newest first."""
    rows = book.rows("SELECT * FROM entry WHERE id > ? AND undoes IS NULL ORDER BY id DESC", number)
    undone = _undone(book) if rows else set()
    return [
        _Later(row["id"], row["who"], row["what"], _touched(book, row["id"], row["job_id"]))
        for row in rows
        if row["id"] not in undone
    ]


def _refuse_built_upon(book: Book, entry: Entry, later: Sequence[_Later]) -> None:
    """Refuse where later entries on the same jobs or photos stand."""
    touched = _touched(book, entry.number, entry.job) if later else set()
    for each in later:
        if each.number > entry.number and (shared := touched & each.touched):
            same = "job" if any(kind == "job" for kind, _ in shared) else "photo"
            raise BookError(
                "undo-built-upon",
                f"Entry {entry.number} ({entry.what}) can't be taken back: entry {each.number} by {each.who} "
                f"({each.what}) came after it on the same {same}. Nothing was changed.",
                f"Take that back first, with 'contactread undo --entry {each.number}', or correct the value.",
            )


def _built_upon(entry: Entry, why: str) -> BookError:
    return BookError(
        "undo-built-upon",
        f"Entry {entry.number} ({entry.what}) can't be taken back: {why}. Nothing was changed.",
        "Take later entries back first (see 'contactread log'), or correct the value.",
    )


def _entry(row: sqlite3.Row, undone: set[int]) -> Entry:
    return noun_of(Entry, row, number=row["id"], job=row["job_id"], undone=row["id"] in undone)
