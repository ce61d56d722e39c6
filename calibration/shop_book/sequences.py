"""Random sequences of commands with undo: the book must equal the one where the undone were never given.

``python calibration/shop_book/sequences.py [--sequences 1000] [--seed 1]``. Two people give random commands
(jobs opened, tries started, values recorded and struck out, photos kept, moved and struck out, jobs and
tries corrected, moved, merged, struck out, signed off, reopened) and take back, at random, their last ones.
Then the commands that still stand are given to a fresh book, each at its own time. Every row of both books
must be equal, but for numbers that an undone command used up and for identities, which are new each time:
numbers are compared by their order. Axle files stay, and are compared by their contents. Both books must be
sound.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
from kills import AXLE, reading

from contactread.errors import BookError
from contactread.records import slips
from contactread.records.book import Book
from contactread.records.check import check_facts, database_findings
from contactread.records.jobs import open_job
from contactread.records.log import TABLES
from contactread.records.photos import keep_advice, keep_photo
from contactread.records.sign_off import check_list, reopen, sign_off, stop
from contactread.records.tries import record, start_try, tries_of
from contactread.records.undo import undo

PEOPLE = ("Ana", "Ben")
BEGIN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
REFERS = {
    "id": None,
    "axle_id": "axle",
    "job_id": "job",
    "try_id": "try",
    "final_try_id": "try",
    "photo_id": "photo",
}


class Shop:
    """A book, and its jobs by the step that opened them; commands name jobs so."""

    def __init__(self, path: Path) -> None:
        self.moment = BEGIN
        self.book = Book(path, write=True, clock=lambda: self.moment)
        self.jobs: dict[int, int] = {}

    def give(self, command: Command) -> None:
        """Run a command at its own time. Raises `BookError`."""
        self.moment = BEGIN + timedelta(minutes=command.step)
        command.run(self)

    def newest_try(self, job: int) -> int:
        """The try's row of the newest try. Raises IndexError."""
        return tries_of(self.book, self.jobs[job])[-1].id

    def newest_number(self, job: int) -> int:
        return tries_of(self.book, self.jobs[job])[-1].number


class Command:
    """One command: who gives it at which step, and what it does to a shop."""

    def __init__(self, step: int, who: str, run: Callable[[Shop], Any]) -> None:
        self.step, self.who, self.run = step, who, run


def random_command(step: int, chance: random.Random, jobs: list[int]) -> Command:
    who = chance.choice(PEOPLE)
    if not jobs or chance.random() < 0.12:
        return Command(step, who, lambda shop: _open(shop, step, who))
    a, b = chance.choice(jobs), chance.choice(jobs)
    number = round(chance.uniform(0.05, 0.4), 3)
    data = f"photo {chance.randint(1, 12)}".encode()
    side = chance.choice(("drive", "coast"))
    kept: dict[str, Any] = {"pinion_shim_change_mm": number, "ring_move_mm": None, "advice": {"n": number}}
    clear = chance.choice(("backlash", "runout", "side-shims", "compound"))
    deeds: tuple[Callable[[Shop], Any], ...] = (
        lambda s: start_try(s.book, s.jobs[a], who=who, pinion_shim_mm=1 + number),
        lambda s: start_try(s.book, s.jobs[a], who=who, notes=f"n{number}"),
        lambda s: record(s.book, s.jobs[a], who=who, backlash_mm=[number, number + 0.01]),
        lambda s: record(s.book, s.jobs[a], who=who, ring_runout_mm=number, compound=f"c{number}"),
        lambda s: record(s.book, s.jobs[a], who=who, cleared=[clear]),
        lambda s: keep_photo(
            s.book, data, name="a.jpg", who=who, try_id=s.newest_try(a), reading=reading(side)
        ),
        lambda s: slips.move_photo(s.book, _photo(s, data), s.jobs[b], who=who),
        lambda s: slips.strike_photo(s.book, _photo(s, data), who=who, reason="x"),
        lambda s: keep_advice(s.book, s.newest_try(a), verdict="acceptable", who=who, **kept),
        lambda s: slips.correct_job(s.book, s.jobs[a], who=who, vehicle=f"v{number}", customer=f"c{number}"),
        lambda s: slips.replace_axle(s.book, s.jobs[a], AXLE + f"# {number}\n", who=who),
        lambda s: slips.move_try(s.book, s.jobs[a], s.newest_number(a), s.jobs[b], who=who),
        lambda s: slips.merge_jobs(s.book, s.jobs[a], s.jobs[b], who=who),
        lambda s: slips.strike_try(s.book, s.jobs[a], s.newest_number(a), who=who, reason="x"),
        lambda s: slips.strike_job(s.book, s.jobs[a], who=who, reason="x"),
        lambda s: sign_off(s.book, s.jobs[a], who=who, confirmed=check_list(), despite="x"),
        lambda s: stop(s.book, s.jobs[a], who=who, reason="x"),
        lambda s: reopen(s.book, s.jobs[a], who=who, reason="x"),
    )
    return Command(step, who, chance.choice(deeds))


