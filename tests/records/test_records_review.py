"""Reviewing folders: filing, parallel reading, carrying on, what can't be kept."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import pytest
from made_axle import AXLE
from records_shop import fake_read, in_process

from contactread.errors import BookError, ContactreadError
from contactread.records import executors
from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.filing import by_folder, by_manifest
from contactread.records.jobs import find_job, list_jobs, open_job
from contactread.records.review import Outcome, review
from contactread.records.sheet import set_up_sheet
from contactread.records.slips import move_photo
from contactread.records.tries import start_try, tries_of
from contactread.records.undo import entries, undo_whole


def write(folder: Path, name: str, words: str) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(words.encode())
    return path


def run(book: Book, filed: Any, workers: Any = in_process, **more: Any) -> list[Outcome]:
    return list(review(book, filed, fake_read, workers, who="Ana", **more))


def test_folders_name_jobs_and_tries(tmp_path: Path, book: Book) -> None:
    job = open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ana")
    start_try(book, job.id)
    write(tmp_path, "job 1/try 1/a.jpg", "drive 1")
    write(tmp_path, "job-1/2/b.PNG", "coast 1")
    write(tmp_path, "loader 9/c.jpg", "drive 2")
    write(tmp_path, "loader 9/try-2/c.jpg", "coast 2")
    write(tmp_path, "loose.jpg", "drive 3")
    write(tmp_path, "notes.txt", "not a photo")
    write(tmp_path, ".trash/x.jpg", "drive 4")
    filed = by_folder(tmp_path)
    assert [(f.job, f.attempt) for f in filed] == [
        (1, 1), (1, 2), ("loader 9", 1), ("loader 9", 2), (None, None),
    ]  # fmt: skip
    outcomes = run(book, filed, axle_text=AXLE)
    assert sorted((o.job, o.attempt, o.status, o.side) for o in outcomes if o.job) == [
        (1, 1, "read", "drive"), (1, 2, "read", "coast"), (2, 1, "read", "drive"), (2, 2, "read", "coast"),
    ]  # fmt: skip
    assert find_job(book, 2).vehicle == "loader 9"
    assert book.value("SELECT count(*) FROM photo WHERE try_id IS NULL") == 1


def test_nothing_is_opened_without_an_axle_file_or_with_a_gap(tmp_path: Path, book: Book) -> None:
    write(tmp_path, "loader 9/try 1/c.jpg", "drive 2")
    with pytest.raises(BookError) as told:
        run(book, by_folder(tmp_path))
    assert told.value.code == "review-axle-missing"
    write(tmp_path, "loader 9/try 3/c.jpg", "drive 3")
    with pytest.raises(BookError) as told:
        run(book, by_folder(tmp_path), axle_text=AXLE)
    assert told.value.code == "review-try-gap"
    write(tmp_path, "17/try 1/c.jpg", "drive 4")
    with pytest.raises(BookError) as told:
        run(book, by_folder(tmp_path), axle_text=AXLE)
    assert told.value.code == "job-missing"
    assert list_jobs(book) == []


def test_a_pinion_shim_that_nobody_knows_stays_unknown(tmp_path: Path, book: Book) -> None:
    write(tmp_path, "loader 9/try 1/c.jpg", "drive 2")
    run(book, by_folder(tmp_path), axle_text=AXLE.replace('thickness = "1.00 mm"', ""))
    (attempt,) = tries_of(book, 1)
    assert attempt.pinion_shim_mm is None
    (missing,) = [words for words in set_up_sheet(find_job(book, 1), attempt).missing if "shim" in words]
    assert missing == "The pinion shim isn't known."


def test_manifest_ties_photos_to_new_tries_with_their_shims(tmp_path: Path, book: Book) -> None:
    for name in ("a", "b", "c", "d"):
        write(tmp_path, f"{name}.jpg", f"{'drive' if name in 'ac' else 'coast'} {name}")
    write(tmp_path, "a_corners.json", "{}")
    sheet = write(
        tmp_path, "tries.csv",
        "photo,job,try,flank,who,when,pinion_shim,backlash\n"
        'a.jpg,"Unit 3, spring",1,convex,Ben,2025-04-01,40 thou,"0.15 mm; 0.16mm"\n'
        'b.jpg,"Unit 3, spring",1,,,,,\n'
        'c.jpg,"Unit 3, spring",2,,Ben,2025-04-02,43 thou,\n'
        "d.jpg,,,,,,,\n",
    )  # fmt: skip
    filed = by_manifest(tmp_path, sheet)
    for _ in range(2):  # the second time everything is known, and nothing is opened twice
        outcomes = run(book, filed, axle_text=AXLE)
        (job,) = list_jobs(book)
        first, second = tries_of(book, job.id)
        assert (job.vehicle, job.opened_by, first.made_by) == ("Unit 3, spring", "Ben", "Ben")
        assert (first.pinion_shim_mm, second.pinion_shim_mm) == pytest.approx((1.016, 1.0922))
        assert first.backlash_mm == pytest.approx((0.15, 0.16))
        marks = {p.name: p.reading and p.reading.json["marks"] for p in first.photos}
        assert marks == {"a.jpg": True, "b.jpg": False}
    assert {o.status for o in outcomes} == {"known"}
    sheet.write_text('photo,job,try,pinion_shim\na.jpg,"Unit 3, spring",1,41 thou\n', encoding="utf-8")
    with pytest.raises(BookError) as told:
        run(book, by_manifest(tmp_path, sheet), axle_text=AXLE)
    assert told.value.code == "review-shims"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("name,job\na.jpg,1\n", "manifest-column"),
        ("photo,photo\na.jpg,a.jpg\n", "manifest-column"),
        ("", "manifest-column"),
        ("photo,job,try\nb.jpg,1,1\n", "manifest-value"),
        ("photo,job,try\n../a.jpg,1,1\n", "manifest-value"),
        ("photo,job,try\na.jpg,1,\n", "manifest-value"),
        ("photo,job,try\na.jpg,,1\n", "manifest-value"),
        ("photo,job,try\na.jpg,1,first\n", "manifest-value"),
        ("photo,job,try\na.jpg,1,1,extra\n", "manifest-value"),
        ("photo,job,try,flank\na.jpg,1,1,drive\n", "manifest-value"),
        ('photo,job\n"a.jpg,1\n', "manifest-unreadable"),
        ("photo,job,try,pinion_shim\na.jpg,1,1,0.04\n", "length-unit-missing"),
    ],
)
def test_bad_manifests_are_refused(tmp_path: Path, text: str, code: str) -> None:
    write(tmp_path, "a.jpg", "drive")
    with pytest.raises(ContactreadError) as told:
        by_manifest(tmp_path, write(tmp_path, "m.csv", text))
    assert told.value.code == code


def test_known_photos_are_not_read_twice(tmp_path: Path, book: Book) -> None:
    write(tmp_path, "a.jpg", "drive 1")
    write(tmp_path, "b.jpg", "dark 1")
    assert sorted(o.status for o in run(book, by_folder(tmp_path))) == ["read", "refused"]
    write(tmp_path, "copy of a.jpg", "drive 1")
    assert [o.status for o in run(book, by_folder(tmp_path, book.photos.folder))] == ["known"] * 3
    assert book.value("SELECT count(*) FROM reading") == 2


def test_what_can_not_be_kept_is_told_and_the_rest_goes_on(tmp_path: Path, book: Book) -> None:
    write(tmp_path, "8 wheeler/1/a.jpg", "drive 1")
    write(tmp_path, "8 wheeler/2/a.jpg", "drive 1")
    write(tmp_path, "8 wheeler/2/b.jpg", "coast 1")
    outcomes = run(book, by_folder(tmp_path), axle_text=AXLE, at_once=1)
    assert [(o.status, o.code) for o in outcomes] == [
        ("read", ""), ("not kept", "photo-in-another-try"), ("read", ""),
    ]  # fmt: skip


def test_a_photo_that_kills_its_worker_is_refused_alone(tmp_path: Path, book: Book) -> None:
    write(tmp_path, "a.jpg", "drive 1")
    write(tmp_path, "b.jpg", "crash 1")
    write(tmp_path, "c.jpg", "coast 1")
    outcomes = run(book, by_folder(tmp_path), lambda: executors.local(1))
    assert sorted((o.path.name, o.status, o.code) for o in outcomes) == [
        ("a.jpg", "read", ""), ("b.jpg", "refused", "reading-crashed"), ("c.jpg", "read", ""),
    ]  # fmt: skip


SLOW_REVIEW = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[3])
from records_shop import fake_read, in_process
from contactread.records.book import Book
from contactread.records.filing import by_folder
from contactread.records.review import review
with Book(Path(sys.argv[1]), write=True) as book:
    for outcome in review(book, by_folder(Path(sys.argv[2])), fake_read, in_process, who="Ana"):
        print(outcome.path.name, flush=True)
"""


