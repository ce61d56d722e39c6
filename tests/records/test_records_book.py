"""The book's file: schema, migrations, failures."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from made_axle import AXLE
from records_shop import Ticking

from calibration.schema_doc import schema_doc
from contactread.errors import BookError, DamagedBookError
from contactread.records import migrate
from contactread.records.book import Book
from contactread.records.check import check_book, database_findings
from contactread.records.jobs import list_jobs, open_job
from contactread.records.migrate import Step, statements, steps
from contactread.records.opening import log_in_doubt
from contactread.records.photos import keep_photo
from contactread.records.place import backup_folder, default_place
from contactread.records.transfer import SCHEMA

NEXT = steps()[-1].number + 1


def test_schema_page_is_made_from_the_schema_and_whole(book: Book) -> None:
    page = schema_doc()
    assert SCHEMA.read_text(encoding="utf-8") == page
    tables = [r["name"] for r in book.rows("PRAGMA table_list") if r["type"] == "table"]
    ours = [t for t in tables if not t.startswith(("words_", "sqlite_"))]
    assert len(ours) == 17
    for table in ours:
        section = page.split(f"\n## {table}\n")[1].split("\n## ")[0]
        for column in book.rows(f"PRAGMA table_info({table})"):
            assert f"\n| {column['name']} | {column['type']} | " in section, (table, column["name"])


def test_every_table_is_strict(book: Book) -> None:
    loose = [r["name"] for r in book.rows("PRAGMA table_list") if r["type"] == "table" and not r["strict"]]
    assert [name for name in loose if not name.startswith(("words_", "sqlite_"))] == []


def test_durable_settings(book: Book) -> None:
    assert book.value("PRAGMA journal_mode") == "wal"
    assert book.value("PRAGMA synchronous") == 2
    assert book.value("PRAGMA foreign_keys") == 1


def test_place_by_variable(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("CONTACTREAD_BOOK", str(tmp_path / "x.sqlite"))
    assert default_place() == tmp_path / "x.sqlite"
    monkeypatch.delenv("CONTACTREAD_BOOK")
    assert default_place().parent.name == "contactread"


def test_reading_opens_read_only(place: Path, book: Book) -> None:
    with Book(place) as reader, pytest.raises(BookError) as told:
        open_job(reader, vehicle="Unit 1", axle_text=AXLE, who="Ana")
    assert told.value.code == "book-read-only"


def test_missing_book_is_not_made_by_reading(place: Path) -> None:
    with pytest.raises(BookError) as told:
        Book(place)
    assert told.value.code == "book-missing"
    assert not place.parent.exists()


def test_migration_is_backed_up_and_recorded(place: Path) -> None:
    with Book(place, write=True) as book:
        open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ana")
    more = (*steps(), Step(NEXT, "made_up.sql", "CREATE TABLE made_up (a INTEGER) STRICT;"))
    with pytest.raises(BookError) as told:
        Book(place, schema=more)
    assert told.value.code == "book-too-old"
    with Book(place, write=True, schema=more, clock=Ticking()) as book:
        names = [r["name"] for r in book.rows("SELECT name FROM migration ORDER BY version")]
        assert names == [step.name for step in more]
    (backup,) = backup_folder(place).glob("*.sqlite")
    with Book(backup) as old:
        assert [j.vehicle for j in list_jobs(old)] == ["Unit 1"]
        assert old.value("SELECT count(*) FROM migration") == NEXT - 1


def test_failed_migration_changes_nothing(place: Path) -> None:
    with Book(place, write=True) as book:
        open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ana")
    bad = (*steps(), Step(NEXT, "bad.sql", "CREATE TABLE half (a INTEGER) STRICT;\nCREATE TABLE half (b);"))
    with pytest.raises(sqlite3.OperationalError):
        Book(place, write=True, schema=bad)
    with Book(place) as book:
        assert book.value("PRAGMA user_version") == NEXT - 1
        assert book.value("SELECT count(*) FROM sqlite_master WHERE name = 'half'") == 0


def test_newer_schema_is_refused_and_untouched(place: Path) -> None:
    more = (*steps(), Step(NEXT, "later.sql", "CREATE TABLE later (a INTEGER) STRICT;"))
    Book(place, write=True, schema=more).close()
    before = place.read_bytes()
    for write in (False, True):
        with pytest.raises(BookError) as told:
            Book(place, write=write)
        assert told.value.code == "book-too-new"
    assert place.read_bytes() == before


def test_someone_elses_database_is_refused(place: Path) -> None:
    place.parent.mkdir()
    other = sqlite3.connect(place)
    other.execute("CREATE TABLE theirs (a)")
    other.close()
    for write in (False, True):
        with pytest.raises(BookError) as told:
            Book(place, write=write)
        assert told.value.code == "book-not-a-book"


def test_garbage_and_folders(tmp_path: Path) -> None:
    (tmp_path / "noise.sqlite").write_bytes(b"not a database at all" * 500)
    for write in (False, True):
        with pytest.raises(DamagedBookError):
            Book(tmp_path / "noise.sqlite", write=write)
    for write in (False, True):
        with pytest.raises(BookError) as told:
            Book(tmp_path, write=write)
        assert told.value.code == "book-not-a-book"


def test_damaged_page_is_named(place: Path) -> None:
    with Book(place, write=True) as book:
        for unit in range(60):
            open_job(book, vehicle=f"Unit {unit}", axle_text=AXLE, who="Ana")
    data = bytearray(place.read_bytes())
    for page in range(2, len(data) // 4096):
        data[page * 4096 : page * 4096 + 64] = b"\xff" * 64
    place.write_bytes(data)
    with pytest.raises(DamagedBookError) as told, Book(place) as book:
        book.rows("SELECT * FROM job ORDER BY vehicle")
    assert told.value.exit_code == 5


def test_locked_book(place: Path, book: Book) -> None:
    with Book(place, write=True, wait_s=0.05) as second, book.writing(), pytest.raises(BookError) as told:
        open_job(second, vehicle="Unit 2", axle_text=AXLE, who="Ana")
    assert told.value.code == "book-locked"
    assert list_jobs(book) == []


# The superuser may read and write anywhere, so the programs below run without that privilege.
PRIVILEGES = "-dac_override,-dac_read_search"
UNPRIVILEGED = (
    ["setpriv", "--inh-caps", PRIVILEGES, "--bounding-set", PRIVILEGES]
    if hasattr(os, "geteuid") and os.geteuid() == 0
    else []
)


def unprivileged(program: str, *arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [*UNPRIVILEGED, sys.executable, "-c", program, *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


READ_ONLY = """
import sys
from pathlib import Path
from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.jobs import list_jobs
place = Path(sys.argv[1])
with Book(place) as book:
    print(len(list_jobs(book)))
