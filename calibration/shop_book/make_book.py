"""A large made-up shop book: ``python calibration/shop_book/make_book.py BOOK --jobs 20000``.

Everything in it is invented by a seeded generator; nothing was measured. Each job has one to four tries,
each try about two readings, so that 20,000 jobs hold about 100,000 readings. The photos' bytes aren't
made, so `contactread check` calls them missing. A reading's JSON is filled up to the size of a real one.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from contactread.records.book import Book
from contactread.records.moments import stamp

PEOPLE = ("Ana", "Ben", "Chidi", "Dora", "Emre", "Fumi")
KINDS = tuple(
    f"Invented {name} {size}" for name in ("loader", "truck", "tractor", "hauler") for size in (20, 27, 34)
)
UNITS = ("loader", "lorry", "tractor", "dumper", "grader", "crane")
COMPOUNDS = ("yellow", "white", "red, oiled", "blue")
DRAGS = ("rag between the fingers", "bar on the ring gear", "helper's hand", "brake shoe")
REFUSALS = ("too-blurred", "too-dark", "glare-over-flanks", "no-compound", "teeth-too-small")
FILLER = "x" * 7_500  # what a real reading measures of six teeth takes about 8 kB
AXLE = '[gears]\npinion_teeth = 11\nring_teeth = 41\nring_diameter = "{} mm"\n'


def make_book(path: Path, jobs: int, seed: int = 1) -> dict[str, int]:
    """Fill a new book; rows by table."""
    chance = random.Random(seed)
    with Book(path, write=True) as book, book.writing("made up"):
        for number, kind in enumerate(KINDS, 1):
            text = f'name = "{kind}"\n' + AXLE.format(180 + 10 * number)
            sha256 = hashlib.sha256(text.encode()).hexdigest()
            book.insert("axle", {"sha256": sha256, "text": text, "kind": kind})
        for table, row in rows(chance, jobs):
            book.insert(table, row)
    with Book(path) as book:
        tables = ("job", "try", "backlash", "photo", "reading", "advice", "sign_off")
        return {table: book.value(f"SELECT count(*) FROM {table}") for table in tables}


def rows(chance: random.Random, jobs: int) -> Iterator[tuple[str, dict[str, object]]]:
    """The rows of all jobs, in the order in which they can be put."""
    moment = datetime(2020, 1, 6, 7, 0, tzinfo=UTC)
    try_id = photo_id = 0
    for job in range(1, jobs + 1):
        moment += timedelta(minutes=chance.randint(20, 260))
        axle = chance.randint(1, len(KINDS))
        person = chance.choice(PEOPLE)
        yield "job", {
            "vehicle": f"{chance.choice(UNITS)} {chance.randint(1, 400)}", "axle_id": axle,
            "gear_set": f"set {chance.randint(100, 999)}-{chance.randint(1, 9)}",
            "condition": chance.choice(("new", "used")), "opened_by": person, "opened_at": stamp(moment),
            "notes": chance.choice(("", "whine on the overrun", "new bearings", "came back after 300 h")),
        }  # fmt: skip
        shim = 0.8 + 0.05 * axle + chance.gauss(0, 0.08)
        tries = chance.choices((1, 2, 3, 4), (15, 35, 35, 15))[0]
        for number in range(1, tries + 1):
            try_id += 1
            moment += timedelta(minutes=chance.randint(10, 90))
            yield "try", {
                "job_id": job, "number": number, "made_by": chance.choice((person, chance.choice(PEOPLE))),
                "made_at": stamp(moment), "pinion_shim_mm": round(shim, 3), "ring_side_shim_mm": 6.0,
                "opposite_side_shim_mm": 6.5, "ring_runout_mm": round(abs(chance.gauss(0.03, 0.02)), 3),
                "pinion_torque_nm": 2.4, "bearings": "new", "total_torque_nm": 2.9,
                "compound": chance.choice(COMPOUNDS), "drag": chance.choice(DRAGS), "notes": "",
            }  # fmt: skip
            shim += chance.gauss(0.03, 0.05)
            backlash = chance.gauss(0.17, 0.02)
            for place in range(1, 5):
                mm = round(max(0.0, backlash + chance.gauss(0, 0.008)), 3)
                yield "backlash", {"try_id": try_id, "place": place, "mm": mm}
            for side in ("drive", "coast"):
                photo_id += 1
                yield from photo(chance, photo_id, try_id, side, person, stamp(moment))
            verdict = "acceptable" if number == tries else "move_pinion"
            yield "advice", {
                "try_id": try_id, "given_at": stamp(moment), "program": "made up", "verdict": verdict,
                "pinion_shim_change_mm": None, "ring_move_mm": None, "json": json.dumps({"verdict": verdict}),
            }  # fmt: skip
        if chance.random() < 0.97:
            yield "sign_off", {
                "job_id": job, "outcome": "done", "signed_by": person, "signed_at": stamp(moment),
                "final_try_id": try_id, "reason": "", "left_open": "[]",
            }  # fmt: skip


def photo(
    chance: random.Random, photo_id: int, try_id: int, side: str, person: str, moment: str
) -> Iterator[tuple[str, dict[str, object]]]:
    """One photo and its reading."""
    yield "photo", {
        "sha256": hashlib.sha256(f"made up {photo_id}".encode()).hexdigest(), "try_id": try_id,
        "name": f"IMG_{photo_id:06}.jpg", "suffix": ".jpg", "bytes": 0, "added_by": person,
        "added_at": moment,
    }  # fmt: skip
    common = {"photo_id": photo_id, "read_at": moment, "program": "made up"}
    if chance.random() < 0.05:
        code = chance.choice(REFUSALS)
        refusal = {"code": code, "message": f"Made up: {code}.", "next_step": "Take it again."}
        yield "reading", common | {
            "status": "refused", "refusal": code, "json": json.dumps({"refusal": refusal, "flags": []}),
        }  # fmt: skip
        return
    u, v = round(chance.gauss(0.45, 0.1), 4), round(chance.gauss(0.5, 0.1), 4)
    spread = [round(abs(chance.gauss(0, 0.017)), 4), round(abs(chance.gauss(0, 0.025)), 4)]
    pattern = {"centroid": [u, v], "length": [u - 0.2, u + 0.2], "height": [v - 0.2, v + 0.2]}
    pattern["spread"] = {"length": spread[0], "height": spread[1]}  # type: ignore[assignment]
    yield "reading", common | {
        "status": "read", "side": side, "flank": "convex" if side == "drive" else "concave",
        "confidence": 0.9, "centre_u": u, "centre_v": v, "spread_u": spread[0], "spread_v": spread[1],
        "wave_u": 0.06 if chance.random() < 0.01 else None, "wave_v": None,
        "json": json.dumps({"flags": [], "pattern": pattern, "side": side, "measured": FILLER}),
    }  # fmt: skip


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("book", type=Path)
    parser.add_argument("--jobs", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    print(make_book(given.book, given.jobs, given.seed))
