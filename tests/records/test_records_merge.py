"""Two books become one: what is new comes in once, what differs is told, and it can be taken back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from made_axle import AXLE
from records_shop import Ticking, reading

from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.jobs import find_job, list_jobs, open_job
from contactread.records.merge import merge_book
from contactread.records.nouns import Fastener
from contactread.records.photos import keep_advice, keep_photo
from contactread.records.sign_off import check_list, reopen, sign_off
from contactread.records.slips import correct_job
from contactread.records.transfer import export_book, import_book
from contactread.records.tries import record, start_try, tries_of
from contactread.records.undo import undo


def work(book: Book, unit: str, close: bool = False) -> int:
    job = open_job(book, vehicle=unit, axle_text=AXLE, who="Ana")
    attempt = start_try(book, job.id)
    record(book, job.id, backlash_mm=[0.15, 0.16], fasteners=[Fastener("caps", 60.0, 70.0, 65.0)])
    record(book, job.id, ring_runout_mm=0.05)
    record(book, job.id, ring_runout_mm=0.04)
    data = f"{unit} drive".encode()
    keep_photo(book, data, name="a.jpg", who="Ana", try_id=attempt.id, reading=reading())
    kept: dict[str, Any] = {"pinion_shim_change_mm": None, "ring_move_mm": None, "advice": {"n": 1}}
    keep_advice(book, attempt.id, verdict="acceptable", **kept)
    if close:
        sign_off(book, job.id, who="Ana", confirmed=check_list(), despite="a test")
    return job.id


@pytest.fixture
def other(tmp_path: Path) -> Path:
    """The exported book of a second bench: two jobs, one closed."""
    with Book(tmp_path / "other" / "book.sqlite", write=True, clock=Ticking()) as there:
        work(there, "Unit 21", close=True)
        work(there, "Unit 22")
        export_book(there, tmp_path / "out")
    return tmp_path / "out"


def test_another_bench_comes_in_once_under_new_numbers(book: Book, other: Path) -> None:
    work(book, "Unit 11")
    assert merge_book(book, other, who="Ana", dry_run=True).new["job"] == 2
    assert len(list_jobs(book)) == 1 and len(list(book.photos.files())) == 1
    found = merge_book(book, other, who="Ana")
    assert found.conflicts == [] and found.jobs == {1: 2, 2: 3} and found.same["axle"] == 1
    closed = find_job(book, 2).sign_off
    assert closed is not None and closed.final_try == 1 and closed.confirmed == check_list()
    (attempt,) = tries_of(book, 3)
    assert attempt.backlash_mm == (0.15, 0.16) and attempt.photos[0].reading is not None
    assert check_book(book).clean
    again = merge_book(book, other, who="Ana")
    assert not again.new and again.conflicts == [] and again.same["job"] == 2
    undo(book, who="Ana")
    assert [job.vehicle for job in list_jobs(book)] == ["Unit 11"] and check_book(book).clean


def test_what_differs_is_told_and_stays(book: Book, other: Path, tmp_path: Path) -> None:
    import_book(other, tmp_path / "second.sqlite")
    with Book(tmp_path / "second.sqlite", write=True) as here:
        correct_job(here, 2, who="Ben", vehicle="Unit 22 B")
        record(here, 2, backlash_mm=[0.2, 0.2, 0.2])
        start_try(here, 2)
        reopen(here, 1, who="Ben", reason="came back")
    with Book(tmp_path / "other" / "book.sqlite", write=True) as there:
        start_try(there, 2, pinion_shim_mm=1.2)
        export_book(there, tmp_path / "later")
    with Book(tmp_path / "second.sqlite", write=True) as here:
        found = merge_book(here, tmp_path / "later", who="Ben")
        told = "\n".join(found.conflicts)
        assert "job 2, vehicle: Unit 22 B here, Unit 22 there" in told
        assert "job 1: reopened here, signed off there" in told
        assert "job 2, try 1, backlash" in told and "became try 3" in told
        assert find_job(here, 2).vehicle == "Unit 22 B" and find_job(here, 1).sign_off is None
        first, _, third = tries_of(here, 2)
        assert first.backlash_mm == (0.2, 0.2, 0.2) and third.pinion_shim_mm == 1.2
        assert check_book(here).clean


@pytest.mark.parametrize(
    "first, then, here, there",
    [
        ([], [0.2, 0.2, 0.2], (0.2, 0.2, 0.2), [0.15, 0.16, 0.15, 0.16]),
        ([0.15, 0.16], [0.2], (0.2,), [0.15, 0.16]),
        ([0.15, 0.16], None, (), [0.15, 0.16]),
        ([], [], (0.15, 0.16), [0.15, 0.16]),
    ],
    ids=["fewer places here", "corrected here", "struck out here", "none here"],
)
def test_measurements_of_two_benches_are_never_mixed(
    tmp_path: Path, first: list[float], then: list[float] | None, here: tuple[float, ...], there: list[float]
) -> None:
    with Book(tmp_path / "one.sqlite", write=True, clock=Ticking()) as one:
        job = open_job(one, vehicle="Unit 11", axle_text=AXLE, who="Ana").id
        start_try(one, job)
        if first:
            record(one, job, backlash_mm=first)
        export_book(one, tmp_path / "out")
    import_book(tmp_path / "out", tmp_path / "two.sqlite")
    with Book(tmp_path / "two.sqlite", write=True) as two:
        record(two, job, backlash_mm=there, compound="yellow")
        export_book(two, tmp_path / "later")
    with Book(tmp_path / "one.sqlite", write=True) as one:
        if then is None:
            record(one, job, cleared=["backlash"])
        elif then:
            record(one, job, backlash_mm=then)
        merge_book(one, tmp_path / "later", who="Ben")
        assert tries_of(one, job)[0].backlash_mm == here and check_book(one).clean


def harmed(other: Path, table: str, change: dict[str, Any]) -> None:
    """A folder whose rows were changed by a program that kept its hashes right."""
    import hashlib

    file = other / "tables" / f"{table}.jsonl"
    rows = [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines()]
    rows[0] |= change
    file.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    about = json.loads((other / "book.json").read_text(encoding="utf-8"))
    about["tables"][table]["sha256"] = hashlib.sha256(file.read_bytes()).hexdigest()
    (other / "book.json").write_text(json.dumps(about), encoding="utf-8")


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("job", {"vehicle": "Unit 99"}),
        ("job", {"id": 2**70}),
        ("job", {"opened_at": "2031-13-45"}),
        ("job", {"vehicle": ["a", "b"]}),
        ("reading", {"json": '{"status": "read"}'}),
        ("reading", {"json": "7"}),
        ("reading", {"centre_u": 0.77}),
        ("photo", {"suffix": "/../..x.jpg"}),
        ("photo", {"sha256": "../" * 20 + "abcd"}),
        ("try", {"pinion_shim_mm": 1e300}),
        ("entry", {"who": "Ben"}),
        ("change", {"after": "00"}),
    ],
)
def test_what_is_no_book_is_refused_whole(
    book: Book, other: Path, tmp_path: Path, table: str, change: dict[str, Any]
) -> None:
    harmed(other, table, change)
    with pytest.raises(BookError) as told:
        merge_book(book, other, who="Ana")
    assert told.value.code == "import-damaged"
    with pytest.raises(BookError):
        import_book(other, tmp_path / "new" / "second.sqlite")
    assert list_jobs(book) == [] and check_book(book).clean
    assert sorted(p.name for p in book.path.parent.iterdir() if "merging" in p.name) == []
    assert list((tmp_path / "new").iterdir()) == []


def test_a_lost_photo_stops_a_merge(book: Book, other: Path) -> None:
    next(p for p in (other / "photos").rglob("*") if p.is_file()).write_bytes(b"other")
    with pytest.raises(BookError) as told:
        merge_book(book, other, who="Ana")
    assert told.value.code == "import-damaged" and list_jobs(book) == []
    assert list(book.photos.files()) == [] and check_book(book).clean
