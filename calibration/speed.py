"""How long a reading takes against the bare decoding of the same photo, both measured in one run.

    python calibration/speed.py [PHOTO CORNERS] [--rounds N]

A photo of the repository (or PHOTO with its CORNERS file) is enlarged to 12 megapixels, given the grain
of a phone's sensor, and encoded as a phone would. Decoding it, reading it from its bytes with the corners
given, and reading it with nothing given take turns, and so do decoding and reading the same scene taken from
farther off, which needs a second look. The ratios of their medians are printed beside a proof that both read
the same as the original, and the most memory that a process holds that reads it.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from contactread import read

SAMPLE = Path(__file__).parents[1] / "sample_images" / "ash_good"
PIXELS = 12_000_000
BAR, BAR_FOUND, BAR_TWICE = 2.0, 3.0, 5.0
BAR_MEMORY = 400  # MB
FAR = 2.5  # times as far off
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
    decoding, reading_times, finding_times, far_decoding, far_times = [], [], [], [], []
    for _ in range(args.rounds):
        started = time.perf_counter()
        picture = np.asarray(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR))
        decoded = time.perf_counter()
        large = read(data, corners=corners)
        decoding.append(decoded - started)
        reading_times.append(time.perf_counter() - decoded)
        started = time.perf_counter()
        read(data)
        finding_times.append(time.perf_counter() - started)
        started = time.perf_counter()
        cv2.imdecode(np.frombuffer(far, np.uint8), cv2.IMREAD_COLOR)
        far_decoding.append(time.perf_counter() - started)
        started = time.perf_counter()
        small_in_it = read(far)
        far_times.append(time.perf_counter() - started)
    plain = read(args.photo, corners=marks)
    off = np.abs(np.subtract([large.side.centre, small_in_it.side.centre], plain.side.centre)).max(axis=0)
    decode, whole, found = (np.median(t[1:]) for t in (decoding, reading_times, finding_times))
    far_decode, twice = (np.median(t[1:]) for t in (far_decoding, far_times))
    print(f"photo            {picture.shape[1]} x {picture.shape[0]}, {len(data) / 1e6:.1f} MB, "
          f"{len(large.teeth)} teeth")  # fmt: skip
    print(f"decoding         {decode * 1e3:.0f} ms")
    print(f"reading in all   {whole * 1e3:.0f} ms (loading included)")
    print(f"ratio            {whole / decode:.2f}  bar {BAR}: {'met' if whole <= BAR * decode else 'MISSED'}")
    verdict = "met" if found <= BAR_FOUND * decode else "MISSED"
    print(f"nothing given    {found * 1e3:.0f} ms, ratio {found / decode:.2f}  bar {BAR_FOUND}: {verdict}")
    verdict = "met" if twice <= BAR_TWICE * far_decode else "MISSED"
    print(
        f"second look      {twice * 1e3:.0f} ms, ratio {twice / far_decode:.2f}  bar {BAR_TWICE}: {verdict}"
    )
    memory = most_memory(data), most_memory(far)
    verdict = "met" if max(memory) <= BAR_MEMORY else "MISSED"
    print(
        f"most memory      {memory[0]:.0f} and {memory[1]:.0f} MB in a process of its own, "
        f"bar {BAR_MEMORY}: {verdict}"
    )
    print(f"same answer      centres differ by {off[0]:.4f} of the length, {off[1]:.4f} of the height")
    quick = whole <= BAR * decode and found <= BAR_FOUND * decode and twice <= BAR_TWICE * far_decode
    quick &= max(memory) <= BAR_MEMORY
    return 0 if quick and (off < (0.02, 0.04)).all() else 1


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
