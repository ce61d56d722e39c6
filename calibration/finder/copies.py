"""How much a reading changes when the same photo is stored otherwise, nothing marked by hand.

    python -m calibration.finder.copies FOLDER

Every photo below the folder that is read is read again turned by a quarter, mirrored, at half its size and
as a JPEG of quality 60. Prints the median and 95th percentile of the change of the pattern's centre, as
shares of the flank's length and height, beside the bar of 2 %; ends with 1 where the side differs or it is
missed. Of a photo that shows both sides, the same one is compared. A copy that is refused counts as changed
by the whole flank.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread import Reading, read
from contactread.errors import ContactreadError
from contactread.pattern.measures import Side
from contactread.photo.load import load_photo

BAR = 0.02
Pixels = NDArray[np.uint8]


def packed(pixels: Pixels) -> Pixels:
    data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 60])[1]
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def halved(pixels: Pixels) -> Pixels:
    return np.asarray(cv2.resize(pixels, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), np.uint8)


COPIES: dict[str, Callable[[Pixels], Pixels]] = {
    "turned": lambda pixels: np.rot90(pixels).copy(),
    "mirrored": lambda pixels: pixels[:, ::-1].copy(),
    "half size": halved,
    "packed again": packed,
}


def side_like(reading: Reading, plain: Side) -> Side:
    """The side of the same flank, where the photo shows both and both are read; else the one read."""
    both = [reading.side] if reading.other is None else [reading.side, reading.other.side]
    return next((side for side in both if side.flank == plain.flank), reading.side)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    args = parser.parse_args()
    changes: dict[str, list[tuple[float, float]]] = {name: [] for name in COPIES}
    other_side = 0
    for path in sorted(args.folder.rglob("*.jpg")):
        photo = load_photo(path)
        try:
            plain = read(photo).side
        except ContactreadError:
            continue
        for name, copy in COPIES.items():
            try:
                side = side_like(read(replace(photo, pixels=copy(photo.pixels))), plain)
            except ContactreadError as error:
                print(f"{path}: {name}, refused, {error.code}")
                changes[name].append((1.0, 1.0))
                continue
            other_side += side.flank != plain.flank
            u, v = np.abs(np.subtract(side.centre, plain.centre))
            changes[name].append((float(u), float(v)))
    missed = other_side > 0
    for name, pairs in changes.items():
        for what, values in zip(("length", "height"), zip(*pairs, strict=True), strict=False):
            most = float(np.percentile(values, 95))
            missed |= most > BAR
            verdict = "met" if most <= BAR else "MISSED"
            print(f"{name:12s} {what}: median {np.median(values):.4f}  95 % {most:.4f}  bar {BAR}: {verdict}")
    count = sum(map(len, changes.values()))
    within = sum(max(pair) < BAR for pairs in changes.values() for pair in pairs)
    print(f"{count} copies, {within} within {BAR:.0%} in both, side differs in {other_side}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
