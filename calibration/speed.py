"""Speed promises, measured side by side in this run, each beside a proof that the answers agree.

    python calibration/speed.py            from the folder above

Prints a ratio for each promise and ends with exit code 1 where one is missed. Times are the shortest of
several rounds: what else the machine does can only add to them.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

import contactread
from contactread.errors import ContactreadError
from contactread.photo.load import load_photo
from contactread.photo.opencv import opencv

ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / "sample_images"
TWELVE_MEGAPIXELS = (4000, 3000)
ROUNDS = 9


def main() -> int:
    """Measure everything; 0 where all promises hold."""
    kept = [reading_with_corners(), intake(), help_time(), refusals()]
    return 0 if all(kept) else 1


def report(promise: str, value: float, most: float, unit: str, detail: str) -> bool:
    """Print one line; whether the promise is kept."""
    kept = value <= most
    print(f"{'kept  ' if kept else 'MISSED'}  {promise}: {value:.2f}{unit} (at most {most}{unit}); {detail}")
    return kept


def alternating(
    one: Callable[[], object],
    other: Callable[[], object],
    clock: Callable[[], float] = time.perf_counter,
) -> tuple[float, float]:
    """Shortest times of both, in seconds, run in turn."""
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(ROUNDS):
        for call, kept in zip((one, other), times, strict=True):
            start = clock()
            call()
            kept.append(clock() - start)
    return min(times[0]), min(times[1])


def large_photo() -> tuple[bytes, dict[str, Any]]:
    """A sample photo enlarged to 12 megapixels, with sensor-like noise, and its true corners."""
    cv2 = opencv()
    truth_file, truth = next(
        (file, truth)
        for file in sorted(SAMPLES.rglob("*.json"))
        if "teeth" in (truth := json.loads(file.read_text(encoding="utf-8"))) and "image" in truth
    )
    small = load_photo(truth_file.parent / truth["image"]).pixels
    large = cv2.resize(small, TWELVE_MEGAPIXELS, interpolation=cv2.INTER_CUBIC)
    noise = np.random.default_rng(1).normal(0, 4, (*large.shape[:2], 1))
    large = np.clip(large + noise, 0, 255).astype(np.uint8)
    scale = np.array(TWELVE_MEGAPIXELS) / (small.shape[1], small.shape[0])
    teeth = [
        {name: list((np.array(point) + 0.5) * scale - 0.5) for name, point in tooth["corners_px"].items()}
        for tooth in truth["teeth"]
        if tooth.get("painted") and tooth.get("visible_fraction", 1) >= 0.6
    ]
    return bytes(cv2.imencode(".jpg", large, [cv2.IMWRITE_JPEG_QUALITY, 92])[1]), {"teeth": teeth}


def reading_with_corners() -> bool:
    """One 12-megapixel photo with given corners, from bytes to reading, against its own decode."""
    cv2 = opencv()
    data, corners = large_photo()
    buffer = np.frombuffer(data, np.uint8)
    answers = set()

    def read() -> None:
        answers.add(json.dumps(contactread.read(data, corners=corners).to_json(), sort_keys=True))

    read()  # first use loads what is loaded once
    decode, whole = alternating(lambda: cv2.imdecode(buffer, cv2.IMREAD_COLOR), read)
    cpu_decode, cpu_whole = alternating(
        lambda: cv2.imdecode(buffer, cv2.IMREAD_COLOR), read, time.process_time
    )
    assert len(answers) == 1, "repeats gave different answers"
    detail = (
        f"{len(corners['teeth'])} teeth, decode {decode * 1e3:.0f} ms, whole read {whole * 1e3:.0f} ms, "
        f"in processor time {cpu_whole / cpu_decode:.2f} x, "
    )
    return report("reading with corners, in decodes", whole / decode, 2.0, " x",
                  f"{detail}{2 * ROUNDS + 1} equal answers")  # fmt: skip


def intake() -> bool:
    """Header check, decoding, SHA-256 and white balance against decoding alone."""
    cv2 = opencv()
    data, _ = large_photo()
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
