"""How much surer several photos of one side are than one, on pictures with truth beside them.

    python -m calibration.finder.render_unseen --out DIR --family views --scenes 60
    python -m calibration.finder.joined DIR

Of each scene those views count that show the flank which most of them show, three at most; fewer than three
make no set. Prints how often a single view and the joined ones are wrong (the other side, or a centre more
than a tenth off), the median error, and stated doubt against what came true, each beside its bar; ends with 1
where one is missed.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from calibration.accuracy import asked_teeth
from contactread import Reading, read
from contactread.arrays import Floats
from contactread.errors import ContactreadError
from contactread.views import join

VIEWS, FAR = 3, 0.1
RARER, CLOSER, HONEST = 0.2, 0.8, 0.2  # the bars: wrong so much as often, median error, doubt within


@dataclass(frozen=True)
class Judged:
    """One reading against its truth. off: of the centre, read less true, shares of length and height."""

    side_right: bool
    off: Floats
    sigma: Floats

    @property
    def wrong(self) -> bool:
        return not self.side_right or bool((np.abs(self.off) > FAR).any())


def sets(folder: Path) -> list[list[tuple[Path, str, Floats]]]:
    """Photo, flank and true centre of each view that counts, scene by scene."""
    scenes: dict[str, dict[str, list[tuple[Path, str, Floats]]]] = defaultdict(lambda: defaultdict(list))
    for path in sorted(folder.glob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        asked = asked_teeth(truth)
        if asked:
            centre = np.mean([tooth["contact"]["centroid_uv"] for tooth in asked], axis=0)
            flank = str(truth["flank_shown"])
            scenes[path.stem.rsplit("_", 1)[0]][flank].append((path.with_name(truth["image"]), flank, centre))
    most = [max(flanks.values(), key=len) for flanks in scenes.values()]
    return [views[:VIEWS] for views in most if len(views) >= VIEWS]


def judged(reading: Reading, flank: str, centre: Floats) -> Judged:
    """The reading against what is true of its photo."""
    off = np.asarray(np.subtract(reading.side.centre, centre), float)
    return Judged(reading.side.flank == flank, off, np.array(reading.side.sigma))


def told(name: str, every: Sequence[Judged]) -> tuple[float, Floats, Floats]:
    """Share of wrong ones, median error, and error over stated doubt (root mean square, 5 at most)."""
    right = [one for one in every if one.side_right]
    off = np.abs([one.off for one in right])
    over = np.minimum(off / np.array([one.sigma for one in right]), 5.0)
    wrong = float(np.mean([one.wrong for one in every]))
    median, doubt = np.median(off, axis=0), np.sqrt((over**2).mean(axis=0))
    print(f"{name:14s} {len(every):4d} read, wrong {wrong:.1%}; centre median {median[0]:.4f} and "
          f"{median[1]:.4f}; error over doubt {doubt[0]:.2f} and {doubt[1]:.2f}")  # fmt: skip
    return wrong, median, doubt


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    single: list[Judged] = []
    joined: list[Judged] = []
    for views in sets(parser.parse_args().folder):
        seen = []
        for path, flank, centre in views:
            try:
                reading = read(path)
            except ContactreadError:
                continue
            single.append(judged(reading, flank, centre))
            seen.append((reading, flank, centre))
        if seen:
            surest = max(join([reading for reading, *_ in seen]).values(), key=lambda v: v.reading.confidence)
            joined.append(judged(surest.reading, seen[0][1], np.mean([c for *_, c in seen], axis=0)))
    if not joined:
        parser.error("no scene has three views of one flank with one that can be read")
    often, median, _ = told("one view", single)
    rarely, closer, doubt = told("views joined", joined)
    bars = {
        f"wrong {rarely / max(often, 1e-9):.2f} times as often, bar {RARER}": rarely <= RARER * often,
        f"median {(closer / median).max():.2f} times, bar {CLOSER}": bool((closer <= CLOSER * median).all()),
        f"doubt off by {np.abs(doubt - 1).max():.2f}, bar {HONEST}": bool((abs(doubt - 1) <= HONEST).all()),
    }
    for text, met in bars.items():
        print(f"{text}: {'met' if met else 'MISSED'}")
    return 0 if all(bars.values()) else 1


if __name__ == "__main__":
    sys.exit(main())
