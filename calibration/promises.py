"""What contactread promises of a photo read with no corners given, and the figures behind it.

    python -m calibration.promises [TRUTH_FOLDER]

The folder is sample_images where none is named. A promise is a median and a 95th percentile of the error of
the pattern's centre: in length, as a share of the flank's length, and in height, as a share of its height.
The sample pictures are rendered and easier than chance; they are our own, so real photos may do worse.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from calibration.finder.accuracy import Result, results

SAMPLES = Path(__file__).parents[1] / "sample_images"
# Flags that make a photo more than ordinary trouble.
TROUBLE = {"glare", "dark", "blurred", "oblique", "small-teeth", "few-teeth", "scatter", "flank-uncertain"}


@dataclass(frozen=True)
class Promise:
    """Centre errors promised: (median, 95th percentile), in length and in height."""

    meaning: str
    length: tuple[float, float]
    height: tuple[float, float]


PROMISES = {
    "clear": Promise("three whole painted teeth or more, nothing flagged", (0.02, 0.06), (0.05, 0.10)),
    "ordinary": Promise("teeth cut off or hidden, else nothing flagged", (0.025, 0.06), (0.05, 0.10)),
    "hard": Promise("glare, dark, soft, slanted or small; read all the same", (0.06, 0.25), (0.08, 0.30)),
}


def kind_of(result: Result) -> str:
    """Which promise a photo that was read falls under."""
    if TROUBLE & set(result.flags):
        return "hard"
    return "ordinary" if "cut-off" in result.flags else "clear"


def kept(promise: Promise, group: list[Result]) -> bool:
    return all(
        np.median(sizes) <= bars[0] and np.percentile(sizes, 95) <= bars[1]
        for bars, sizes in zip((promise.length, promise.height), sizes_of(group), strict=True)
    )


def sizes_of(group: list[Result]) -> tuple[list[float], list[float]]:
    return [abs(r.off[0]) for r in group], [abs(r.off[1]) for r in group]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path, nargs="?", default=SAMPLES)
    args = parser.parse_args()
    seen = [r for r in results(args.folder) if not r.negative and r.refusal is None]
    broken = 0
    for name, promise in PROMISES.items():
        group = [r for r in seen if kind_of(r) == name]
        if not group:
            print(f"{name}: no such photo here")
            continue
        length, height = sizes_of(group)
        good = kept(promise, group)
        broken += not good
        print(
            f"{name}, {len(group)} photos ({promise.meaning}): {'kept' if good else 'BROKEN'}\n"
            f"  length: median {np.median(length):.3f}, 95 % {np.percentile(length, 95):.3f};"
            f" promised {promise.length[0]} and {promise.length[1]}\n"
            f"  height: median {np.median(height):.3f}, 95 % {np.percentile(height, 95):.3f};"
            f" promised {promise.height[0]} and {promise.height[1]}"
        )
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
