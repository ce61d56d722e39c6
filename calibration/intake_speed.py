"""Speed of photo intake, of refusals, of `contactread --help` and of two photos to the printed move, side by
side with bare ones in one run.

    python calibration/intake_speed.py

Prints a ratio for each promise and ends with exit code 1 where one is missed. Times are the shortest of
several rounds: what else the machine does can only add to them. Processes find their modules compiled, as
those of an installed program are, also where PYTHONDONTWRITEBYTECODE would have them compiled each time.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from contactread.belief.kept import VARIABLE
from contactread.errors import ContactreadError
from contactread.photo.load import load_photo
from contactread.photo.opencv import opencv

ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "sample_images" / "ash_good" / "drive.jpg"
SET_UP = ROOT / "sample_images" / "ash_too_deep"
TWELVE_MEGAPIXELS = (4000, 3000)
ROUNDS = 9


def main() -> int:
    """Measure everything; 0 where all promises hold."""
    with tempfile.TemporaryDirectory() as compiled:
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = compiled
        kept = [intake(), help_time(), refusals(), answer_time()]
    return 0 if all(kept) else 1


def report(promise: str, value: float, most: float, unit: str, detail: str) -> bool:
    """Print one line; whether the promise is kept."""
    kept = value <= most
    print(f"{'kept  ' if kept else 'MISSED'}  {promise}: {value:.2f}{unit} (at most {most}{unit}); {detail}")
    return kept


def alternating(
    one: Callable[[], object], other: Callable[[], object], rounds: int = ROUNDS
) -> tuple[float, float]:
    """Shortest times of both, in seconds, run in turn."""
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for call, kept in zip((one, other), times, strict=True):
            start = time.perf_counter()
            call()
            kept.append(time.perf_counter() - start)
    return min(times[0]), min(times[1])


def large_photo() -> bytes:
    """A sample picture enlarged to 12 megapixels, with grain as a sensor has it, as JPEG bytes."""
    cv2 = opencv()
    small = load_photo(SAMPLE).pixels
    large = cv2.resize(small, TWELVE_MEGAPIXELS, interpolation=cv2.INTER_CUBIC)
    noise = np.random.default_rng(1).normal(0, 4, (*large.shape[:2], 1))
    large = np.clip(large + noise, 0, 255).astype(np.uint8)
    return bytes(cv2.imencode(".jpg", large, [cv2.IMWRITE_JPEG_QUALITY, 92])[1])


def intake() -> bool:
    """Header check, decoding and SHA-256 against decoding alone."""
    cv2 = opencv()
    data = large_photo()
    buffer = np.frombuffer(data, np.uint8)
    assert np.array_equal(load_photo(data).pixels, cv2.imdecode(buffer, cv2.IMREAD_COLOR))
    decode, whole = alternating(lambda: cv2.imdecode(buffer, cv2.IMREAD_COLOR), lambda: load_photo(data))
    return report(
        "photo intake, in decodes", whole / decode, 1.15, " x", f"{len(data) / 1e6:.1f} MB, equal pixels"
    )


def help_time() -> bool:
    """The whole process of `contactread --help` against an empty Python."""

    def run(*arguments: str) -> Callable[[], object]:
        return lambda: subprocess.run([sys.executable, *arguments], check=True, capture_output=True)

    bare, ours = alternating(run("-c", "pass"), run("-m", "contactread.cli.main", "--help"))
    detail = f"{ours / bare:.1f} x an empty Python"
    return report("contactread --help, in seconds", ours, 0.15, " s", detail)


def answer_time() -> bool:
    """From the shell, two photos and an axle file to the printed move, against a bare process that imports
    OpenCV and decodes one of them; and where the time goes, one stage after another in one process.

    Told twice: of an axle that was read before, as on every try but a mechanic's first, whose gear sets are
    kept; and of one read for the first time. Both must print the same.
    """
    with tempfile.TemporaryDirectory() as kept:
        os.environ[VARIABLE] = kept
        later, told = _answer_time("axle read before")
        os.environ[VARIABLE] = str(Path(__file__) / "nowhere")
        first, anew = _answer_time("axle read first")
    print(f"same answer  {'yes' if told == anew else 'NO'}, word by word, with gear sets kept and drawn anew")
    return later and first and told == anew


def _answer_time(which: str) -> tuple[bool, set[bytes]]:
    """As `answer_time`, of gear sets that are kept or aren't; and all that was printed."""
    photos = [str(SET_UP / "drive.jpg"), str(SET_UP / "coast.jpg")]
    axle = ["--axle", str(SET_UP / "axle.toml"), "--backlash", "0.18 mm", "--no-pictures"]
    worked: dict[str, list[float]] = {"bare": [], "ours": []}
    printed: dict[str, set[bytes]] = {"bare": set(), "ours": set()}

    def run(which: str, *arguments: str) -> Callable[[], object]:
        def once() -> None:
            before = os.times()
            ended = subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
            after = os.times()
            printed[which].add(ended.stdout)
            spent = after.children_user + after.children_system
            worked[which].append(spent - before.children_user - before.children_system)

        return once

    bare, ours = alternating(
        run("bare", "-c", f"import cv2; assert cv2.imread({photos[0]!r}) is not None"),
        run("ours", "-m", "contactread.cli.main", "read", *photos, *axle),
    )
    stages = [
        subprocess.run(
            [sys.executable, "-c", STAGES, *photos, str(SET_UP / "axle.toml")],
            check=True, capture_output=True, text=True,
        ).stdout.split()
        for _ in range(3)
    ]  # fmt: skip
    shares = [
        f"{name.replace('_', ' ')} {min(map(float, times)) / bare:.1f}"
        for name, times in zip(STAGE_NAMES, zip(*stages, strict=True), strict=True)
    ]
    work = min(worked["ours"]) / min(worked["bare"])
    detail = f"processor time {work:.2f} x; one after another: {'; '.join(shares)}"
    promise = f"two photos to the printed move, {which}, in bare ones"
    return report(promise, ours / bare, 6.0, " x", detail), printed["ours"]


