"""How long a reading takes against the bare decoding of the same photo, both measured in one run.

    python calibration/speed.py [PHOTO CORNERS] [--rounds N]

A photo of the repository (or PHOTO with its CORNERS file) is enlarged to 12 megapixels, given the grain
of a phone's sensor, and encoded as a phone would. Decoding it and reading it from its bytes take turns: with
the corners given, then with nothing given, then of the same scene taken from farther off, which needs a
second look. Each is measured by itself, since a network makes itself ready anew where a picture of another
size comes. Medians of the ratios of each round are printed, of the time on the wall and of the processors'
time, and the most memory that a process holds that reads it.

The proof that speed costs nothing: each reading against that of the original picture by the same door,
corners by hand with corners by hand, found with found: the two doors lie 0.075 of the height apart on this
picture, at any size, on either side of the truth.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy, as `contactread read` does
import cv2
import numpy as np

from contactread import read

SAMPLE = Path(__file__).parents[1] / "sample_images" / "ash_good"
PIXELS = 12_000_000
BAR, BAR_FOUND, BAR_TWICE = 2.0, 3.0, 5.0
BAR_MEMORY = 400  # MB
FAR = 2.5  # times as far off
# How far the centre may lie from the original's, in length and height: in the same picture, and from afar.
SAME, SAME_FAR = (0.005, 0.005), (0.02, 0.04)
# By the system's own table: what getrusage tells begins with the most that the starting process held.
_READING = """
import sys
from contactread import read
read(sys.argv[1])
status = open("/proc/self/status").read()
print(int(status.split("VmHWM:")[1].split()[0]) / 1024)
"""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("photo", type=Path, nargs="?", default=SAMPLE / "drive.jpg")
    parser.add_argument("corners", type=Path, nargs="?", default=SAMPLE / "drive_corners.json")
    parser.add_argument("--rounds", type=int, default=9)
    args = parser.parse_args()
    small = np.asarray(cv2.imread(str(args.photo)), np.uint8)
    marks = json.loads(args.corners.read_text(encoding="utf-8"))
    data, corners = enlarged(small, marks)
    far = stepped_back(data)
    print(f"photo            {PIXELS / 1e6:.0f} megapixels, {len(data) / 1e6:.1f} MB")
    kept = True
    for name, picture, run, bar in (
        ("corners given", data, partial(read, data, corners=corners), BAR),
        ("nothing given", data, partial(read, data), BAR_FOUND),
        ("second look", far, partial(read, far), BAR_TWICE),
    ):
        times = np.array([(timed(partial(decoded, picture)), timed(run)) for _ in range(args.rounds + 1)])[1:]
        ratio, work = (float(each) for each in np.median(times[:, 1] / times[:, 0], axis=0))
        kept &= ratio <= bar
        verdict = "met" if ratio <= bar else "MISSED"
        once = float(np.median(times[:, 0, 0])) * 1e3
        print(f"{name:16} {ratio:.2f} decodings of {once:.0f} ms, bar {bar}: {verdict}; "
              f"{work:.2f} of processor time")  # fmt: skip
    memory = most_memory(data), most_memory(far)
    kept &= max(memory) <= BAR_MEMORY
    print(
        f"most memory      {memory[0]:.0f} and {memory[1]:.0f} MB in a process of its own, "
        f"bar {BAR_MEMORY}: {'met' if max(memory) <= BAR_MEMORY else 'MISSED'}"
    )
    by_hand, found = read(args.photo, corners=marks), read(args.photo)
    for name, one, original, most in (
        ("corners given", read(data, corners=corners), by_hand, SAME),
        ("nothing given", read(data), found, SAME),
        ("second look", read(far), found, SAME_FAR),
    ):
        off = np.abs(np.subtract(one.side.centre, original.side.centre))
        kept &= bool((off < most).all())
        print(
            f"same answer      {name}: {off[0]:.4f} of the length, {off[1]:.4f} of the height "
            f"(at most {most[0]}, {most[1]}): {'yes' if (off < most).all() else 'NO'}"
        )
    return 0 if kept else 1


def timed(run: Callable[[], object]) -> tuple[float, float]:
    """Seconds that it took on the wall, and of processors' time."""
    started = time.perf_counter(), time.process_time()
    run()
    return time.perf_counter() - started[0], time.process_time() - started[1]


def decoded(data: bytes) -> object:
    """The bare decoding."""
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)


def most_memory(data: bytes) -> float:
    """The most memory, in MB, that a program holds that does nothing but read this photo."""
    with tempfile.NamedTemporaryFile(suffix=".jpg") as file:
        file.write(data)
        file.flush()
        told = subprocess.run(
            [sys.executable, "-c", _READING, file.name], check=True, capture_output=True, text=True
        )
    return float(told.stdout)


def stepped_back(data: bytes) -> bytes:
    """The picture as a small part of one as large, unsharp around it."""
    picture = np.asarray(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR))
    height, width = picture.shape[:2]
    small = cv2.resize(picture, (round(width / FAR), round(height / FAR)), interpolation=cv2.INTER_AREA)
    around = cv2.resize(cv2.resize(picture, (12, 9), interpolation=cv2.INTER_AREA), (width, height)) // 2
    grain = np.random.default_rng(1).normal(scale=6.0, size=(height, width))[..., None]
    around = np.clip(around + grain, 0, 255).astype(np.uint8)
    top, left = height // 3, width // 5
    around[top : top + small.shape[0], left : left + small.shape[1]] = small
    return cv2.imencode(".jpg", around, [cv2.IMWRITE_JPEG_QUALITY, 93])[1].tobytes()


def enlarged(picture: np.ndarray, marks: dict[str, Any]) -> tuple[bytes, dict[str, Any]]:
    """The picture at 12 megapixels as JPEG bytes, and its marks moved along."""
    scale = np.sqrt(PIXELS / (picture.shape[0] * picture.shape[1]))
    size = (round(picture.shape[1] * scale), round(picture.shape[0] * scale))
    large = cv2.resize(picture, size, interpolation=cv2.INTER_CUBIC).astype(np.float32)
    large += np.random.default_rng(0).normal(scale=4.0, size=large.shape[:2])[..., None]
    _, data = cv2.imencode(".jpg", np.clip(large, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 93])

    def moved(point: list[float]) -> list[float]:
        return [(x + 0.5) * scale - 0.5 for x in point]

    teeth = [{name: moved(point) for name, point in tooth.items()} for tooth in marks["teeth"]]
    return data.tobytes(), {"teeth": teeth}


if __name__ == "__main__":
    sys.exit(main())