try:
    Book(place, write=True)
except BookError as error:
    print(error.code)
"""


OPEN = """
import sys
from pathlib import Path
from contactread.errors import ContactreadError
from contactread.records import migrate
from contactread.records.book import Book
migrate.__file__ = sys.argv[2]
for write in (False, True):
    try:
        Book(Path(sys.argv[1]), write=write)
    except ContactreadError as error:
        print(error.code)
"""


@pytest.fixture
def closed_book(tmp_path: Path) -> Iterator[Path]:
    """A book with one job in a folder of its own, whose permissions a test may take away."""
    if sys.platform == "win32":
        pytest.skip("folders carry no such permission there")
    if UNPRIVILEGED and shutil.which("setpriv") is None:
        pytest.skip("the superuser may read and write anywhere; setpriv, which takes that away, isn't there")
    place = tmp_path / "shop" / "book.sqlite"
    with Book(place, write=True) as book:
        open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ana")
    yield place
    place.parent.chmod(0o755)


def test_read_only_folder_can_be_read_but_not_written(closed_book: Path) -> None:
    before = closed_book.read_bytes()
    closed_book.chmod(0o444)
    closed_book.parent.chmod(0o555)
    done = unprivileged(READ_ONLY, closed_book)
    assert done.stdout.split() == ["1", "book-read-only"], done.stderr
    assert closed_book.read_bytes() == before


@pytest.mark.parametrize("what", ["file", "folder"])
def test_a_book_that_may_not_be_read_is_called_so(closed_book: Path, what: str) -> None:
    (closed_book if what == "file" else closed_book.parent).chmod(0)
    done = unprivileged(OPEN, closed_book, migrate.__file__)
    assert done.stdout.split() == ["book-unreadable"] * 2, done.stderr


@pytest.mark.parametrize("mode", [0o000, 0o111, 0o444])
def test_own_files_that_may_not_be_read_are_called_so(closed_book: Path, tmp_path: Path, mode: int) -> None:
    """contactread installed where this user may not read, or without its schema: no fault of the book's."""
    own = tmp_path / "records"
    shutil.copytree(Path(migrate.__file__).parent, own)
    own.chmod(mode)
    done = unprivileged(OPEN, closed_book, own / "migrate.py")
    own.chmod(0o755)
    assert done.stdout.split() == ["own-files-unreadable"] * 2, done.stderr


