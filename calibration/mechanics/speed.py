"""How long the mesh model takes: set-up of a gear set, and one prediction of both flanks at 96 x 32 points.

    python -m calibration.mechanics.speed

Bars: set-up 0.5 s, one prediction 15 ms. Single thread, this machine.
"""

from __future__ import annotations

from statistics import median
from time import perf_counter

from calibration.mechanics.directions import ISO_SAMPLES
from contactread.axle import Axle
from contactread.mesh.response import CELLS, MeshModel

REPEATS = 50


def main() -> None:
    """Print median and worst times in milliseconds."""
    for name, (gears, proportions) in ISO_SAMPLES.items():
        set_up, model = _timed(lambda g=gears, p=proportions: MeshModel(Axle(g), proportions=p), 5)
        runs = [_timed(lambda k=k, m=model: m.predict(0.002 * k, -0.001 * k), 1)[0] for k in range(REPEATS)]
        print(
            f"{name}: set-up {set_up:.1f} ms; predict {CELLS[0]} x {CELLS[1]}: "
            f"median {median(runs):.2f} ms, worst {max(runs):.2f} ms"
        )


def _timed(job, repeats: int):  # type: ignore[no-untyped-def]
    """Least time in ms and the last result."""
    times = []
    for _ in range(repeats):
        start = perf_counter()
        result = job()
        times.append((perf_counter() - start) * 1e3)
    return min(times), result


if __name__ == "__main__":
    main()