STAGE_NAMES = (
    "command_line",
    "imports_for_reading",
    "first_photo",
    "second_photo",
    "imports_for_advice",
    "gear_sets_drawn",
    "advice",
)
STAGES = """
import sys, time
t = [time.perf_counter()]
def lap(): t.append(time.perf_counter()); print(t[-1] - t[-2])
from contactread.cli.main import COMMANDS
from contactread.cli.runnable import runnable_of
runnable_of(next(c for group in COMMANDS.values() for c in group if c.name == "read"))
import contactread.settings; lap()
import contactread.reading as r, contactread.flank.finder, contactread.photo.load; lap()
a = r.read(sys.argv[1]); lap()
b = r.read(sys.argv[2]); lap()
import contactread.advice as v; from contactread.axle_file import load_axle
from contactread.belief.draws import draw_ahead; lap()
axle = load_axle(sys.argv[3]); draw_ahead(axle); lap()
v.advise(r.pair(a, b, (0.18,)), axle); lap()
"""


def refusals() -> bool:
    """Every file of the corpus: the slowest refusal."""
    sys.path.insert(0, str(ROOT / "tests" / "corpus"))
    from bad_photos import make_corpus

    slowest, name = 0.0, ""
    with tempfile.TemporaryDirectory() as folder:
        expected = make_corpus(Path(folder))
        for file, code in expected.items():
            start = time.perf_counter()
            try:
                load_photo(Path(folder) / file)
            except ContactreadError as error:
                assert error.code == code, f"{file}: {error.code}"
            else:
                raise AssertionError(f"{file} was read")
            slowest, name = max((slowest, name), (time.perf_counter() - start, file))
    detail = f"slowest of {len(expected)}: {name}"
    return report("refusing a bad file, in seconds", slowest, 0.2, " s", detail)


if __name__ == "__main__":
    sys.exit(main())