# A limit on the size of written files stands in for a full disk.
FULL = """
import resource, sys
from pathlib import Path
from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.photos import keep_photo
with Book(Path(sys.argv[1]), write=True) as book:
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))
    for data in (b"p" * 300_000, b"q" * 100):
        try:
            keep_photo(book, data, name="a.jpg", who="Ana", try_id=None, reading=None)
            print("kept")
        except BookError as error:
            print(error.code)
    try:
        with book.writing():
            for number in range(5000):
                book.insert("axle", {"sha256": f"{number:064}", "text": "t" * 90, "kind": "k"})
    except BookError as error:
        print(error.code)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no such limit there")
def test_full_disk_keeps_nothing_half(place: Path) -> None:
    with Book(place, write=True) as book:
        open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ana")
    done = subprocess.run(
        [sys.executable, "-c", FULL, str(place)], capture_output=True, text=True, check=False
    )
    assert done.stdout.split() == ["book-disk-full", "kept", "book-disk-full"], done.stderr
    with Book(place) as book:
        assert database_findings(book) == []
        assert book.value("SELECT count(*) FROM axle") == 1
        assert [p.stat().st_size for p in book.photos.files()] == [100]
        assert book.photos.unfinished() == []


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="mounts a small disk")
def test_a_disk_that_is_really_full(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=900k", "tmpfs", str(disk)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("mounting a disk isn't allowed here")
    try:
        with Book(disk / "book.sqlite", write=True) as book:
            job = open_job(book, vehicle="Unit 1", axle_text=AXLE, who="Ana")
            kept, code = 0, ""
            while not code:
                try:
                    keep_photo(
                        book, bytes([kept]) * 50_000, name="a.jpg", who="Ana", try_id=None, reading=None
                    )
                    kept += 1
                except BookError as error:
                    code = error.code
            assert code == "book-disk-full" and kept > 2
            found = check_book(book)
            assert found.clean and not found.unfinished and found.photos == kept
            assert list_jobs(book) == [job]
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_statements_keep_triggers_whole() -> None:
    found = list(statements(steps()[0].sql))
    assert sum("CREATE TRIGGER" in s for s in found) == 6
    assert all(s.rstrip().endswith("END;") for s in found if "CREATE TRIGGER" in s)


MANY = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from made_axle import AXLE
from contactread.records.book import Book
from contactread.records.jobs import open_job
from contactread.records.photos import keep_photo
sys.stdin.readline()
with Book(Path(sys.argv[1]), write=True) as book:
    for number in range(15):
        open_job(book, vehicle=f"unit {number}", axle_text=AXLE, who=sys.argv[3])
        data = f"{sys.argv[3]} {number % 5}".encode()
        keep_photo(book, data, name="a.jpg", who=sys.argv[3], try_id=None, reading=None)
"""


def test_four_programs_begin_and_fill_one_book_at_once(place: Path) -> None:
    command = [sys.executable, "-c", MANY, str(place), str(Path(__file__).parents[1])]
    running = [
        subprocess.Popen([*command, who], stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for who in ("Ana", "Ben", "Chidi", "Dora")
    ]
    for process in running:  # all at the same moment
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    for process in running:
        _, talk = process.communicate(timeout=60)
        assert process.returncode == 0, talk
    with Book(place) as book:
        assert book.value("SELECT count(*) FROM job") == 60
        assert book.value("SELECT count(*) FROM axle") == 1
        assert book.value("SELECT count(*) FROM migration") == len(steps())
        found = check_book(book)
        assert found.clean and found.photos == 20


def test_a_log_that_goes_away_between_two_looks_is_no_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The last other program that closes the book takes the log away.
    path = tmp_path / "book.sqlite"
    with Book(path, write=True):
        log = Path(f"{path}-wal")
        assert log.is_file()
    log.write_bytes(b"")
    true_stat = Path.stat

    def gone(self: Path, **named: Any) -> os.stat_result:
        about = true_stat(self, **named)
        if self == log:
            log.unlink()
        return about

    monkeypatch.setattr(Path, "stat", gone)
    assert not log_in_doubt(path)
    assert not log.exists()
