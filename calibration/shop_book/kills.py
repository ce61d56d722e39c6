"""Kills a program at random moments while it records and while it reviews; nothing told may be lost.

``python calibration/shop_book/kills.py --rounds 1000``. In each round a child process writes to a shop
book and tells each thing through a pipe once it is durable; it is ended by SIGKILL at a random moment.
Then the book is opened as by the next command, and: everything told is there, nothing is half, `check`
is clean. Prints how many things were told and how many leftovers were cleared up, so that one sees that
kills struck in the middle. Unix only.
"""

from __future__ import annotations

import argparse
import hashlib
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
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.filing import by_folder
from contactread.records.jobs import open_job
from contactread.records.nouns import Fastener
from contactread.records.photos import keep_advice, keep_photo
from contactread.records.review import ReadTask, review
from contactread.records.sign_off import check_list, sign_off
from contactread.records.tries import record, start_try

AXLE = """[gears]
pinion_teeth = 11
ring_teeth = 41
ring_diameter = "215 mm"
[pinion_shim]
thickness = "1.00 mm"
"""
FRESH_BOOK_EVERY = 25
Tell = Callable[[dict[str, Any]], None]


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


def record_jobs(path: Path, chance: random.Random, tell: Tell) -> None:
    """Job after job, until killed."""
    with Book(path, write=True) as book:
        while True:
            job = open_job(book, vehicle=f"unit {chance.random()}", axle_text=AXLE, who="Ana")
            tell({"job": job.id, "vehicle": job.vehicle})
            attempt = start_try(book, job.id, pinion_shim_mm=round(chance.uniform(0.5, 2), 3))
            tell({"try": attempt.id, "pinion_shim_mm": attempt.pinion_shim_mm})
            backlash = [round(chance.uniform(0.1, 0.2), 3) for _ in range(4)]
            bolts = [Fastener("caps", 100.0, 120.0, 110.0)]
            record(book, job.id, backlash_mm=backlash, ring_runout_mm=0.03, fasteners=bolts)
            tell({"measured": attempt.id, "backlash_mm": backlash, "ring_runout_mm": 0.03})
            for side in ("drive", "coast"):
                data = chance.randbytes(chance.randint(1, 300_000))
                photo = keep_photo(
                    book, data, name=f"{side}.jpg", who="Ana", try_id=attempt.id, reading=reading(side)
                )
                tell({"photo": photo.sha256})
            keep_advice(book, attempt.id, verdict="acceptable", pinion_shim_change_mm=None,
                        ring_move_mm=None, advice={})  # fmt: skip
            tell({"advice": attempt.id})
            sign_off(book, job.id, who="Ana", confirmed=check_list(), despite="a test")
            tell({"sign_off": job.id})


def review_folder(path: Path, chance: random.Random, tell: Tell) -> None:
    """A folder of new photos, until killed; then the same one again by the next round, and so on."""
    folder = path.parent / "folder"
    with Book(path, write=True) as book:
        while True:
            folder.mkdir(exist_ok=True)
            for _ in range(8):
                data = chance.randbytes(chance.randint(1, 300_000))
                place = folder / f"unit {chance.randint(1, 3)}" / "try 1"
                place.mkdir(parents=True, exist_ok=True)
                (place / f"{chance.getrandbits(40):x}.jpg").write_bytes(data)
            for outcome in review(book, by_folder(folder), read, threads, who="Ana", axle_text=AXLE):
                if outcome.status == "read":
                    tell({"photo": hashlib.sha256(outcome.path.read_bytes()).hexdigest()})
            shutil.rmtree(folder)


def kill_rounds(folder: Path, rounds: int, seed: int = 1) -> Counter[str]:
    """Run the rounds; counts of what was told and found. AssertionError where something was lost."""
    chance = random.Random(seed)
    counts: Counter[str] = Counter()
    told: list[dict[str, Any]] = []
    path = folder / "book.sqlite"
    for turn in range(rounds):
        if turn % FRESH_BOOK_EVERY == 0:
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            told = []
        work = (record_jobs, review_folder)[turn % 2]
        new = one_kill(path, work, chance)
        told += new
        counts["told"] += len(new)
        verify(path, told, counts)
    counts["rounds"] = rounds
    return counts


