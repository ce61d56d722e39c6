"""How accurately photos are read with no corners given, against truth beside them.

    python -m calibration.finder.accuracy TRUTH_FOLDER [--details]

TRUTH_FOLDER is searched for NAME.json beside NAME.jpg (fields as in sample_images). Asked of each photo
are the painted teeth that are at least 60 % visible; a photo with two of them or more, and without tags,
is an ordinary one. A negative must be refused. Prints each figure beside its bar; exits 1 if one is missed.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from calibration.accuracy import asked_teeth
from contactread import read
from contactread.errors import ContactreadError
from contactread.flank.flank import CORNER_UV

BARS: dict[str, tuple[float, float] | tuple[None, None]] = {  # median, 95th percentile
    "corner": (0.02, 0.06),
    "centre length": (0.025, 0.06),
    "centre height": (0.04, 0.10),
    "extent length": (None, None),
    "extent height": (None, None),
}
READ, SIDE = 0.95, 0.98


def middle(corners: dict[str, Any]) -> np.ndarray:
    return np.asarray(np.mean([corners[name] for name in CORNER_UV], axis=0))


def flank_length(corners: dict[str, Any]) -> float:
    root = math.dist(corners["toe_root"], corners["heel_root"])
    return (root + math.dist(corners["toe_top"], corners["heel_top"])) / 2


def pairs(read_teeth: list[Any], asked: list[dict[str, Any]]) -> list[tuple[Any, dict[str, Any]]]:
    """Read and true teeth, nearest first, no farther apart than half a flank."""
    order = sorted(
        (float(np.linalg.norm(middle(r.flank.corners) - middle(t["corners_px"]))), i, j)
        for i, r in enumerate(read_teeth)
        for j, t in enumerate(asked)
    )
    used_read, used_true, found = set(), set(), []
    for apart, i, j in order:
        if i in used_read or j in used_true or apart > 0.5 * flank_length(asked[j]["corners_px"]):
            continue
        used_read.add(i)
        used_true.add(j)
        found.append((read_teeth[i], asked[j]))
    return found


@dataclass(frozen=True)
class Result:
    """One photo against its truth. corner, length, height: absolute errors of corners (share of the flank's
    length in the picture) and of the patches' extents; off: of the centre, read less true; sigma: its stated
    uncertainty."""

    name: str
    negative: bool
    refusal: str | None
    side_right: bool = False
    flags: tuple[str, ...] = ()
    confidence: float = 0.0
    off: tuple[float, float] = (math.nan, math.nan)
    corner: tuple[float, ...] = ()
    length: tuple[float, ...] = ()
    height: tuple[float, ...] = ()
    teeth: tuple[int, int] = (0, 0)  # found, asked
    sigma: tuple[float, float] = (math.nan, math.nan)


def results(folder: Path) -> Iterator[Result]:
    """Every negative and every ordinary photo below the folder, read."""
    for path in sorted(folder.rglob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(truth, dict) or "image" not in truth:
            continue
        asked, negative = asked_teeth(truth), bool(truth.get("negative"))
        if not negative and (truth.get("tags") or len(asked) < 2 or truth.get("flank_shown") is None):
            continue
        name = f"{path.parent.name}/{truth['image']}"
        try:
            reading = read(path.with_name(truth["image"]))
        except ContactreadError as error:
            yield Result(name, negative, error.code)
            continue
        if negative:
            yield Result(name, True, None)
            continue
        off = np.array(reading.side.centre) - np.mean([t["contact"]["centroid_uv"] for t in asked], axis=0)
        corner, length, height = [], [], []
        found = pairs(list(reading.teeth), asked)
        for tooth, true in found:
            size = flank_length(true["corners_px"])
            corner += [math.dist(tooth.flank.corners[n], true["corners_px"][n]) / size for n in CORNER_UV]
            if tooth.pattern is not None:
                contact = true["contact"]
                length += list(np.abs(np.subtract(tooth.pattern.length, contact["u_5_95"])))
                height += list(np.abs(np.subtract(tooth.pattern.height, contact["v_5_95"])))
        yield Result(
            name, False, None, reading.side.flank == truth["flank_shown"], reading.flags,
            reading.confidence, (float(off[0]), float(off[1])), tuple(corner), tuple(length), tuple(height),
            (len(found), len(asked)), reading.side.sigma,
        )  # fmt: skip


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--details", action="store_true", help="one line for each photo")
    args = parser.parse_args()
    every = []
    for result in results(args.folder):
        every.append(result)
        if args.details:
            side = "right" if result.side_right else "WRONG"
            print(
                f"{result.name}: refused, {result.refusal}" if result.refusal else
                f"{result.name}: READ, though negative" if result.negative else
                f"{result.name}: side {side}, centre off {result.off[0]:+.3f} {result.off[1]:+.3f}, corners"
                f" {np.median(result.corner or (math.nan,)):.3f}, confidence {result.confidence:.2f}"
                f" {' '.join(result.flags)}"
            )  # fmt: skip
    return report(every)


def report(every: list[Result]) -> int:
    """Print the figures beside their bars; 1 where one is missed."""
    missed = 0

    def line(name: str, value: str, good: bool | None, bar: str) -> None:
        nonlocal missed
        missed += good is False
        print(f"{name:16s} {value}" + ("" if good is None else f"  bar {bar}: {'met' if good else 'MISSED'}"))

    ordinary = [r for r in every if not r.negative]
    negative = [r for r in every if r.negative]
    seen = [r for r in ordinary if r.refusal is None]
    if ordinary:
        line("read", f"{len(seen)}/{len(ordinary)}", len(seen) >= READ * len(ordinary), f"{READ:.0%}")
    if seen:
        right = sum(r.side_right for r in seen)
        line("side right", f"{right}/{len(seen)}", right >= SIDE * len(seen), f"{SIDE:.0%}")
        line("teeth found", f"{sum(r.teeth[0] for r in seen)}/{sum(r.teeth[1] for r in seen)}", None, "")
    if negative:
        wrong = sum(r.refusal is None for r in negative)
        line("negatives read", f"{wrong}/{len(negative)}", not wrong, "0")
    for name, values in errors(seen).items():
        if not values:
            continue
        half, most = float(np.median(values)), float(np.percentile(values, 95))
        bars = BARS[name]
        good = None if bars[0] is None else half <= bars[0] and most <= bars[1]
        line(name, f"median {half:.4f}  95 % {most:.4f}", good, f"{bars[0]} and {bars[1]}")
    for place, name in enumerate(("length", "height")):
        if seen:
            shares = [r.off[place] / r.sigma[place] for r in seen]
            line(f"{name} / sigma", f"rms {np.sqrt(np.mean(np.square(shares))):.2f} (honest: 1)", None, "")
    return 1 if missed else 0


def errors(seen: list[Result]) -> dict[str, list[float]]:
    """All errors by the names of BARS."""
    return {
        "corner": [e for r in seen for e in r.corner],
        "centre length": [abs(r.off[0]) for r in seen],
        "centre height": [abs(r.off[1]) for r in seen],
        "extent length": [e for r in seen for e in r.length],
        "extent height": [e for r in seen for e in r.height],
    }


if __name__ == "__main__":
    sys.exit(main())
