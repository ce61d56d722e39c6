"""Kills a program at random moments inside every kind of writing command; nothing told may be lost.

``python calibration/shop_book/kills.py --rounds 1000 [--seed 1]``. In each round a child process writes to a
shop book and tells each write, by its entry of the log and that entry's digest, once it is durable; it is
ended by SIGKILL at a random moment. Then the book is opened as by the next command, and: every entry told is
there with its digest (which covers all before it), every row is as the log says, every photo is whole,
`check` is clean. Kinds of work: recording, reviewing a folder, putting slips right and undoing, merging
another bench's book, restoring a backup or an export, backing up and exporting. A round may be run in slices
with other seeds. Prints how many writes were told and what the kills struck. Unix only.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from contactread.errors import BookError
from contactread.records import slips
from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.filing import by_folder
from contactread.records.jobs import list_jobs, open_job
from contactread.records.merge import merge_book
from contactread.records.nouns import Fastener, Job
from contactread.records.photos import keep_advice, keep_photo
from contactread.records.place import backup_folder
from contactread.records.restore import restore
from contactread.records.review import ReadTask, review
from contactread.records.review_places import arrange
from contactread.records.rounds import plan
from contactread.records.sign_off import check_list, reopen, sign_off, stop
from contactread.records.transfer import export_book, import_book
from contactread.records.tries import record, start_try, tries_of
from contactread.records.undo import undo

AXLE = """[gears]
pinion_teeth = 11
ring_teeth = 41
ring_diameter = "215 mm"
[pinion_shim]
thickness = "1.00 mm"
"""
FRESH_BOOK_EVERY = 30
State = tuple[int, str]  # the newest entry of the log, and its digest
Tell = Callable[[dict[str, Any]], None]
Work = Callable[[Path, random.Random, Tell], None]


def reading(side: str) -> dict[str, Any]:
    """A made-up reading of the least shape that the book takes."""
    pattern = {"centroid": [0.4, 0.5], "spread": {"length": 0.01, "height": 0.02}}
    return {
        "status": "read", "refusal": None, "flank": "convex" if side == "drive" else "concave", "side": side,
        "confidence": 0.9, "flags": [], "teeth": [], "pattern": pattern,
    }  # fmt: skip


def read(task: ReadTask) -> dict[str, Any]:
    """Stands in for the reader: what is tested is the keeping."""
    return reading("drive")


@contextmanager
def threads() -> Iterator[Executor]:
    with ThreadPoolExecutor(2) as executor:
        yield executor


def state(book: Book) -> State:
    row = book.row("SELECT id, digest FROM entry ORDER BY id DESC LIMIT 1")
    return (0, "") if row is None else (row["id"], row["digest"])


def one_job(book: Book, chance: random.Random, told: Callable[[], None]) -> Job:
    """A job with a try, measurements, photos and advice; `told` after each write."""
    job = open_job(book, vehicle=f"unit {chance.random()}", axle_text=AXLE, who="Ana")
    told()
    attempt = start_try(book, job.id, pinion_shim_mm=round(chance.uniform(0.5, 2), 3))
    told()
    backlash = [round(chance.uniform(0.1, 0.2), 3) for _ in range(4)]
    bolts = [Fastener("caps", 100.0, 120.0, 110.0)]
    record(book, job.id, backlash_mm=backlash, ring_runout_mm=0.03, fasteners=bolts)
    told()
    for side in ("drive", "coast"):
        data = chance.randbytes(chance.randint(1, 200_000))
        keep_photo(book, data, name=f"{side}.jpg", who="Ana", try_id=attempt.id, reading=reading(side))
        told()
    kept: dict[str, Any] = {"pinion_shim_change_mm": None, "ring_move_mm": None, "advice": {}}
    keep_advice(book, attempt.id, verdict="acceptable", who="Ana", **kept)
    told()
    return job


def record_jobs(path: Path, chance: random.Random, tell: Tell) -> None:
    """Job after job, until killed."""
    with Book(path, write=True) as book:
        while True:
            job = one_job(book, chance, lambda: tell({"state": state(book)}))
            if chance.random() < 0.7:
                sign_off(book, job.id, who="Ana", confirmed=check_list(), despite="a test")
            else:
                stop(book, job.id, who="Ana", reason="a test")
            tell({"state": state(book)})


def review_folder(path: Path, chance: random.Random, tell: Tell) -> None:
    """A folder of new photos, until killed; then the same one again by the next round, and so on."""
    folder = path.parent / "folder"
    with Book(path, write=True) as book:
        while True:
            folder.mkdir(exist_ok=True)
            for _ in range(8):
                place = folder / f"unit {chance.randint(1, 4)}" / ("try 1" if chance.random() < 0.5 else ".")
                place.mkdir(parents=True, exist_ok=True)
                name = f"{chance.getrandbits(40):x}.jpg"
                (place / name).write_bytes(chance.randbytes(chance.randint(1, 200_000)))
            filed = by_folder(folder)
            for _ in review(book, filed, read, threads, who="Ana", axle_text=AXLE):
                tell({"state": state(book)})
            arrange(book, plan(book, filed, book.clock()), "Ana", AXLE)
            tell({"state": state(book)})
            shutil.rmtree(folder)


def put_right(path: Path, chance: random.Random, tell: Tell) -> None:
    """Slips: corrected, moved, merged, struck out, reopened, undone."""
    with Book(path, write=True) as book:
        one, two = (one_job(book, chance, lambda: tell({"state": state(book)})).id for _ in range(2))

        def photo() -> int:
            return chance.randint(1, int(book.value("SELECT max(id) FROM photo")))

        deeds: tuple[Callable[[], Any], ...] = (
            lambda: slips.correct_job(book, one, who="Ana", vehicle=f"unit {chance.random()}"),
            lambda: slips.replace_axle(book, two, AXLE + f"# {chance.random()}\n", who="Ana"),
            lambda: start_try(book, one),
            lambda: slips.move_try(book, one, tries_of(book, one)[-1].number, two, who="Ana"),
            lambda: slips.move_try(book, two, tries_of(book, two)[-1].number, one, who="Ana"),
            lambda: slips.strike_try(book, two, tries_of(book, two)[-1].number, who="Ana", reason="x"),
            lambda: slips.move_photo(book, photo(), one, who="Ana"),
            lambda: slips.strike_photo(book, photo(), who="Ana", reason="x"),
            lambda: record(book, one, ring_runout_mm=round(chance.random() / 5, 3), backlash_mm=[0.15]),
            lambda: record(book, one, cleared=["runout", "backlash"]),
            lambda: sign_off(book, one, who="Ana", confirmed=check_list(), despite="a test"),
            lambda: reopen(book, one, who="Ana", reason="a test"),
            lambda: slips.merge_jobs(book, one_job(book, chance, lambda: None).id, two, who="Ana"),
            lambda: undo(book, who="Ana"),
            lambda: undo(book, who="Ana"),
        )  # fmt: skip
        while True:
            try:
                chance.choice(deeds)()
            except (BookError, IndexError):
                continue  # what can't be done now is refused whole
            tell({"state": state(book)})


def merge_books(path: Path, chance: random.Random, tell: Tell) -> None:
    """Other benches' books merged in and sometimes taken back, until killed."""
    benches = sorted(path.parent.with_name("benches").iterdir())
    with Book(path, write=True) as book:
        while True:
            merge_book(book, chance.choice(benches), who="Ana")
            tell({"state": state(book)})
            if chance.random() < 0.7:
                with suppress(BookError):
                    undo(book, who="Ana")
                tell({"state": state(book)})


