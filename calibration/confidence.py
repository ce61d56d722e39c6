"""The confidence of readings and their stated intervals, fitted and checked on pictures with truth.

    python -m calibration.confidence FOLDER... [--keep FILE]

FOLDERs hold pictures that nothing was trained on, with truth as in `sample_images` (render_unseen makes
them). Scenes are parted in two by turns (views of one scene stay together): the weights of
`contactread.pattern.quality` are fitted on one half and checked on the other, and the other way round; those
printed at the end, for the package, are fitted on both. Printed too: of readings said to be sure by so much,
how many were right; the calibration error; the surest wrong reading; and by split conformal prediction, for
each class, the factors by which the stated standard uncertainty must be taken so that nine intervals in ten
hold the truth, with how many did on the other half. A guarantee on rendered pictures is none on real ones.
--keep: readings are kept there, and taken from there if it exists.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from calibration.accuracy import asked_teeth
from contactread import read
from contactread.arrays import Floats
from contactread.errors import ContactreadError
from contactread.pattern.quality import SURE_ENOUGH, Evidence, class_of

NEAR = 0.1  # of the length, and of the height: a centre farther off is wrong
RIDGE = 1.0  # holds the weights to zero, in readings
COVER = 0.9
BINS = 5
WORST, ERROR = 0.7, 0.05  # the bars: no wrong reading surer than that; the calibration error


@dataclass(frozen=True)
class Case:
    """One picture that was read. off: |error| of the centre over the stated sigma, in u and v; None on the
    wrong side, or where there is no pattern."""

    name: str
    scene: str
    right: bool
    off: tuple[float, float] | None
    group: str
    evidence: Evidence


def cases(folder: Path) -> list[Case]:
    """The pictures of a folder that can be read."""
    found = []
    for path in sorted(folder.glob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        if "image" not in truth:
            continue
        try:
            reading = read(path.with_name(truth["image"]))
        except ContactreadError:
            continue
        asked = [tooth["contact"]["centroid_uv"] for tooth in asked_teeth(truth)]
        if not asked and not truth.get("negative"):
            continue  # nothing to compare with
        right, off = False, None
        if asked and not truth.get("negative") and reading.side.flank == truth["flank_shown"]:
            gap = np.abs(np.subtract(reading.side.centre, np.mean(asked, axis=0)))
            right = bool((gap <= NEAR).all())
            off = (float(gap[0] / reading.side.sigma[0]), float(gap[1] / reading.side.sigma[1]))
        assert reading.evidence is not None
        scene = path.stem.rsplit("_", 1)[0]
        group = class_of(reading.flags, len(reading.side.teeth))
        found.append(Case(str(path), scene, right, off, group, reading.evidence))
    return found


def fitted(some: Sequence[Case]) -> Floats:
    """Bias and weights of a logistic model, by Newton's method with a ridge, (1 + features,)."""
    design = np.array([[1.0, *case.evidence.features] for case in some])
    right = np.array([case.right for case in some], float)
    held = RIDGE * np.eye(design.shape[1])
    held[0, 0] = 1e-3
    weights = np.zeros(design.shape[1])
    for _ in range(50):
        chance = 1 / (1 + np.exp(-design @ weights))
        slope = design.T @ (right - chance) - held @ weights
        curve = (design * (chance * (1 - chance))[:, None]).T @ design + held
        weights = weights + np.linalg.solve(curve, slope)
    return np.asarray(weights)


def said(weights: Floats, some: Sequence[Case]) -> Floats:
    """The chance of being right that the model gives each."""
    design = np.array([[1.0, *case.evidence.features] for case in some])
    return np.asarray(1 / (1 + np.exp(-design @ weights)))


def quantiles(every: Sequence[Case], chance: Floats) -> dict[str, tuple[float, float]]:
    """Split conformal factors of sigma for each class: the ceil((n + 1) * COVER)-th of n errors of readings
    that are sure enough."""
    some = [case for case, sure in zip(every, chance, strict=True) if sure >= SURE_ENOUGH]
    factors = {}
    for group in ("clear", "ordinary", "hard"):
        off = np.array([case.off for case in some if case.off is not None and case.group == group])
        if len(off) >= 5:
            place = min(len(off), int(np.ceil((len(off) + 1) * COVER))) - 1
            u, v = np.sort(off, axis=0)[place]
            factors[group] = (round(float(u), 2), round(float(v), 2))
    return factors


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--keep", type=Path)
    args = parser.parse_args()
    if args.keep and args.keep.exists():
        every = [_case(entry) for entry in json.loads(args.keep.read_text(encoding="utf-8"))]
    else:
        every = [case for folder in args.folders for case in cases(folder)]
        if args.keep:
            args.keep.write_text(json.dumps([asdict(case) for case in every]), encoding="utf-8")
    scenes = sorted({case.scene for case in every})
    halves = [[case for case in every if scenes.index(case.scene) % 2 == turn] for turn in (0, 1)]
    chance, right, held = [], [], []
    for fit, check in (halves, halves[::-1]):
        weights = fitted(fit)
        chance.append(said(weights, check))
        right += [case.right for case in check]
        factors = quantiles(fit, said(weights, fit))
        held += [
            off <= factor
            for case, sure in zip(check, chance[-1], strict=True)
            if sure >= SURE_ENOUGH
            if case.off is not None and case.group in factors
            for off, factor in zip(case.off, factors[case.group], strict=True)
        ]
    told, true = np.concatenate(chance), np.array(right)
    print(f"readings         {len(every)}, right {true.mean():.0%}")
    error = _table(told, true)
    wrong = float(told[~true].max()) if (~true).any() else 0.0
    print(f"calibration      error {error:.3f}  bar {ERROR}: {'met' if error <= ERROR else 'MISSED'}")
    print(f"surest wrong     {wrong:.2f}  bar {WORST}: {'met' if wrong <= WORST else 'MISSED'}")
    print(f"intervals        {np.mean(held):.0%} hold the truth, {COVER:.0%} wanted")
    weights = fitted(every)
    print(f"BIAS, WEIGHTS = {weights[0]:.2f}, np.array({np.round(weights[1:], 2).tolist()})")
    print(f"FACTORS = {quantiles(every, said(weights, every))}")
    return 0 if error <= ERROR and wrong <= WORST else 1


def _table(told: Floats, true: Floats) -> float:
    """Prints readings by how sure they are said to be; returns the mean gap, weighted by their number."""
    order = np.argsort(told)
    gap = 0.0
    for part in np.array_split(order, BINS):
        mean, share = float(told[part].mean()), float(true[part].mean())
        print(f"  said {mean:.2f}  right {share:.2f}  of {len(part)}")
        gap += abs(mean - share) * len(part) / len(told)
    return gap


def _case(entry: dict[str, Any]) -> Case:
    off = entry["off"]
    evidence = Evidence(**entry["evidence"])
    return Case(**(entry | {"evidence": evidence, "off": None if off is None else (off[0], off[1])}))


if __name__ == "__main__":
    sys.exit(main())
