"""A book made by the code before schema 3 comes over with nothing lost, and so does its export."""

from __future__ import annotations

import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from contactread.errors import BookError, DamagedBookError
from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.corrections import corrections_of
from contactread.records.jobs import find_job, list_jobs
from contactread.records.place import backup_folder
from contactread.records.transfer import import_book
from contactread.records.tries import record, tries_of
from contactread.records.undo import undo

# Made by contactread at schema 2 (tables, photos and its export); everything in it is invented.
OLD = Path(__file__).with_name("schema_002_book.zip")
SAME = (
    "axle", "job", "try", "backlash", "fastener", "photo", "reading", "advice", "sign_off", "check_list",
    "correction", "practice_answer", "practice_case", "words",
)  # fmt: skip


@pytest.fixture
def old(tmp_path: Path) -> Path:
    with zipfile.ZipFile(OLD) as packed:
        packed.extractall(tmp_path)
    return tmp_path / "book.sqlite"


def rows(
    path: Path, columns: dict[str, list[str]] | None = None
) -> tuple[dict[str, Any], dict[str, list[str]]]:
    found: dict[str, Any] = {}
    with closing(sqlite3.connect(path)) as bare:
        names = columns or {
            table: [row[1] for row in bare.execute(f"PRAGMA table_info({table})")] for table in SAME
        }
        for table in SAME:
            found[table] = sorted(bare.execute(f"SELECT {', '.join(names[table])} FROM {table}"))
    return found, names


def test_everything_in_an_old_book_is_still_there(old: Path) -> None:
    before, columns = rows(old)
    with pytest.raises(BookError) as told:
        Book(old)
    assert told.value.code == "book-too-old"
    with Book(old, write=True) as book:
        assert check_book(book).clean
        assert find_job(book, 3).sign_off is None
        assert [c.old for c in corrections_of(book, 3)][:1] == ["[0.15, 0.1]"]
        advice = tries_of(book, 1)[0].advice
        assert advice is not None and advice.json["headline"] == "As kept." and advice.axle_version == 1
        assert book.rows("SELECT rowid FROM words WHERE words MATCH 'quotes'")
    after, _ = rows(old, columns)
    for table in SAME:
        if table != "words":  # which say more since
            assert after[table] == before[table], table
    assert len(after["words"]) == len(before["words"])
    (backup,) = backup_folder(old).glob("*.sqlite")
    assert rows(backup)[0] == before


def test_an_old_book_and_its_export_give_the_same_identities(old: Path, tmp_path: Path) -> None:
    import_book(tmp_path / "export", tmp_path / "imported.sqlite")
    with Book(old, write=True) as book, Book(tmp_path / "imported.sqlite") as other:
        for table in ("job", "try", "reading", "advice", "correction", "practice_answer"):
            ids = f"SELECT uid FROM {table} ORDER BY id"
            assert [tuple(r) for r in book.rows(ids)] == [tuple(r) for r in other.rows(ids)], table
        assert list_jobs(book) == list_jobs(other)


def test_work_goes_on_in_an_old_book(old: Path) -> None:
    with Book(old, write=True) as book:
        before = tries_of(book, 3)
        record(book, 3, who="Ana", ring_runout_mm=0.05)
        undo(book, who="Ana")
        assert tries_of(book, 3) == before and check_book(book).clean
        with pytest.raises(BookError):
            undo(book)


def test_a_book_that_is_not_what_its_schema_says_is_refused(old: Path) -> None:
    with closing(sqlite3.connect(old)) as bare:
        bare.execute("ALTER TABLE job ADD COLUMN colour TEXT")
    for write in (True, False):
        with pytest.raises(DamagedBookError) as told:
            Book(old, write=write)
        assert told.value.code == "book-schema" and "job" in told.value.message
