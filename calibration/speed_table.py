"""What everything costs, in one table: each beside something bare that ran in the same minutes.

    python -m calibration.speed_table [--rounds 5]

Reading against the decoding of the same 12-megapixel photo; each stage of two photos to the printed move,
`--help`, a prediction, a review and storing, each against a bare process or a bare copy. A ratio holds on a
loaded machine, a time doesn't. No bars: those stand in calibration/speed.py, intake_speed.py, mechanics/ and
shop_book/, which measure each at length.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import cv2
import numpy as np

from calibration.intake_speed import SET_UP, STAGE_NAMES, STAGES, alternating, large_photo
from contactread.belief.kept import VARIABLE
from contactread.photo.load import load_photo
from contactread.reading import read
from contactread.records.book import Book
from contactread.records.photos import keep_photo

_RUN = (sys.executable, "-m", "contactread.cli.main")


def main() -> int:
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)

    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    os.environ[VARIABLE] = str(Path(__file__) / "nowhere")  # as where an axle is read for the first time
    print(f"{'what':<44}{'time':>10}{'against':>30}{'ratio':>9}")
    _photo(rounds)
    _processes(rounds)
    with tempfile.TemporaryDirectory() as folder:
        _book(Path(folder), rounds)
    return 0


def _row(what: str, against: str, ours: float, bare: float) -> None:
    print(f"{what:<44}{ours * 1e3:>7.0f} ms{against:>30}{ours / bare:>9.2f}", flush=True)


def _photo(rounds: int) -> None:
    """The parts of reading one large photo, in this process."""
    data = large_photo()
    buffer = np.frombuffer(data, np.uint8)

    def decode() -> object:
        return cv2.imdecode(buffer, cv2.IMREAD_COLOR)

    loaded = load_photo(data, reduce=True)
    decodes = f"decoding it ({len(data) / 1e6:.1f} MB)"
    parts: tuple[tuple[str, Callable[[], object]], ...] = (
        ("photo, loaded whole", lambda: load_photo(data)),
        ("photo, loaded at reading size", lambda: load_photo(data, reduce=True)),
        ("photo, read once it is loaded", lambda: read(loaded)),
        ("photo, loaded and read", lambda: read(data)),
    )
    for what, part in parts:
        bare, ours = alternating(decode, part, rounds)
        _row(what, decodes, ours, bare)


def _processes(rounds: int) -> None:
    """Whole commands against a bare process; the stages of the longest."""
    photos, axle = [str(SET_UP / "drive.jpg"), str(SET_UP / "coast.jpg")], str(SET_UP / "axle.toml")
    bare = _process(sys.executable, "-c", f"import cv2; cv2.imread({photos[0]!r})")
    commands = {
        "contactread --help": ("--help",),
        "predict": ("predict", axle, "--ring", "0.1 mm", "--json"),
        "read, two photos to the move": (
            "read",
            *photos,
            "--axle",
            axle,
            "--backlash",
            "0.18 mm",
            "--no-pictures",
        ),
    }
    for what, words in commands.items():
        first, ours = alternating(bare, _process(*_RUN, *words), rounds)
        _row(what, "process that decodes one", ours, first)
    stages = subprocess.run(
        [sys.executable, "-c", STAGES, *photos, axle], check=True, capture_output=True, text=True
    ).stdout.split()
    for name, seconds in zip(STAGE_NAMES, stages, strict=True):
        _row(f"  of it: {name.replace('_', ' ')}", "process that decodes one", float(seconds), first)


def _process(*words: str) -> Callable[[], object]:
    return lambda: subprocess.run(words, check=True, capture_output=True)


def _book(folder: Path, rounds: int) -> None:
    """Keeping a photo against writing its bytes durably; a review of eight photos against decoding them."""
    photo = (SET_UP / "drive.jpg").read_bytes()
    number = iter(range(10**6))

    def write() -> None:
        with (folder / f"bare{next(number)}").open("wb") as file:
            file.write(photo)
            os.fsync(file.fileno())

    with Book(folder / "b.sqlite", write=True) as book:

        def keep() -> None:
            data = photo + str(next(number)).encode()
            keep_photo(book, data, name="x.jpg", who="Ana", try_id=None, reading=None)

        bare, ours = alternating(write, keep, rounds)
    _row("photo, stored durably with its row", "writing its bytes durably", ours, bare)
    source = sorted(SET_UP.parent.glob("*_*/drive.jpg"))[:8]
    (folder / "photos").mkdir()
    for k, path in enumerate(source):
        shutil.copy(path, folder / "photos" / f"{k}.jpg")

    def decode() -> None:
        for path in source:
            cv2.imread(str(path))

    began = perf_counter()
    decode()
    bare = perf_counter() - began
    command = [*_RUN, "review", str(folder / "photos"), "--who", "Ana", "--yes"]
    for workers in ("1", "2"):
        book_of = ["--book", str(folder / f"{workers}.sqlite"), "--workers", workers]
        began = perf_counter()
        done = subprocess.run([*command, *book_of], capture_output=True, text=True)
        assert done.returncode in (0, 3), done.stderr
        took = perf_counter() - began
        _row(f"review, {len(source)} photos, {workers} workers", "decoding them", took, bare)


if __name__ == "__main__":
    sys.exit(main())
