"""Check, backup, export and import."""

from __future__ import annotations

import os
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from records_shop import reading, refusal

from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.jobs import list_jobs
from contactread.records.nouns import Fastener, Job
from contactread.records.photos import keep_advice, keep_photo
from contactread.records.place import backup_folder
from contactread.records.sign_off import check_list, reopen, sign_off
from contactread.records.transfer import export_book, import_book
from contactread.records.tries import record, start_try, tries_of


@pytest.fixture
def filled(book: Book, new_job: Callable[..., Job]) -> Book:
    """Three jobs with something in every table."""
    for number in range(3):
        job = new_job(vehicle=f"Unit {number} Ünïté \U0001f69c", notes='two\nlines, "quotes"')
        for turn in range(2):
            attempt = start_try(book, job.id)
            record(book, job.id, backlash_mm=[0.15, 0.1 + turn / 3], ring_runout_mm=1 / 3,
                   fasteners=[Fastener("cap bolts", 60.0, 70.0, 65.0)])  # fmt: skip
            record(book, job.id, backlash_mm=[0.17])
            for side in ("drive", "coast"):
                data = f"{number} {turn} {side}".encode() * 50
                found = refusal() if number == 2 else reading(side)
                keep_photo(book, data, name=f"{side}.jpg", who="Ana", try_id=attempt.id, reading=found)
            keep_advice(book, attempt.id, verdict="acceptable", pinion_shim_change_mm=0.1, ring_move_mm=None,
                        advice={"a": 1})  # fmt: skip
        if number == 0:
            sign_off(book, job.id, who="Ana", confirmed=check_list(), despite="Only a test")
            reopen(book, job.id, who="Ana", reason="Only a test")
            sign_off(book, job.id, who="Ana", confirmed=check_list(), despite="Only a test")
    keep_photo(book, b"loose", name="odd name", who="Ana", try_id=None, reading=None)
    answer = {"apprentice": "Bo", "answered_at": book.stamp(), "topic": "depth", "question": "depth-1"}
    case = {"try_id": 1, "right_move": "pinion_toward", "says": "", "added_by": "Ana"}
    with book.writing():
        book.insert("practice_answer", answer | {"given": "a) Ünïté", "score": 0.5, "test": None})
        book.insert("practice_case", case | {"added_at": book.stamp()})
    return book


def content(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_export_and_import_round_trip(filled: Book, tmp_path: Path) -> None:
    rows = export_book(filled, tmp_path / "out")
    assert all(rows.values()), rows
    assert import_book(tmp_path / "out", tmp_path / "second" / "copy.sqlite") == rows
    with Book(tmp_path / "second" / "copy.sqlite") as copy:
        assert list_jobs(copy) == list_jobs(filled)
        assert tries_of(copy, 1) == tries_of(filled, 1)
        assert check_book(copy).clean
        assert copy.rows("SELECT rowid FROM words WHERE words MATCH 'quotes'")
        export_book(copy, tmp_path / "again")
    assert content(tmp_path / "out") == content(tmp_path / "again")


def test_export_leaves_what_exists(filled: Book, tmp_path: Path) -> None:
    with pytest.raises(BookError) as told:
        export_book(filled, tmp_path)
    assert told.value.code == "export-exists"


def test_export_refuses_a_lost_photo_and_leaves_nothing_half(filled: Book, tmp_path: Path) -> None:
    next(filled.photos.files()).unlink()
    with pytest.raises(BookError) as told:
        export_book(filled, tmp_path / "out")
    assert told.value.code == "photo-lost"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["shop"]


def test_import_never_mixes_books(filled: Book, tmp_path: Path) -> None:
    export_book(filled, tmp_path / "out")
    with pytest.raises(BookError) as told:
        import_book(tmp_path / "out", filled.path)
    assert told.value.code == "import-exists"


@pytest.mark.parametrize("victim", ["tables/job.jsonl", "book.json", "photo"])
def test_import_of_a_damaged_folder_leaves_nothing(filled: Book, tmp_path: Path, victim: str) -> None:
    export_book(filled, tmp_path / "out")
    photo = next(p for p in (tmp_path / "out" / "photos").rglob("*") if p.is_file())
    file = photo if victim == "photo" else tmp_path / "out" / victim
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 1
    file.write_bytes(data)
    with pytest.raises(BookError) as told:
        import_book(tmp_path / "out", tmp_path / "copy.sqlite")
    assert told.value.code in ("import-damaged", "import-format", "book-too-new")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out", "shop"]


def test_import_of_something_else(tmp_path: Path) -> None:
    with pytest.raises(BookError) as told:
        import_book(tmp_path, tmp_path / "copy.sqlite")
    assert told.value.code == "import-format"


def test_check_names_missing_altered_and_orphan_photos(filled: Book) -> None:
    assert check_book(filled).clean
    first, second, *_ = filled.photos.files()
    data = bytearray(first.read_bytes())
    data[7] ^= 0x10
    first.write_bytes(data)
    second.unlink()
    (filled.photos.folder / "aa").mkdir(exist_ok=True)
    (filled.photos.folder / "aa" / "stray.jpg").write_bytes(b"stray")
    found = check_book(filled)
    assert not found.clean
    assert found.altered == (first.stem,)
    assert found.missing == (second.stem,)
    assert found.orphans == ("aa/stray.jpg",)


def test_one_flipped_bit_in_each_of_twenty_photos(book: Book) -> None:
    chance = random.Random(5)
    flipped = set()
    for number in range(20):
        data = chance.randbytes(1000)
        photo = keep_photo(book, data, name=f"{number}.jpg", who="Ana", try_id=None, reading=None)
        at = chance.randrange(1000)
        altered = bytearray(data)
        altered[at] ^= 1 << chance.randrange(8)
        book.photos.place(photo.sha256, photo.suffix).write_bytes(altered)
        flipped.add(photo.sha256)
    assert set(check_book(book).altered) == flipped
    sample = check_book(book, sample=6, seed=1)
    assert sample.looked_at == 6 and len(sample.altered) == 6


def test_backup_is_a_book(filled: Book) -> None:
    backup = filled.back_up()
    with Book(backup) as copy:
        assert list_jobs(copy) == list_jobs(filled)


def test_half_a_backup_of_a_killed_program_goes_with_the_next(filled: Book) -> None:
    folder = backup_folder(filled.path)
    folder.mkdir(exist_ok=True)
    old, new = folder / "book-1-by-hand.unfinished-999999", folder / "book-2-by-hand.unfinished-999998"
    for left in (old, new):
        left.write_bytes(b"half")
    os.utime(old, (0, 0))
    filled.back_up("by-hand")
    assert not old.exists() and new.exists()  # the newer may still be written