def make_benches(folder: Path, chance: random.Random, count: int = 6) -> None:
    """Exported books of other benches."""
    folder.mkdir()
    for number in range(count):
        with tempfile.TemporaryDirectory() as place, Book(Path(place) / "bench.sqlite", write=True) as there:
            for _ in range(2):
                one_job(there, chance, lambda: None)
            export_book(there, folder / str(number))


def put_back(path: Path, chance: random.Random, tell: Tell) -> None:
    """Backups and exports put back, with work in between; sometimes over a book that was damaged before."""
    with Book(path, write=True) as book:
        one_job(book, chance, lambda: tell({"state": state(book)}))
    while True:
        source = path.parent / f"out-{chance.getrandbits(40):x}"
        with Book(path, write=True) as book:
            then = state(book)
            if chance.random() < 0.5:
                source = book.back_up()
            else:
                export_book(book, source)
            one_job(book, chance, lambda: tell({"state": state(book)}))
        if chance.random() < 0.3:
            tell({"maybe": then, "damaged": True})
            path.write_bytes(path.read_bytes()[:5000])
        else:
            tell({"maybe": then})
        restore(path, source)
        tell({"state": then})


def keep_copies(path: Path, chance: random.Random, tell: Tell) -> None:
    """Backups, exports and whole imports beside the work."""
    with Book(path, write=True) as book:
        while True:
            one_job(book, chance, lambda: tell({"state": state(book)}))
            tell({"backup": str(book.back_up())})
            folder = path.parent / f"out-{chance.getrandbits(40):x}"
            export_book(book, folder)
            second = path.parent / f"second-{chance.getrandbits(40):x}" / "second.sqlite"
            import_book(folder, second)
            tell({"second": str(second)})


WORKS: tuple[Work, ...] = (record_jobs, review_folder, put_right, merge_books, put_back, keep_copies)


