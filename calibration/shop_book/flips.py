"""Flips single bits of a closed shop book, and of stored photos; `check` must name everything that changed.

``python calibration/shop_book/flips.py [--flips 600] [--seed 1] [--photos 200]``. A small made-up book with
something in every table is written. One bit at a random place of its file is flipped, then: are the rows,
read as any program reads them, and the answers to every question still the same? Flips that change nothing
are counted and passed over, until the wanted number has changed something. Each of those must be told: the
book is refused when opened, or `check` names every changed row, or says that the table can't be read. Then
the same for photos: one bit is flipped in half of them.
"""

from __future__ import annotations

import argparse
import random
import sqlite3
import sys
import tempfile
from collections import Counter
from contextlib import closing
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
from kills import AXLE, one_job

from contactread.errors import ContactreadError
from contactread.records import questions, slips
from contactread.records.book import Book
from contactread.records.check import check_book, named
from contactread.records.log import TABLES, key_of
from contactread.records.photos import keep_photo
from contactread.records.sign_off import check_list, reopen, sign_off
from contactread.records.tries import record
from contactread.records.undo import undo

Rows = dict[str, dict[str, tuple[Any, ...]]]
LOG = {"entry": ("id",), "change": ("entry_id", "number")}


def make_shop(path: Path, chance: random.Random) -> None:
    """A closed book of a few jobs, with something in every table."""
    with Book(path, write=True) as book:
        for number in range(6):
            job = one_job(book, chance, lambda: None).id
            record(book, job, ring_runout_mm=0.04, notes=f"{chance.random()} " * 20)
            slips.correct_job(book, job, who="Ben", vehicle=f"unit {number}", customer="Invented Farm")
            if number % 2:
                sign_off(book, job, who="Ana", confirmed=check_list(), despite="a test")
            if number % 4 == 1:
                reopen(book, job, who="Ben", reason="came back")
            if number == 4:
                slips.replace_axle(book, job, AXLE + "# another\n", who="Ben")
                undo(book, who="Ben")
        with book.writing("practice", who="Ana"):
            answer = {"apprentice": "Bo", "answered_at": book.stamp(), "topic": "depth", "question": "d-1"}
            book.insert("practice_answer", answer | {"given": "a", "score": 0.5, "test": None})
            case = {"try_id": 1, "right_move": "pinion_toward", "says": "", "added_by": "Ana"}
            book.insert("practice_case", case | {"added_at": book.stamp()})


def rows_of(path: Path) -> Rows:
    """Every row that any program reads, by table and primary key. Raises sqlite3.Error."""
    found: Rows = {}
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as bare:
        bare.row_factory = sqlite3.Row
        for table, key in {**TABLES, **LOG}.items():
            rows = bare.execute(f"SELECT * FROM {table}").fetchall()
            found[table] = {
                (key_of(table, row) if table in TABLES else "/".join(str(row[c]) for c in key)): tuple(row)
                for row in rows
            }
    return found


def answers_of(path: Path) -> list[Any]:
    """Every question's answer. Raises what reading a damaged book raises."""
    with Book(path) as book:
        asked = [questions.tries_per_job(book, by_person=person).rows for person in (False, True)]
        asked += [questions.start_shims(book).rows, questions.refusals(book).rows]
        asked += [questions.refused_photos(book).rows, questions.runout_hints(book).rows]
        asked += [questions.verdicts(book).rows, questions.search(book, "unit").rows]
        return [*asked, *(questions.walk(book, job).rows for job in range(1, 7))]


def changed(before: Rows, after: Rows) -> list[tuple[str, str]]:
    """Table and key of every row that differs, is missing, or is new."""
    return [
        (table, key)
        for table in before
        for key in sorted(before[table].keys() | after[table].keys())
        if before[table].get(key) != after[table].get(key)
    ]


def one_flip(path: Path, data: bytes, bit: int, rows: Rows, answers: list[Any], counts: Counter[str]) -> str:
    """What became of one flip: "nothing changed", how it was told, or "PASSED" with what wasn't named."""
    flipped = bytearray(data)
    flipped[bit // 8] ^= 1 << bit % 8
    path.write_bytes(flipped)
    for ending in ("-wal", "-shm"):
        Path(f"{path}{ending}").unlink(missing_ok=True)
    try:
        now: Rows | None = rows_of(path)
    except (sqlite3.Error, UnicodeDecodeError, OverflowError, IndexError):
        now = None
    try:
        same = now == rows and answers_of(path) == answers
    except Exception:  # whatever a damaged book makes of a question, it isn't the answer
        same = False
    if same:
        return "nothing changed"
    try:
        with Book(path) as book:
            found = check_book(book)
            told = [*found.database, *found.changed, *found.impossible]
            names = [] if now is None else [
                f"entry {key.split('/')[0]} of the log" if table in LOG else named(book, table, key)
                for table, key in changed(rows, now)
            ]  # fmt: skip
    except ContactreadError as error:
        return f"refused when opened: {error.code}"
    missed = [name for name in names if not any(name in words for words in told)]
    if found.clean or (missed and not found.database):
        return f"PASSED {missed or 'check'}"
    if missed:
        return "named by SQLite's own check"
    return "every changed row named" if names else "damage named, no row changed"


def flip_facts(folder: Path, wanted: int, seed: int) -> Counter[str]:
    """Flips until `wanted` have changed something; what became of them."""
    chance = random.Random(seed)
    path = folder / "book.sqlite"
    make_shop(path, chance)
    data, rows, answers = path.read_bytes(), rows_of(path), answers_of(path)
    counts: Counter[str] = Counter()
    while sum(n for words, n in counts.items() if words != "nothing changed") < wanted:
        counts[one_flip(path, data, chance.randrange(8 * len(data)), rows, answers, counts)] += 1
    return counts


def flip_photos(folder: Path, count: int, seed: int) -> bool:
    """Whether check names the photos in which a bit was flipped, and no other."""
    chance = random.Random(seed)
    flipped = set()
    with Book(folder / "photos.sqlite", write=True) as book:
        for number in range(2 * count):
            data = bytearray(chance.randbytes(chance.randint(1_000, 200_000)))
            photo = keep_photo(book, bytes(data), name="a.jpg", who="Ana", try_id=None, reading=None)
            if number % 2:
                bit = chance.randrange(8 * len(data))
                data[bit // 8] ^= 1 << bit % 8
                book.photos.place(photo.sha256, photo.suffix).write_bytes(data)
                flipped.add(photo.sha256)
        found = check_book(book)
    name = set(found.altered)
    print(f"{len(flipped)} photos altered by one bit, {len(name & flipped)} named", end=", ")
    print(f"{len(name - flipped)} others named")
    return name == flipped and not (found.missing or found.orphans or found.database)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flips", type=int, default=600)
    parser.add_argument("--photos", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        counts = flip_facts(Path(place), given.flips, given.seed)
        for words, number in counts.most_common():
            print(f"{number:>6}  {words}")
        kept = flip_photos(Path(place), given.photos, given.seed)
    return 0 if kept and not any(words.startswith("PASSED") for words in counts) else 1


if __name__ == "__main__":
    sys.exit(main())
