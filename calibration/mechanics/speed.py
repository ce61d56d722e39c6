"""How long the mesh model takes: set-up of a gear set, and one prediction of both flanks at 96 x 32 points.

    python -m calibration.mechanics.speed

Bars: set-up 0.5 s, one prediction 15 ms. Processor time of one thread tells the work; the clock also counts
what else the machine is doing.
"""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import perf_counter, process_time

from calibration.mechanics.directions import ISO_SAMPLES
from contactread.axle import Axle
from contactread.mesh.response import CELLS, MeshModel

REPEATS = 50


def main() -> None:
    """Print processor and clock times in milliseconds."""
    for name, (gears, proportions) in ISO_SAMPLES.items():
        model = MeshModel(Axle(gears), proportions=proportions)

        def set_up(k: int, axle: Axle = model.axle, chosen: object = proportions) -> None:
            MeshModel(axle, proportions=chosen)  # type: ignore[arg-type]

        def one(k: int, model: MeshModel = model) -> None:
            model.predict(0.002 * k, -0.001 * k)

        print(f"{name}: set-up {_times(set_up, 10)}; predict {CELLS[0]} x {CELLS[1]} {_times(one, REPEATS)}")


def _times(job: Callable[[int], None], repeats: int) -> str:
    """Median processor and clock time of a job."""
    work, clock = [], []
    for k in range(repeats):
        start = perf_counter(), process_time()
        job(k)
        clock.append((perf_counter() - start[0]) * 1e3)
        work.append((process_time() - start[1]) * 1e3)
    return f"{median(work):.1f} ms of work, {median(clock):.1f} ms by the clock"


if __name__ == "__main__":
    main()