def _open(shop: Shop, step: int, who: str) -> None:
    job = open_job(shop.book, vehicle=f"unit {step}", axle_text=AXLE, who=who)
    shop.jobs[step] = job.id


def _photo(shop: Shop, data: bytes) -> int:
    import hashlib

    found = shop.book.value("SELECT id FROM photo WHERE sha256 = ?", hashlib.sha256(data).hexdigest())
    if found is None:
        raise IndexError("no such photo")
    return int(found)


def content(book: Book) -> dict[str, list[tuple[Any, ...]]]:
    """Every row, with numbers replaced by their rank and identities left out."""
    ranks = {
        table: {row[0]: k for k, row in enumerate(book.rows(f"SELECT id FROM {table} ORDER BY id"), 1)}
        for table, key in TABLES.items()
        if key == ("id",)
    }
    axles = {row["id"]: row["sha256"] for row in book.rows("SELECT id, sha256 FROM axle")}
    found: dict[str, list[tuple[Any, ...]]] = {}
    for table in TABLES:
        rows = []
        for row in book.rows(f"SELECT * FROM {table}"):
            values = dict(row)
            for column, other in REFERS.items():
                if column == "axle_id" and column in values:
                    values[column] = axles[values[column]]
                elif values.get(column) is not None:
                    values[column] = ranks[other or table][values[column]]
            values.pop("uid", None)
            rows.append(tuple(
                _ranked(value, ranks) if isinstance(value, str) else value for value in values.values()
            ))  # fmt: skip
        found[table] = sorted(rows, key=repr)
    return found


def _ranked(text: str, ranks: dict[str, dict[int, int]]) -> str:
    """Numbers of jobs and photos inside words, by their rank too."""
    for table in ("job", "photo"):
        text = re.sub(rf"\b{table} (\d+)", lambda m, t=table: f"{t} #{ranks[t].get(int(m[1]), m[1])}", text)  # type: ignore[misc]
    return text


def one_sequence(folder: Path, chance: random.Random, length: int) -> Counter[str]:
    """One sequence and its replay. AssertionError where the two books differ."""
    counts: Counter[str] = Counter()
    shop = Shop(folder / "given.sqlite")
    standing: dict[int, Command] = {}  # entry of the log -> command
    told: list[str] = []
    for step in range(1, length + 1):
        if standing and chance.random() < 0.3:
            shop.moment = BEGIN + timedelta(minutes=step)
            try:
                taken = undo(shop.book, who=chance.choice(PEOPLE))
            except BookError as error:
                counts[f"undo refused: {error.code}"] += 1
                continue
            counts["undone"] += 1
            told.append(f"{step}: undone {taken.what}")
            gone = standing.pop(taken.number)
            shop.jobs.pop(gone.step, None)
            continue
        command = random_command(step, chance, list(shop.jobs))
        try:
            shop.give(command)
        except (BookError, IndexError):
            counts["commands refused"] += 1
            continue
        entry = shop.book.row("SELECT id, what, at FROM entry ORDER BY id DESC LIMIT 1")
        assert entry is not None
        if entry["id"] in standing or entry["at"] != shop.book.stamp():
            counts["commands that changed nothing"] += 1
            continue
        standing[entry["id"]] = command
        told.append(f"{step}: {entry['what']} by {command.who}")
        counts["commands given"] += 1
    never = Shop(folder / "never.sqlite")
    for command in standing.values():
        never.give(command)
    one, two = content(shop.book), content(never.book)
    differing = {t: (one[t], two[t]) for t in TABLES if one[t] != two[t] and t != "axle"}
    assert not differing, json.dumps({"differs": differing, "told": told}, indent=1)
    for each in (shop, never):
        database = database_findings(each.book)
        assert [database, *check_facts(each.book, database)] == [[], [], []]
        each.book.close()
    return counts


def run(sequences: int, seed: int, length: int = 24) -> Counter[str]:
    counts: Counter[str] = Counter()
    for number in range(sequences):
        with tempfile.TemporaryDirectory() as place:
            counts += one_sequence(Path(place), random.Random(f"{seed} {number}"), length)
    return counts


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sequences", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for words, number in sorted(run(given.sequences, given.seed).items()):
        print(f"{number:>7}  {words}")
    print(f"in all {given.sequences} sequences the book equals the one where the undone were never given")
