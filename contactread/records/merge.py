"""An exported book merged into this one: what is new comes in, what differs is told and left."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from contactread.records.book import Book
from contactread.records.log import TABLES, WITH_UID, where
from contactread.records.photo_store import hash_of
from contactread.records.photos import place_of
from contactread.records.transfer import damaged, original, remove, unpack
from contactread.records.tries import next_number
from contactread.records.words import line

_REFERS = {"axle_id": "axle", "job_id": "job", "try_id": "try", "final_try_id": "try", "photo_id": "photo"}
# Columns by which a record is known in every book; else its primary key, put into this book's numbers.
_KNOWN_BY = {"axle": ("sha256",), "photo": ("sha256",)} | dict.fromkeys(WITH_UID, ("uid",))


@dataclass
class Merged:
    """What a merge did, or would do. new, same: records by table. conflicts: what differs, in words; this
    book's side stays. jobs: number there -> number here, of jobs that are new. log_left: entries of the other
    book's log, which stay there: here the merge is one entry."""

    new: Counter[str] = field(default_factory=Counter)
    same: Counter[str] = field(default_factory=Counter)
    conflicts: list[str] = field(default_factory=list)
    jobs: dict[int, int] = field(default_factory=dict)
    log_left: int = 0


class _DryRun(Exception):
    pass


def merge_book(
    book: Book, folder: Path, *, who: str, dry_run: bool = False, step: Callable[[], None] = lambda: None
) -> Merged:
    """Bring the records of an exported book into this one: one entry of the log, which can be undone.

    A record is known by its own identity, whatever its number there. dry_run: only find out.
    Raises `BookError` as `unpack`.
    """
    person = line(who, "name of the person", required=True)
    other_path = book.path.with_name(f"{book.path.stem}-merging{book.path.suffix}")
    found = Merged()
    try:
        unpack(folder, other_path, photos=False)
        with Book(other_path) as other, book.writing(f"merged with {folder.name}", who=person):
            found.log_left = int(other.value("SELECT count(*) FROM entry"))
            merging = _Merging(book, other, folder, found, dry_run, step)
            for table in TABLES:
                merging.table(table)
            if dry_run:
                raise _DryRun
    except _DryRun:
        pass
    finally:
        remove(other_path)
    return found


