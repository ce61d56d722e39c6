"""Restoring: a backup or an export put back, whatever lies in its place."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from made_axle import AXLE
from records_shop import reading

from contactread.errors import BookError, DamagedBookError
from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.jobs import list_jobs, open_job
from contactread.records.nouns import Job
from contactread.records.photos import keep_photo
from contactread.records.place import photo_folder
from contactread.records.restore import newest_backup, restore
from contactread.records.transfer import export_book
from contactread.records.tries import record, start_try


@pytest.fixture
def shop(place: Path) -> Path:
    """A book with two jobs and a photo; its backup has the first job only."""
    with Book(place, write=True) as book:
        job = open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ana")
        attempt = start_try(book, job.id)
        keep_photo(book, b"drive", name="a.jpg", who="Ana", try_id=attempt.id, reading=reading())
        book.back_up()
        open_job(book, vehicle="Unit 2", axle_text=AXLE, who="Ana")
    return place


def vehicles(place: Path) -> list[str]:
    with Book(place) as book:
        assert check_book(book).clean
        return [job.vehicle for job in reversed(list_jobs(book, most=1000))]


def test_the_newest_backup_is_put_back_and_what_lay_there_is_kept(shop: Path) -> None:
    with Book(shop, write=True):  # another program may have it open
        done = restore(shop)
        assert (done.jobs, done.missing) == (1, ())
    assert vehicles(shop) == ["Unit 1"]
    assert done.kept is not None and newest_backup(shop) == done.kept
    restore(shop, done.kept)
    assert vehicles(shop) == ["Unit 1", "Unit 2"]


def test_an_export_is_put_back_with_its_photos(shop: Path, tmp_path: Path) -> None:
    with Book(shop) as book:
        export_book(book, tmp_path / "out")
    shutil.rmtree(photo_folder(shop))
    restore(shop, tmp_path / "out")
    assert vehicles(shop) == ["Unit 1", "Unit 2"]


@pytest.mark.parametrize("harm", ["noise", "emptied", "gone", "half"])
def test_a_damaged_or_lost_book_is_an_error_until_it_is_restored(shop: Path, harm: str) -> None:
    data = shop.read_bytes()
    if harm == "gone":
        shop.unlink()
    else:
        shop.write_bytes({"noise": b"\x07" * 9000, "emptied": b"", "half": data[: len(data) // 2]}[harm])
    with pytest.raises(DamagedBookError) as told, Book(shop, write=True) as book:
        list_jobs(book)
    assert "contactread restore" in told.value.next_step
    restore(shop)
    assert vehicles(shop) == ["Unit 1"]


def test_what_is_damaged_itself_is_not_put_back(shop: Path, tmp_path: Path) -> None:
    backup = newest_backup(shop)
    with closing(sqlite3.connect(backup)) as bare, bare:
        bare.execute("UPDATE job SET vehicle = 'Unit 9'")
    with pytest.raises(DamagedBookError) as told:
        restore(shop)
    assert told.value.code == "restore-damaged" and "vehicle" in told.value.message
    backup.write_bytes(b"\x07" * 9000)
    with pytest.raises(DamagedBookError):
        restore(shop)
    for source in (shop, tmp_path / "nothing.sqlite"):
        with pytest.raises(BookError):
            restore(shop, source)
    assert vehicles(shop) == ["Unit 1", "Unit 2"]


STALE = """
import os, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from made_axle import AXLE
from contactread.records.book import Book
from contactread.records.jobs import open_job
with Book(Path(sys.argv[1]), write=True) as book:
    for number in range(int(sys.argv[3])):
        open_job(book, vehicle=f"unit {number}", axle_text=AXLE, who="Ana", notes="x" * 900)
        if number == int(sys.argv[4]):
            book.back_up()
    os._exit(9)