def test_a_killed_review_is_carried_on(tmp_path: Path, place: Path) -> None:
    folder = tmp_path / "photos"
    for number in range(30):
        write(folder, f"{number:02}.jpg", f"slow {number}")
    command = [sys.executable, "-c", SLOW_REVIEW, str(place), str(folder), str(Path(__file__).parent)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        acknowledged = [process.stdout.readline().strip() for _ in range(5)]
        time.sleep(0.02)
        process.send_signal(signal.SIGKILL)
        acknowledged += process.stdout.read().split()
    with Book(place, write=True) as book:
        kept = {r["name"] for r in book.rows("SELECT name FROM photo JOIN reading ON photo_id = photo.id")}
        assert set(acknowledged) <= kept and len(kept) < 30
        assert check_book(book).clean
        outcomes = run(book, by_folder(folder))
        assert sum(o.status == "known" for o in outcomes) == len(kept)
        assert sum(o.status == "read" for o in outcomes) == 30 - len(kept)
        assert check_book(book).clean


def test_on_a_real_dask_cluster(tmp_path: Path, book: Book) -> None:
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' isn't installed")
    for number in range(6):
        write(tmp_path, f"{number}.jpg", f"drive {number}")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as running:

        def workers() -> Any:
            return executors.cluster(running.scheduler_address)

        outcomes = run(book, by_folder(tmp_path), workers, send_bytes=True)
    assert [o.status for o in outcomes] == ["read"] * 6


def test_unreachable_cluster_is_told() -> None:
    pytest.importorskip("distributed", reason="the extra 'cluster' isn't installed")
    with pytest.raises(BookError) as told, executors.cluster("nonsense://1:1") as executor:
        assert isinstance(executor, Executor)
    assert told.value.code == "cluster-unreachable"


def test_refused_photos_are_read_again_when_marked_or_asked(tmp_path: Path, book: Book) -> None:
    folder = tmp_path / "photos"
    write(folder, "a.jpg", "dark 1")
    assert [o.status for o in run(book, by_folder(folder))] == ["refused"]
    assert [o.status for o in run(book, by_folder(folder))] == ["known"]
    assert [o.status for o in run(book, by_folder(folder), refused_again=True)] == ["refused"]
    write(folder, "a_corners.json", "{}")
    assert [o.status for o in run(book, by_folder(folder))] == ["refused"]
    assert book.value("SELECT count(*) FROM reading") == 3


def test_a_fault_ends_one_photo_only(tmp_path: Path, book: Book) -> None:
    folder = tmp_path / "photos"
    write(folder, "a.jpg", "drive 1")
    write(folder, "b.jpg", "\xff no word")
    outcomes = run(book, by_folder(folder))
    assert sorted((o.status, o.code) for o in outcomes) == [("not kept", "fault"), ("read", "")]


ORPHANS = """
import sys, time
from contactread.records import executors
with executors.local(1) as pool:
    print(pool.submit(__import__("os").getpid).result(), flush=True)
    time.sleep(60)
"""


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks for processes in /proc")
def test_workers_of_a_killed_review_end_too() -> None:
    with subprocess.Popen([sys.executable, "-c", ORPHANS], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        worker = Path("/proc") / process.stdout.readline().strip()
        assert worker.is_dir()
        process.kill()
    for _ in range(100):
        if not worker.is_dir() or (worker / "stat").read_text(encoding="utf-8").split()[2] == "Z":
            return
        time.sleep(0.05)
    raise AssertionError("the worker is still there")


def test_one_undo_takes_a_whole_review_back(tmp_path: Path, book: Book) -> None:
    job = open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ana")
    write(tmp_path, "loader 9/try 1/a.jpg", "drive 1")
    write(tmp_path, "loader 9/try 1/b.jpg", "coast 1")
    with book.together():
        run(book, by_folder(tmp_path), axle_text=AXLE)
    start_try(book, job.id, who="Ben")
    first, *_ = [entry for entry in reversed(entries(book)) if entry.what.startswith("review ")]
    taken = undo_whole(book, who="Ana")
    assert [entry.number for entry in taken] == sorted((entry.number for entry in taken), reverse=True)
    assert len(taken) == 4 and all(entry.what.startswith(f"review {first.number}: ") for entry in taken)
    assert [each.id for each in list_jobs(book)] == [job.id] and len(tries_of(book, job.id)) == 1
    assert book.value("SELECT count(*) FROM photo") == 0 and check_book(book).clean


def test_an_undone_review_is_redone_in_one_step_and_undone_again(tmp_path: Path, book: Book) -> None:
    write(tmp_path, "loader 9/try 1/a.jpg", "drive 1")
    write(tmp_path, "loader 9/try 1/b.jpg", "coast 1")
    with book.together():
        run(book, by_folder(tmp_path), axle_text=AXLE)
    jobs = list_jobs(book)
    taken = undo_whole(book, who="Ana")
    assert list_jobs(book) == [] and len(taken) == 4
    undone = [entry for entry in entries(book) if entry.undoes is not None]
    again = undo_whole(book, who="Ben", number=undone[2].number)  # whichever of them is named
    assert [entry.number for entry in again] == [entry.number for entry in undone]
    assert list_jobs(book) == jobs and len(tries_of(book, jobs[0].id)[0].photos) == 2
    assert len(undo_whole(book, who="Ana", number=entries(book, most=1)[0].number)) == 4
    assert list_jobs(book) == [] and check_book(book).clean
    # One entry by its number goes alone, back and forth.
    undo_whole(book, number=entries(book, most=1)[0].number)
    last = next(entry for entry in entries(book) if entry.undoes is None)
    assert len(undo_whole(book, number=last.number)) == 1
    assert len(undo_whole(book, number=entries(book, most=1)[0].number)) == 1 and list_jobs(book) == jobs


def test_a_review_whose_loose_photo_was_filed_since_stays_whole(tmp_path: Path, book: Book) -> None:
    job = open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ben")
    start_try(book, job.id, who="Ben")
    for name in ("a", "b", "c"):
        write(tmp_path, f"{name}.jpg", f"drive {name}")
    with book.together():
        run(book, by_folder(tmp_path))
    move_photo(book, 1, job.id, who="Ben")
    with pytest.raises(BookError, match="came after it on the same photo"):
        undo_whole(book, who="Ana")
    assert book.value("SELECT count(*) FROM photo") == 3


def test_a_review_that_others_built_upon_stays_whole(tmp_path: Path, book: Book) -> None:
    write(tmp_path, "loader 9/try 1/a.jpg", "drive 1")
    write(tmp_path, "crane 5/try 1/b.jpg", "drive 2")
    with book.together():
        run(book, by_folder(tmp_path), axle_text=AXLE)
    (loader,) = [job.id for job in list_jobs(book) if job.vehicle == "loader 9"]
    start_try(book, loader, who="Ben")
    with pytest.raises(BookError, match="came after it on the same job") as told:
        undo_whole(book, who="Ana")
    assert told.value.code == "undo-built-upon"
    assert len(list_jobs(book)) == 2 and book.value("SELECT count(*) FROM photo") == 2
    undo_whole(book, who="Ben")
    with book.together():  # another one is another whole
        run(book, by_folder(write(tmp_path / "more", "job 1/try 2/c.jpg", "coast 1").parents[2]))
    assert len(undo_whole(book, who="Ana")) == 2
    assert len(undo_whole(book, who="Ana")) == 6 and list_jobs(book) == []


def test_a_manifest_refused_in_the_middle_leaves_nothing_behind(tmp_path: Path, book: Book) -> None:
    for name in ("a.jpg", "b.jpg"):
        (tmp_path / name).write_bytes(f"drive {name}".encode())
    rows = "photo,job,try,backlash\na.jpg,Truck 7,1,7 thou\nb.jpg,Truck 7,2,{}\n"
    sheet = write(tmp_path, "m.csv", rows.format("1.4 mm"))
    with pytest.raises(BookError) as told:
        run(book, by_manifest(tmp_path, sheet), axle_text=AXLE)
    assert told.value.code == "record-doubt"
    assert book.value("SELECT count(*) FROM job") == 0 == book.value("SELECT count(*) FROM entry")
    run(book, by_manifest(tmp_path, write(tmp_path, "m.csv", rows.format("8 thou"))), axle_text=AXLE)
    assert [attempt.number for attempt in tries_of(book, 1)] == [1, 2]
