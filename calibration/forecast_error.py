"""How far a forecast misses: simulated set-ups of gears that the belief doesn't know, read with noise.

    python -m calibration.forecast_error --count 60

Every mis-set-up (calibration/set_ups.py) is read once; two moves are foreseen from there: one at random, and
the one that `contactread.advise` asks for. Every door (advise, predict, predict --reading) gives the same
forecast (tests/belief), so one is measured. Printed beside the bars: root mean square of what the centres
after the move miss, in shares of length and height, and of the backlash in mm; and the same in units of the
stated standard deviation, which is 1 where doubt is told rightly. Ends with 1 where a bar is missed.

The bars stand at what the better of the two former doors missed before there was one belief: for the move at
random the one that fitted the mesh, for the advised move the one that took straight lines.
"""

from __future__ import annotations

import argparse
import sys

import numpy as np

from calibration.set_ups import draw, read, true_state
from contactread.advice import advise
from contactread.arrays import Floats
from contactread.axle import FLANKS
from contactread.belief import believe

# Length, height, backlash in mm.
BARS = {"any": (0.040, 0.041, 0.020), "advised": (0.040, 0.049, 0.021)}
STEP_MM, REACH_MM = 0.025, 0.15
FIRST_SEED = 7000


def misses(seed: int) -> dict[str, tuple[Floats, Floats]]:
    """What the forecasts of one case miss, (5,) each, and the standard deviations they told."""
    random = np.random.default_rng(seed)
    case = draw(random)
    at_random = np.round(random.uniform(-REACH_MM, REACH_MM, 2) / STEP_MM) * STEP_MM
    setup = read(true_state(case, case.pinion_mm, case.ring_mm), random)
    if setup is None:
        return {}
    advice = advise(setup, case.axle)
    moves = {"any": tuple(map(float, at_random))}
    if advice.pinion_mm or advice.ring_mm:
        moves["advised"] = (advice.pinion_mm or 0.0, advice.ring_mm or 0.0)
    belief = believe(case.axle, setup)
    found = {}
    for name, (pinion, ring) in moves.items():
        truth = true_state(case, case.pinion_mm + pinion, case.ring_mm + ring)
        patches = truth.prediction.convex, truth.prediction.concave
        if patches[0] is None or patches[1] is None:
            continue
        after = belief.forecast(pinion, ring).after
        centres = [x for flank in FLANKS for x in after.centre[flank]]
        sigmas = [x for flank in FLANKS for x in after.sigma[flank]]
        real = np.array([*patches[0].centre, *patches[1].centre, truth.backlash_mm])
        found[name] = (
            np.array([*centres, after.backlash_mm]) - real,
            np.array([*sigmas, after.backlash_sigma_mm]),
        )
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    chosen = parser.parse_args()
    cases = [misses(seed) for seed in range(FIRST_SEED, FIRST_SEED + chosen.count)]
    missed = False
    for name, bars in BARS.items():
        pairs = [case[name] for case in cases if name in case]
        errors, sigmas = (np.stack(column) for column in zip(*pairs, strict=True))
        figures = _by_kind(errors)
        told = _by_kind(errors / sigmas)
        print(f"{name} move, {len(pairs)} cases:")
        for what, figure, score, bar in zip(
            ("length", "height", "backlash"), figures, told, bars, strict=True
        ):
            missed |= figure > bar
            print(f"  {what:<9} misses {figure:.4f} (bar {bar:.3f}); {score:.2f} of the doubt told")
    sys.exit(missed)


def _by_kind(values: Floats) -> tuple[float, float, float]:
    """Root mean square over length, height and backlash of (n, 5)."""
    squares = (values**2).mean(axis=0)
    return tuple(float(np.sqrt(s)) for s in (squares[[0, 2]].mean(), squares[[1, 3]].mean(), squares[4]))  # type: ignore[return-value]


if __name__ == "__main__":
    main()