class _Merging:
    def __init__(
        self, book: Book, other: Book, folder: Path, found: Merged, dry_run: bool, step: Callable[[], None]
    ) -> None:
        self._book, self._other, self._folder = book, other, folder
        self._found, self._dry_run, self._step = found, dry_run, step
        self._numbers: dict[str, dict[int, int]] = {table: {} for table in TABLES}
        self._added: dict[str, set[int]] = {table: set() for table in TABLES}
        self._filled: set[int] = set()  # tries whose backlash comes from there
        self._unsigned: set[int] = set()  # jobs whose sign-off there isn't taken over

    def table(self, table: str) -> None:
        for row in self._other.each(f"SELECT * FROM {table} ORDER BY {', '.join(TABLES[table])}"):
            values = {name: self._here(name, row[name]) for name in row.keys()}  # noqa: SIM118
            ours = self._ours(table, values)
            if ours is None:
                self._new(table, row, values)
            else:
                self._known(table, row, values, ours)

    def _here(self, column: str, value: Any) -> Any:
        """A reference in this book's numbers; any other value as it is."""
        return value if value is None or column not in _REFERS else self._numbers[_REFERS[column]][value]

    def _ours(self, table: str, values: dict[str, Any]) -> sqlite3.Row | None:
        columns = _KNOWN_BY.get(table, TABLES[table])
        return self._book.row(f"SELECT * FROM {table} WHERE {where(columns)}", *(values[c] for c in columns))

    def _new(self, table: str, row: sqlite3.Row, values: dict[str, Any]) -> None:
        why = self._why_not(table, values)
        if why:
            self._found.conflicts.append(why)
            return
        if table == "check_list" and values["job_id"] in self._unsigned:
            return
        if table == "try":
            self._renumber(row, values)
        if table == "photo":
            self._put_photo(row)
        values.pop("id", None)
        number = self._book.insert(table, values)
        self._found.new[table] += 1
        if "id" in row.keys():  # noqa: SIM118
            self._numbers[table][row["id"]] = number
            self._added[table].add(number)
        if table == "backlash":
            self._filled.add(values["try_id"])
        if table == "job":
            self._found.jobs[row["id"]] = number

    def _known(self, table: str, row: sqlite3.Row, values: dict[str, Any], ours: sqlite3.Row) -> None:
        if "id" in row.keys():  # noqa: SIM118
            self._numbers[table][row["id"]] = ours["id"]
        if table == "photo" and ours["try_id"] is None and values["try_id"] is not None:
            self._book.update("photo", {"id": ours["id"]}, {"try_id": values["try_id"]})
            self._found.new["photo"] += 1
            return
        ignored = {"id", "kind"} if table == "axle" else {"id"}
        differs = [name for name in values if name not in ignored and values[name] != ours[name]]
        if not differs:
            self._found.same[table] += 1
        for name in differs:
            self._found.conflicts.append(
                f"{self._named(table, ours)}, {name.replace('_', ' ')}: {_short(ours[name])} here, "
                f"{_short(values[name])} there"
            )

    def _why_not(self, table: str, values: dict[str, Any]) -> str:
        """Why a record that this book lacks isn't taken over; empty where it is."""
        if table == "sign_off" and values["job_id"] not in self._added["job"]:
            if self._book.row("SELECT 1 FROM reopening WHERE job_id = ?", values["job_id"]) is not None:
                self._unsigned.add(values["job_id"])
                return f"job {values['job_id']}: reopened here, signed off there"
        elif table == "backlash" and values["try_id"] not in self._added["try"] | self._filled:
            sql = (
                "SELECT 1 FROM backlash WHERE try_id = ?1 "
                "UNION ALL SELECT 1 FROM correction WHERE try_id = ?1 AND field = 'backlash_mm'"
            )
            if self._book.row(sql, values["try_id"]) is not None:
                place = self._book.row("SELECT * FROM try WHERE id = ?", values["try_id"])
                assert place is not None
                return f"{self._named('try', place)}: backlash was measured otherwise there"
        elif table == "reading" and values["photo_id"] not in self._added["photo"]:
            sql = "SELECT 1 FROM reading WHERE photo_id = ? AND read_at > ?"
            if self._book.row(sql, values["photo_id"], values["read_at"]) is not None:
                return f"photo {values['photo_id']}: a reading there is older than the newest here"
        elif table == "advice" and values["try_id"] not in self._added["try"]:
            sql = "SELECT try.* FROM advice JOIN try ON try.id = try_id WHERE try_id = ? AND given_at > ?"
            place = self._book.row(sql, values["try_id"], values["given_at"])
            if place is not None:
                return f"{self._named('try', place)}: advice there is older than the newest here"
        return ""

    def _renumber(self, row: sqlite3.Row, values: dict[str, Any]) -> None:
        sql = "SELECT 1 FROM try WHERE job_id = ? AND number = ?"
        if self._book.row(sql, values["job_id"], values["number"]) is not None:
            values["number"] = next_number(self._book, values["job_id"])
            self._found.conflicts.append(
                f"job {values['job_id']}: try {row['number']} there is another one than here; it became try "
                f"{values['number']}"
            )

    def _put_photo(self, row: sqlite3.Row) -> None:
        source = original(self._folder, row["sha256"], row["suffix"])
        if hash_of(source) != row["sha256"]:
            raise damaged(f"photo {source.name} is missing or altered")
        if not self._dry_run and not self._book.photos.holds(row["sha256"], row["suffix"]):
            self._book.photos.put(source.read_bytes(), row["suffix"])
        self._step()

    def _named(self, table: str, row: sqlite3.Row) -> str:
        if table == "try":
            return f"job {row['job_id']}, try {row['number']}"
        if "try_id" in row.keys() and (place := place_of(self._book, row["try_id"])):  # noqa: SIM118
            return f"job {place[0]}, try {place[1]}, {table.replace('_', ' ')}"
        number = row["id"] if "id" in row.keys() else row["job_id"]  # noqa: SIM118
        return f"{table.replace('_', ' ')} {number}"


def _short(value: Any) -> str:
    text = "nothing" if value is None or value == "" else str(value)
    return text if len(text) <= 40 else f"{text[:39]}…"