def kill_rounds(folder: Path, rounds: int, seed: int = 1) -> Counter[str]:
    """Run the rounds; counts of what was told and found. AssertionError where something was lost."""
    chance = random.Random(seed)
    counts: Counter[str] = Counter()
    told: list[dict[str, Any]] = []
    path = folder / "book.sqlite"
    make_benches(folder.with_name("benches"), chance)
    for turn in range(rounds):
        if turn % FRESH_BOOK_EVERY == 0:
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            told = []
        work = WORKS[turn % len(WORKS)]
        new = one_kill(path, work, chance)
        counts[f"told by {work.__name__}"] += len(new)
        told = verify(path, told + new, counts)
    counts["rounds"] = rounds
    return counts


def one_kill(path: Path, work: Work, chance: random.Random) -> list[dict[str, Any]]:
    """One child, killed after a random time; what it told."""
    reads, writes = os.pipe()
    own = random.Random(chance.getrandbits(64))
    child = os.fork()
    if child == 0:
        os.close(reads)
        try:
            work(path, own, lambda words: void(os.write(writes, json.dumps(words).encode() + b"\n")))
        except BaseException as error:
            os.write(writes, json.dumps({"failed": f"{type(error).__name__}: {error}"}).encode() + b"\n")
        finally:
            os._exit(1)
    os.close(writes)
    time.sleep(chance.uniform(0, 0.3) ** 2 * 6)  # often early, when the book is opened
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    with os.fdopen(reads) as pipe:
        text = pipe.read()
    assert os.WIFSIGNALED(status), f"{work.__name__} ended by itself: {text[-600:]}"
    return [json.loads(line) for line in text.splitlines()]


def void(_: int) -> None:
    """A result that isn't needed."""


def verify(path: Path, told: list[dict[str, Any]], counts: Counter[str]) -> list[dict[str, Any]]:
    """The last state told is in the book, or the one that was just being put back; nothing is half. What
    holds from here on is returned."""
    states = [thing for thing in told if "state" in thing or "maybe" in thing]
    last = next((tuple(thing["state"]) for thing in reversed(states) if "state" in thing), (0, ""))
    maybe = states[-1].get("maybe") if states else None
    if not path.exists():
        assert last == (0, ""), last
        counts["before the book was made"] += 1
        return []
    if maybe is not None and states[-1].get("damaged"):
        try:
            Book(path, write=True).close()
        except BookError:  # killed before the damaged book was replaced: the person does it again
            counts["still damaged, restored again"] += 1
            restore(path, _newest_source(path))
            last, maybe = (0, ""), None
    leftovers = path.with_name("book-photos") / "incoming"
    if leftovers.is_dir():
        counts["photos found half stored, and cleared up"] += len(list(leftovers.iterdir()))
    with Book(path, write=True) as book:
        found = check_book(book)
        assert found.clean and not found.unfinished, found
        if maybe is not None and state(book) != last and _holds(book, tuple(maybe)):
            last = tuple(maybe)
        assert last == (0, "") or _holds(book, last), (last, state(book))
        assert book.value("SELECT count(*) FROM photo WHERE id NOT IN (SELECT photo_id FROM reading)") == 0
        measured = "SELECT count(*) FROM try WHERE ring_runout_mm IS NOT NULL AND struck IS NULL"
        assert book.value(f"{measured} AND id NOT IN (SELECT try_id FROM backlash)") == 0
        assert book.value("SELECT count(*) FROM sign_off WHERE outcome = 'done'") * len(
            check_list()
        ) == book.value("SELECT count(*) FROM check_list")
        now = state(book)
        list_jobs(book)
    for thing in told:
        for name in ("backup", "second"):
            if name in thing:
                with Book(Path(thing[name])) as copy:
                    assert name == "backup" or check_book(copy).clean
                    counts[f"{name}s looked at"] += 1
    for name in ("importing", "merging", "restoring"):
        for left in path.parent.glob(f"*-{name}*"):
            counts["unfinished files of a killed command"] += 1
            assert not left.is_dir() or left.name.endswith(("photos", "backups")), left
    return [{"state": now}]


def _holds(book: Book, wanted: State) -> bool:
    row = book.row("SELECT digest FROM entry WHERE id = ?", wanted[0])
    return row is not None and row["digest"] == wanted[1]


def _newest_source(path: Path) -> Path:
    """The newest backup that isn't what lay there damaged."""
    return sorted(backup_folder(path).glob("*.sqlite"), key=lambda each: each.stat().st_mtime)[-1]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        begin = time.perf_counter()
        for words, number in sorted(kill_rounds(Path(place) / "shop", given.rounds, given.seed).items()):
            print(f"{words}: {number}")
        print(f"nothing told was lost, nothing half was kept ({time.perf_counter() - begin:.0f} s)")
    sys.exit(0)
