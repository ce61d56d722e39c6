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
from pathlib import Path
from typing import Any

import numpy as np

from contactread import read
from contactread.errors import ContactreadError
from contactread.flank.flank import CORNER_UV

VISIBLE = 0.6
BARS = {  # median, 95th percentile
    "corner": (0.02, 0.06),
    "centre length": (0.025, 0.06),
    "centre height": (0.04, 0.10),
    "extent length": (None, None),
    "extent height": (None, None),
}
READ, SIDE = 0.95, 0.98


def asked_of(truth: dict[str, Any]) -> list[dict[str, Any]]:
    return [
        tooth
        for tooth in truth.get("teeth", [])
        if tooth.get("painted") and tooth.get("contact") and tooth["visible_fraction"] >= VISIBLE
    ]


def middle(corners: dict[str, Any]) -> np.ndarray:
    return np.mean([corners[name] for name in CORNER_UV], axis=0)


def length(corners: dict[str, Any]) -> float:
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
        if i in used_read or j in used_true or apart > 0.5 * length(asked[j]["corners_px"]):
            continue
        used_read.add(i)
        used_true.add(j)
        found.append((read_teeth[i], asked[j]))
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--details", action="store_true", help="one line for each photo")
    args = parser.parse_args()
    errors: dict[str, list[float]] = {name: [] for name in BARS}
    count = {"ordinary": 0, "read": 0, "side": 0, "negative": 0, "negative read": 0, "teeth": 0, "found": 0}
    for path in sorted(args.folder.rglob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(truth, dict) or "image" not in truth:
            continue
        photo, asked = path.with_name(truth["image"]), asked_of(truth)
        try:
            reading, refused = read(photo), ""
        except ContactreadError as error:
            reading, refused = None, error.code
        if truth.get("negative"):
            count["negative"] += 1
            count["negative read"] += reading is not None
            continue
        if truth.get("tags") or len(asked) < 2:
            continue
        count["ordinary"] += 1
        if reading is None:
            if args.details:
                print(f"{photo.parent.name}/{photo.name}: refused, {refused}")
            continue
        count["read"] += 1
        count["side"] += reading.side.flank == truth["flank_shown"]
        count["teeth"] += len(asked)
        off = np.array(reading.side.centre) - np.mean([t["contact"]["centroid_uv"] for t in asked], axis=0)
        errors["centre length"].append(abs(off[0]))
        errors["centre height"].append(abs(off[1]))
        corners: list[float] = []
        for tooth, true in pairs(list(reading.teeth), asked):
            count["found"] += 1
            size = length(true["corners_px"])
            corners += [math.dist(tooth.flank.corners[n], true["corners_px"][n]) / size for n in CORNER_UV]
            if tooth.pattern is not None:
                contact = true["contact"]
                errors["extent length"] += list(np.abs(np.subtract(tooth.pattern.length, contact["u_5_95"])))
                errors["extent height"] += list(np.abs(np.subtract(tooth.pattern.height, contact["v_5_95"])))
        errors["corner"] += corners
        if args.details:
            print(
                f"{photo.parent.name}/{photo.name}: {reading.side.flank} (true {truth['flank_shown']}), centre off"
                f" {off[0]:+.3f} {off[1]:+.3f}, corners {np.median(corners or [np.nan]):.3f},"
                f" confidence {reading.confidence:.2f} {' '.join(reading.flags)}"
            )
    return report(count, errors)


def report(count: dict[str, int], errors: dict[str, list[float]]) -> int:
    missed = 0

    def line(name: str, value: str, good: bool | None, bar: str) -> None:
        nonlocal missed
        missed += good is False
        print(f"{name:16s} {value}" + ("" if good is None else f"  bar {bar}: {'met' if good else 'MISSED'}"))

    if count["ordinary"]:
        share = count["read"] / count["ordinary"]
        line("read", f"{count['read']}/{count['ordinary']}", share >= READ, f"{READ:.0%}")
    if count["read"]:
        share = count["side"] / count["read"]
        line("side right", f"{count['side']}/{count['read']}", share >= SIDE, f"{SIDE:.0%}")
        line("teeth found", f"{count['found']}/{count['teeth']}", None, "")
    if count["negative"]:
        line("negatives read", f"{count['negative read']}/{count['negative']}", not count["negative read"], "0")
    for name, values in errors.items():
        if not values:
            continue
        half, most = float(np.median(values)), float(np.percentile(values, 95))
        bars = BARS[name]
        good = None if bars[0] is None else half <= bars[0] and most <= bars[1]
        line(name, f"median {half:.4f}  95 % {most:.4f}", good, f"{bars[0]} and {bars[1]}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