def one_kill(
    path: Path, work: Callable[[Path, random.Random, Tell], None], chance: random.Random
) -> list[dict[str, Any]]:
    """One child, killed after a random time; what it told."""
    reads, writes = os.pipe()
    own = random.Random(chance.getrandbits(64))
    child = os.fork()
    if child == 0:
        os.close(reads)
        try:
            work(path, own, lambda words: void(os.write(writes, json.dumps(words).encode() + b"\n")))
        finally:
            os._exit(1)
    os.close(writes)
    time.sleep(chance.uniform(0, 0.25) ** 2 * 4)  # often early, when the book is opened
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    with os.fdopen(reads) as pipe:
        text = pipe.read()
    assert os.WIFSIGNALED(status), f"the child ended by itself: {text[-300:]}"
    return [json.loads(line) for line in text.splitlines()]


def void(_: int) -> None:
    """A result that isn't needed."""


def verify(path: Path, told: list[dict[str, Any]], counts: Counter[str]) -> None:
    """Everything told is in the book, nothing is half, `check` is clean."""
    if not path.exists():
        assert not told
        counts["before the book was made"] += 1
        return
    notes = path.with_name("book-photos") / "incoming"
    counts["photos found half stored, and cleared up"] += len(list(notes.iterdir())) if notes.is_dir() else 0
    with Book(path, write=True) as book:
        for thing in told:
            _find(book, thing)
        found = check_book(book)
        assert found.clean and not found.unfinished, found
        assert book.value("SELECT count(*) FROM photo WHERE id NOT IN (SELECT photo_id FROM reading)") == 0
        rows = "SELECT " + " + ".join(
            f"(SELECT count(*) FROM {t})" for t in ("job", "try", "photo", "sign_off", "reading")
        )
        assert book.value(rows) == book.value("SELECT count(*) FROM words")
        measured = "SELECT count(*) FROM try WHERE ring_runout_mm IS NOT NULL"
        assert book.value(f"{measured} AND id NOT IN (SELECT try_id FROM backlash)") == 0
        assert book.value("SELECT count(*) FROM sign_off") * len(check_list()) == book.value(
            "SELECT count(*) FROM check_list"
        )


def _find(book: Book, thing: dict[str, Any]) -> None:
    if "job" in thing:
        assert book.value("SELECT vehicle FROM job WHERE id = ?", thing["job"]) == thing["vehicle"], thing
    elif "try" in thing:
        shim = book.value("SELECT pinion_shim_mm FROM try WHERE id = ?", thing["try"])
        assert shim == thing["pinion_shim_mm"], thing
    elif "measured" in thing:
        sql = "SELECT mm FROM backlash WHERE try_id = ? ORDER BY place"
        assert [row[0] for row in book.rows(sql, thing["measured"])] == thing["backlash_mm"], thing
    elif "photo" in thing:
        row = book.row("SELECT suffix FROM photo WHERE sha256 = ?", thing["photo"])
        assert row is not None and book.photos.place(thing["photo"], row["suffix"]).is_file(), thing
    elif "advice" in thing:
        assert book.value("SELECT count(*) FROM advice WHERE try_id = ?", thing["advice"]) == 1, thing
    else:
        assert book.value("SELECT count(*) FROM sign_off WHERE job_id = ?", thing["sign_off"]) == 1, thing


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        begin = time.perf_counter()
        for words, number in kill_rounds(Path(place) / "shop", given.rounds, given.seed).items():
            print(f"{words}: {number}")
        print(f"nothing told was lost, nothing half was kept ({time.perf_counter() - begin:.0f} s)")
    sys.exit(0)
