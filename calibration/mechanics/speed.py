"""How long the mechanics take, beside the bars: a gear set's set-up, one prediction, advice.

    python -m calibration.mechanics.speed

Medians of processor time (the work of this process) and of the clock, which also counts what else the
machine is doing. Several places of the gears are predicted in one go; that is compared with one by one.
The reading is of a simulated gear set (calibration/set_ups.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from statistics import median
from time import perf_counter, process_time

import numpy as np

from calibration.mechanics.directions import ISO_SAMPLES
from calibration.set_ups import MisSetUp, draw, read, true_state
from contactread.advice import advise
from contactread.axle import Axle
from contactread.belief.draws import draws_of
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import CELLS, MeshModel, Prediction
from contactread.pattern.measures import Setup

SET_UP_BAR_MS, PREDICT_BAR_MS, ADVICE_BAR_MS = 500, 15, 150
SEED = 22
PLACES = [Displacement(0.02 * k, -0.01 * k) for k in range(-3, 4)]


def main() -> None:
    """Print processor and clock times in milliseconds beside the bars."""
    print(f"{'':<46}{'processor':>12}{'clock':>12}{'bar':>12}")
    for name, (gears, proportions) in ISO_SAMPLES.items():
        model = MeshModel(Axle(gears), proportions=proportions)
        set_up = partial(MeshModel, model.axle, proportions=proportions)
        _row(f"{name}: model set-up", [set_up] * 10, SET_UP_BAR_MS)
        one = [partial(model.predict, 0.002 * k, -0.001 * k) for k in range(50)]
        _row(f"{name}: predict, {CELLS[0]} x {CELLS[1]} points", one, PREDICT_BAR_MS)
    case, setup = _case()
    axles = [_another(case.axle, k) for k in range(12)]
    build = [partial(draws_of, axle.gears, axle.ease_off) for axle in axles[:7]]
    _row("what advice needs of a gear set, built", build, SET_UP_BAR_MS)
    _row("whole advice, that done", [partial(advise, setup, axle) for axle in axles[:7]], ADVICE_BAR_MS)
    first = [partial(advise, setup, axle) for axle in axles[7:]]
    _row("first advice of a gear set, both together", first, SET_UP_BAR_MS + ADVICE_BAR_MS)
    _together(case.model)


def _case() -> tuple[MisSetUp, Setup]:
    random = np.random.default_rng(SEED)
    case = draw(random)
    setup = read(true_state(case, case.pinion_mm, case.ring_mm), random)
    assert setup is not None
    return case, setup


def _another(axle: Axle, k: int) -> Axle:
    """An axle that nothing is remembered of: a hair larger than the one before."""
    return replace(axle, gears=replace(axle.gears, ring_diameter_mm=axle.gears.ring_diameter_mm + k / 100))


def _together(model: MeshModel) -> None:
    """Print what predicting several places in one go saves, and by how much the answers differ."""
    model.predict()
    alone = _times([lambda: _one_by_one(model)] * 20)[0]
    together = _times([lambda: model.predictions(PLACES)] * 20)[0]
    apart = max(
        float(np.abs(_numbers(one) - _numbers(other)).max())
        for one, other in zip(_one_by_one(model), model.predictions(PLACES), strict=True)
    )
    print(
        f"{len(PLACES)} places in one go: {together / alone:.2f} of the processor time of one by one; "
        f"largest difference of any number {apart:.0e}"
    )


def _one_by_one(model: MeshModel) -> list[Prediction]:
    return [model.predict(at.pinion, at.ring) for at in PLACES]


def _numbers(prediction: Prediction) -> np.ndarray:
    patches = [prediction.convex, prediction.concave]
    found = [x for p in patches if p is not None for x in (*p.centre, *p.length, *p.height, p.tilt_deg)]
    return np.array([*found, prediction.backlash_change_mm])


def _row(name: str, jobs: Sequence[Callable[[], object]], bar: float) -> None:
    work, clock = _times(jobs)
    print(f"{name:<46}{work:>9.1f} ms{clock:>9.1f} ms{bar:>9.0f} ms")


def _times(jobs: Sequence[Callable[[], object]]) -> tuple[float, float]:
    """Median processor and clock time of the jobs, ms."""
    work, clock = [], []
    for job in jobs:
        start = perf_counter(), process_time()
        job()
        clock.append((perf_counter() - start[0]) * 1e3)
        work.append((process_time() - start[1]) * 1e3)
    return median(work), median(clock)


if __name__ == "__main__":
    main()
