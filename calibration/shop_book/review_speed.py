"""How much faster a review is on two cores, and whether its memory stays flat.

``python calibration/shop_book/review_speed.py [--photos 200] [--source FOLDER]``. Takes the photos of a
folder (with truth or corners beside them, as in sample_images), makes as many different ones as wanted by
a comment inside each JPEG, and reviews them into a new book on one core and on two, in turns: as many
workers as cores, and the program itself on the same cores. Prints photos per second, the ratio, the
memory of all processes at each quarter, and the processor time of the one process that keeps and of the
workers: the share of the first is all that can't be halved. Promise: 1.8 times as fast.
Linux only (reads /proc). Run it when the machine is quiet.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from contactread.records import executors
from contactread.records.book import Book
from contactread.records.filing import by_folder
from contactread.records.review import read_photo, review

PROMISE = 1.8
CORES = os.sched_getaffinity(0)


def make_photos(source: Path, folder: Path, count: int) -> None:
    """Different photos from those of `source`, with their corners by hand where these are known."""
    originals = sorted(p for p in source.rglob("*.jpg") if p.with_suffix(".json").is_file())
    usable = [(p, c) for p in originals if (c := corners_of(p.with_suffix(".json"))) is not None]
    if not usable:
        sys.exit(f"no photo with truth beside it in {source}")
    folder.mkdir()
    for number in range(count):
        photo, corners = usable[number % len(usable)]
        data = photo.read_bytes()
        comment = f"copy {number}".encode()
        segment = b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment
        (folder / f"{number:04}.jpg").write_bytes(data[:2] + segment + data[2:])
        (folder / f"{number:04}_corners.json").write_text(json.dumps(corners), encoding="utf-8")


def corners_of(truth: Path) -> dict[str, Any] | None:
    """The corners of the painted teeth that a truth file names; None where it has none."""
    known = json.loads(truth.read_text(encoding="utf-8"))
    teeth = [t["corners_px"] for t in known.get("teeth", ()) if t.get("painted", True)]
    return {"teeth": teeth[:6]} if len(teeth) >= 2 else None


class Memory(threading.Thread):
    """Watches the resident memory of this process and its children, in MB."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.samples: list[float] = []
        self._go = True

    def run(self) -> None:
        while self._go:
            self.samples.append(sum(map(_resident, family(os.getpid()))))
            time.sleep(0.1)

    def stop(self) -> list[float]:
        """The largest sample of each quarter."""
        self._go = False
        self.join()
        size = max(1, len(self.samples) // 4)
        return [max(self.samples[k * size : (k + 1) * size], default=0.0) for k in range(4)]


def family(process: int) -> list[int]:
    """A process and all that descend from it."""
    try:
        children = Path(f"/proc/{process}/task/{process}/children").read_text(encoding="utf-8").split()
    except OSError:
        return []
    return [process, *(descendant for child in children for descendant in family(int(child)))]


def _resident(process: int) -> float:
    try:
        pages = int(Path(f"/proc/{process}/statm").read_text(encoding="utf-8").split()[1])
    except (OSError, IndexError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def one_review(folder: Path, book: Path, cores: int) -> tuple[float, int, list[float]]:
    """Photos per second, how many were read, memory by quarter. The start of the workers counts."""
    os.sched_setaffinity(0, set(sorted(CORES)[:cores]))
    memory = Memory()
    memory.start()
    own, theirs = _cpu(), _cpu(resource.RUSAGE_CHILDREN)
    begin = time.perf_counter()
    with Book(book, write=True) as opened:
        outcomes = list(
            review(
                opened, by_folder(folder), read_photo, lambda: executors.local(cores), who="Speed",
                at_once=2 * cores,
            )
        )  # fmt: skip
    seconds = time.perf_counter() - begin
    own, theirs = _cpu() - own, _cpu(resource.RUSAGE_CHILDREN) - theirs
    print(f"processor time a photo: {own / len(outcomes):.3f} s in the one that keeps, ", end="")
    print(f"{theirs / len(outcomes):.3f} s in the workers; ", end="")
    return len(outcomes) / seconds, sum(o.status == "read" for o in outcomes), memory.stop()


def _cpu(who: int = resource.RUSAGE_SELF) -> float:
    used = resource.getrusage(who)
    return used.ru_utime + used.ru_stime


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=200)
    parser.add_argument("--rounds", type=int, default=2)
    parser.add_argument("--source", type=Path, default=Path(__file__).parents[2] / "sample_images")
    given = parser.parse_args()
    speeds: dict[int, list[float]] = {1: [], 2: []}
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "photos"
        make_photos(given.source, folder, given.photos)
        for turn in range(given.rounds):
            for cores in (1, 2):
                book = Path(place) / f"book-{turn}-{cores}" / "book.sqlite"
                speed, read, memory = one_review(folder, book, cores)
                speeds[cores].append(speed)
                shutil.rmtree(book.parent)
                quarters = ", ".join(f"{mb:.0f}" for mb in memory)
                print(f"{cores} cores: {speed:.2f} photos/s, {read} of {given.photos} read", end="; ")
                print(f"MB by quarter {quarters}")
    ratio = max(speeds[2]) / max(speeds[1])
    print(
        f"two cores are {ratio:.2f} times as fast as one (promise {PROMISE}); load {os.getloadavg()[0]:.1f}"
    )
    return 0 if ratio >= PROMISE else 1


if __name__ == "__main__":
    sys.exit(main())
