"""How accurately patterns are read where the corners of the flanks are known.

    python calibration/accuracy.py TRUTH_FOLDER [--no-axle] [--details] [--readings FILE]

TRUTH_FOLDER holds NAME.jpg with NAME.json of truth (for each tooth: corners_px, painted,
visible_fraction, contact with centroid_uv, u_5_95, v_5_95, area_fraction, tilt_deg, runs_off; and the
flank shown). Each photo is read with the true corners of its painted teeth that are at least 60 % visible,
and with the axle file axle.toml beside it if there is one (--no-axle: without), by the same
`contactread.read` that users call, and compared with the truth. --readings writes what was read in the
shape of `contactread read --json`, for other programs that score.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from contactread import read
from contactread.axle_file import load_axle
from contactread.errors import ContactreadError
from contactread.flank.flank import CORNER_UV
from contactread.photo.load import load_photo
from contactread.reading import Reading

VISIBLE = 0.6
# Renderers put the picture's corner, not the middle of its first pixel, at (0, 0).
PIXEL_MIDDLE = 0.5
BARS = {
    "centre length": (0.02, 0.05),
    "centre height": (0.04, 0.10),
    "extent length": (0.04, None),
    "extent height": (0.08, None),
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--no-axle", action="store_true", help="leave axle files aside")
    parser.add_argument("--details", action="store_true", help="one line for each photo")
    parser.add_argument("--readings", type=Path, help="write the readings as JSON to this file")
    args = parser.parse_args()
    photos, errors, sides = [], Errors(), []
    for path, flank, asked in asked_photos(args.folder):
        photo = load_photo(path)
        axle_file = path.with_name("axle.toml")
        axle = load_axle(axle_file) if axle_file.is_file() and not args.no_axle else None
        try:
            reading = read(photo, corners=corners_of(asked), axle=axle)
        except ContactreadError as error:
            print(f"{path.name}: refused, {error.code}")
            photos.append({"path": str(path), "status": "refused", "refusal": error.to_json()})
            errors.add_refused()
            continue
        photos.append(reading.to_json() | {"path": str(path)})
        sides.append(reading.side.flank == flank)
        line = errors.add(reading, asked)
        if args.details:
            verdict = "right" if sides[-1] else "WRONG"
            print(f"{path.parent.name}/{path.name}: {line} side {verdict} {' '.join(reading.flags)}")
    if args.readings:
        args.readings.write_text(json.dumps({"schema": 1, "photos": photos}, indent=1), encoding="utf-8")
    print(f"{len(photos)} flanks, {len(sides)} read, side right {sum(sides)}/{len(sides)}")
    return errors.report()


def truths(folder: Path) -> Iterable[tuple[Path, dict[str, Any]]]:
    for path in sorted(folder.rglob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        if isinstance(truth, dict) and "image" in truth and not truth.get("negative"):
            yield path.with_name(truth["image"]), truth


def asked_photos(folder: Path) -> Iterable[tuple[Path, str, list[dict[str, Any]]]]:
    """Photos with the flank and the teeth that are asked; one that shows both flanks comes once for each."""
    for path, truth in truths(folder):
        asked = asked_teeth(truth)
        for flank in ("convex", "concave"):
            teeth = [tooth for tooth in asked if tooth.get("flank", truth["flank_shown"]) == flank]
            if teeth:
                yield path, flank, teeth


def asked_teeth(truth: dict[str, Any]) -> list[dict[str, Any]]:
    return [
        tooth
        for tooth in truth.get("teeth", [])
        if tooth.get("painted") and tooth.get("contact") and tooth["visible_fraction"] >= VISIBLE
    ]


def corners_of(teeth: list[dict[str, Any]]) -> dict[str, Any]:
    """The content of a corners file; pixel middles at whole numbers."""

    def mark(tooth: dict[str, Any]) -> dict[str, list[float]]:
        return {name: [x - PIXEL_MIDDLE for x in tooth["corners_px"][name]] for name in CORNER_UV}

    return {"teeth": [mark(tooth) for tooth in teeth]}


class Errors:
    """Errors of all photos and teeth, read less true."""

    def __init__(self) -> None:
        self.all: dict[str, list[float]] = {
            name: [] for name in (*BARS, "area", "tilt deg", "centre length / sigma", "centre height / sigma",
                                  "tooth length / sigma", "tooth height / sigma")
        }  # fmt: skip
        self.edges = [0, 0]

    def add_refused(self) -> None:
        for name in ("centre length", "centre height"):
            self.all[name].append(1.0)

    def add(self, reading: Reading, asked: list[dict[str, Any]]) -> str:
        true = np.mean([tooth["contact"]["centroid_uv"] for tooth in asked], axis=0)
        off = np.array(reading.side.centre) - true
        for axis, name in enumerate(("length", "height")):
            self.all[f"centre {name}"].append(off[axis])
            self.all[f"centre {name} / sigma"].append(off[axis] / reading.side.sigma[axis])
        for read_tooth, truth in zip(reading.teeth, asked, strict=True):
            pattern, contact = read_tooth.pattern, truth["contact"]
            if pattern is None:
                continue
            self.all["extent length"] += list(np.subtract(pattern.length, contact["u_5_95"]))
            self.all["extent height"] += list(np.subtract(pattern.height, contact["v_5_95"]))
            self.all["area"].append(pattern.area_fraction - contact["area_fraction"])
            self.all["tilt deg"].append((pattern.tilt_deg - contact["tilt_deg"] + 90) % 180 - 90)
            for axis, name in enumerate(("length", "height")):
                error = pattern.centre[axis] - contact["centroid_uv"][axis]
                self.all[f"tooth {name} / sigma"].append(error / pattern.sigma[axis])
            for edge, over in contact["runs_off"].items():
                self.edges[0] += (edge in pattern.runs_off) == over
                self.edges[1] += 1
        return f"centre off by {off[0]:+.3f} of the length, {off[1]:+.3f} of the height;"

    def report(self) -> int:
        """Print the figures; 1 where a bar is missed."""
        missed = 0
        for name, values in self.all.items():
            if not values:
                continue
            if name.endswith("sigma"):
                print(f"{name:22s} rms {np.sqrt(np.mean(np.square(values))):.2f} (honest: 1)")
                continue
            size = np.abs(values)
            half, most = float(np.median(size)), float(np.percentile(size, 95))
            note = ""
            if name in BARS:
                good = all(b is None or x <= b for x, b in zip((half, most), BARS[name], strict=True))
                missed += not good
                bars = " and ".join(f"{b:.2f}" for b in BARS[name] if b is not None)
                note = f"  bar {bars}: {'met' if good else 'MISSED'}"
            print(f"{name:22s} median {half:.4f}  95 % {most:.4f}  mean error {np.mean(values):+.4f}{note}")
        print(f"{'edges run off':22s} right {self.edges[0]}/{self.edges[1]}")
        return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