"""


@pytest.mark.parametrize(("jobs", "backed_up_at"), [(5, 1), (60, 2), (300, 3), (300, 150), (420, 100)])
def test_a_backup_copied_back_under_a_stale_log_is_told_and_restored(
    place: Path, jobs: int, backed_up_at: int
) -> None:
    command = [sys.executable, "-c", STALE, str(place), str(Path(__file__).parents[1])]
    subprocess.run([*command, str(jobs), str(backed_up_at)], check=False)
    assert Path(f"{place}-wal").stat().st_size > 0
    shutil.copyfile(newest_backup(place), place)  # by hand, with the log of the stopped program beside it
    try:
        with Book(place, write=True) as book:
            found = check_book(book)
            assert found.clean, found  # the log still belongs to it
    except DamagedBookError:
        restore(place)
        assert len(vehicles(place)) == backed_up_at + 1


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")
@pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")
@pytest.mark.parametrize("harm", [False, True])
def test_a_kill_in_the_middle_leaves_the_old_book_or_the_new_one(shop: Path, harm: bool) -> None:
    backup = newest_backup(shop)
    sound = shop.read_bytes()
    for turn in range(12):
        shop.write_bytes(sound[: len(sound) // 2] if harm else sound)
        child = os.fork()
        if child == 0:
            try:
                restore(shop, backup)
            finally:
                os._exit(0)
        time.sleep(turn * 0.006)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        try:
            assert vehicles(shop) in (["Unit 1"], ["Unit 1", "Unit 2"])
        except DamagedBookError:
            assert harm
        restore(shop, backup)
        assert vehicles(shop) == ["Unit 1"]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="mounts a small disk")
def test_a_full_disk_leaves_the_book(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=1500k", "tmpfs", str(disk)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("mounting a disk isn't allowed here")
    try:
        place = disk / "book.sqlite"
        with Book(place, write=True) as book:
            open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ana")
            book.back_up()
            open_job(book, vehicle="Unit 2", axle_text=AXLE, who="Ana")
        (disk / "filler").write_bytes(b"x" * (shutil.disk_usage(disk).free - 200_000))
        with pytest.raises(BookError) as told:
            restore(place)
        assert told.value.code in ("book-disk-full", "book-disk-error")
        assert vehicles(place) == ["Unit 1", "Unit 2"]
        (disk / "filler").unlink()
        restore(place)
        assert vehicles(place) == ["Unit 1"]
    finally:
        subprocess.run(["umount", str(disk)], check=True)


@pytest.fixture
def usual_umask() -> Iterator[None]:
    """Nobody's own, which may be stricter."""
    before = os.umask(0o022)
    yield
    os.umask(before)


@pytest.mark.usefixtures("usual_umask")
def test_new_files_are_for_their_owner_unless_the_book_says_otherwise(place: Path) -> None:
    with Book(place, write=True) as book:
        kept = keep_photo(book, b"a", name="a.jpg", who="Ana", try_id=None, reading=None)
        stored, backup = book.photos.place(kept.sha256, kept.suffix), book.back_up()
    for path in (place, stored, backup):
        assert path.stat().st_mode & 0o777 == 0o600
    for folder in (place.parent, stored.parent, stored.parent.parent, backup.parent):
        assert folder.stat().st_mode & 0o777 == 0o700
    place.chmod(0o640)
    with Book(place, write=True) as book:
        kept = keep_photo(book, b"b", name="b.jpg", who="Ana", try_id=None, reading=None)
        assert book.photos.place(kept.sha256, kept.suffix).stat().st_mode & 0o777 == 0o640


def test_a_home_sign_in_the_path_is_expanded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    Book(Path("~/shop/book.sqlite"), write=True).close()
    assert (tmp_path / "shop" / "book.sqlite").is_file()


def test_the_photo_store_bears_what_others_leave_in_it(shop: Path) -> None:
    photos = photo_folder(shop)
    with Book(shop) as book:
        (stored,) = book.photos.files()
    for name in ("@eaDir", ".stfolder", "incoming"):
        (photos / name).mkdir(exist_ok=True)
    (photos / "@eaDir" / "x.jpg").write_bytes(b"thumbnail")
    for stray in (photos / "Thumbs.db", stored.parent / "Thumbs.db", stored.parent / ".sync.tmp"):
        stray.write_bytes(b"stray")
    (photos / "incoming" / f"{stored.name[:2]}*").write_bytes(b"")
    with Book(shop, write=True) as book:
        found = check_book(book)
        assert found.clean and not found.orphans and not found.unfinished
        assert stored.read_bytes() == b"drive"
        stored.write_bytes(b"drivf")
        assert check_book(book).altered == (stored.stem,)
        keep_photo(book, b"drive", name="again.jpg", who="Ana", try_id=None, reading=None)
        assert check_book(book).clean and stored.read_bytes() == b"drive"


def test_work_after_restoring_goes_on(shop: Path, new_job: Callable[..., Job]) -> None:
    restore(shop)
    with Book(shop, write=True) as book:
        record(book, 1, backlash_mm=[0.15])
        assert check_book(book).clean
