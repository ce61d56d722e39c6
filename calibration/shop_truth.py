"""How well photos are read that a shop has corrected itself: its corrections are the truth.

    python -m calibration.shop_truth FOLDER

Beside NAME.jpg lies NAME_truth.json, as a person left it who looked at the marked-up picture:

    {"flank": "convex", "teeth": [{"toe_root": [x, y], "toe_top": .., "heel_top": .., "heel_root": ..}, ...],
     "centre": [u, v] or null, "no_pattern": false}

teeth: corners moved to where they belong, of the painted and rolled teeth alone (one that was struck out
isn't listed). centre: where the pattern's centre was confirmed; null: that of the reading with these corners.
A photo with "no_pattern" must be refused. Each photo is read with nothing given, and compared. Shares are
printed with exact bounds (Clopper and Pearson, 1934), nineteen in twenty: few photos prove little. The folder
stays where it is; nothing is sent anywhere, and no network is trained on it by this command.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from contactread import read
from contactread.errors import ContactreadError
from contactread.flank.flank import CORNER_UV
from contactread.reading import Reading

NEAR = 0.1  # of the length, and of the height: a centre within that counts as right
LEVEL = 0.95


@dataclass(frozen=True)
class Outcome:
    """One photo. read: whether it was; right: side right and centre near, or rightly refused; off: of the
    centre in u and v; corners: errors as shares of the flank's length."""

    name: str
    expected: bool
    read: bool
    right: bool
    off: tuple[float, float] | None = None
    corners: tuple[float, ...] = ()


def outcome(photo: Path, truth: dict[str, Any]) -> Outcome:
    """The photo read with nothing given, against what the shop says of it."""
    expected = not truth.get("no_pattern", False)
    try:
        reading = read(photo)
    except ContactreadError:
        return Outcome(photo.name, expected, False, not expected)
    if not expected:
        return Outcome(photo.name, expected, True, False)
    centre = truth.get("centre")
    if centre is None:
        centre = read(photo, corners={"teeth": truth["teeth"], "flank": truth["flank"]}).side.centre
    u, v = np.abs(np.subtract(reading.side.centre, centre)).tolist()
    same = reading.side.flank == truth["flank"]
    return Outcome(
        photo.name, True, True, same and max(u, v) <= NEAR, (u, v), _corner_errors(reading, truth["teeth"])
    )


def _corner_errors(reading: Reading, teeth: list[dict[str, Any]]) -> tuple[float, ...]:
    """Of the corners of each true tooth against the nearest one read, within half a flank."""
    errors: list[float] = []
    seen = [np.array([tooth.flank.corners[name] for name in CORNER_UV]) for tooth in reading.teeth]
    for tooth in teeth:
        true = np.array([tooth[name] for name in CORNER_UV], float)
        length = float(np.linalg.norm(true[2] + true[3] - true[0] - true[1]) / 2)
        nearest = min(seen, key=lambda corners: float(np.linalg.norm(corners.mean(0) - true.mean(0))))
        if np.linalg.norm(nearest.mean(0) - true.mean(0)) < length / 2:
            errors += (np.linalg.norm(nearest - true, axis=1) / length).tolist()
    return tuple(errors)


def bounds(right: int, of: int) -> tuple[float, float]:
    """Exact two-sided bounds of a share (Clopper and Pearson), by halving: the binomial's tails meet them."""
    side = (1 - LEVEL) / 2

    def tail(share: float, least: int) -> float:
        return sum(math.comb(of, k) * share**k * (1 - share) ** (of - k) for k in range(least, of + 1))

    def solved(least: int, wanted: float) -> float:
        low, high = 0.0, 1.0
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if tail(middle, least) < wanted else (low, middle)
        return low

    lower = 0.0 if right == 0 else solved(right, side)
    upper = 1.0 if right == of else solved(right + 1, 1 - side)
    return lower, upper


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    outcomes = []
    for path in sorted(folder.glob("*_truth.json")):
        name = path.name.removesuffix("_truth.json")
        photo = next(
            (each for each in sorted(folder.glob(f"{name}.*")) if each.suffix.lower() != ".json"), None
        )
        if photo is None:
            print(f"{path.name}: its photo isn't there")
            continue
        outcomes.append(outcome(photo, json.loads(path.read_text(encoding="utf-8"))))
    if not outcomes:
        print(f"No NAME_truth.json beside a photo in {folder}.")
        return 1
    shown = [each for each in outcomes if each.expected]
    _share("read", sum(each.read for each in shown), len(shown))
    _share("right of those read", sum(each.right for each in shown), sum(each.read for each in shown))
    _share(
        "without a pattern, refused",
        sum(e.right for e in outcomes if not e.expected),
        len(outcomes) - len(shown),
    )
    off = np.array([each.off for each in shown if each.off is not None])
    for axis, name in enumerate(("length", "height")):
        if len(off):
            print(f"centre, {name:21s} median {np.median(off[:, axis]):.3f}, worst {off[:, axis].max():.3f}")
    corners = np.concatenate([each.corners for each in shown]) if shown else np.zeros(0)
    if len(corners):
        print(f"corners                      median {np.median(corners):.3f}, worst {corners.max():.3f}")
    for each in outcomes:
        if not each.right:
            print(f"  {each.name}: {'read wrongly' if each.read else 'not read'}")
    return 0


def _share(what: str, right: int, of: int) -> None:
    if of:
        low, high = bounds(right, of)
        print(f"{what:28s} {right} of {of}: {right / of:.0%}, between {low:.0%} and {high:.0%}")


if __name__ == "__main__":
    sys.exit(main())
