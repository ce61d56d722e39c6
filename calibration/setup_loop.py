"""The set-up loop: how many re-shims from a mis-set-up to a good pattern.

    python -m calibration.setup_loop --count 500 --processes 2

Simulated mis-set-ups (calibration/set_ups.py) are worked off by `contactread.advise` and, beside it, by a
technician who follows the chart in fixed steps. A re-shim is one time the axle is taken apart, whatever is
changed in it. Work ends when the worker accepts the set-up. All of it is a simulation: it shows that the
solver copes with gear sets it wasn't told about, not how a real axle behaves.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context

import numpy as np

from calibration.set_ups import BACKLASH_MM, MisSetUp, draw, read, true_state
from calibration.technician import Technician
from contactread.advice import Advice, EarlierTry, advise
from contactread.advice.targets import Target, Zone
from contactread.axle import Axle
from contactread.pattern.measures import Setup

MOST_RESHIMS = 8
CLEARLY_OFF_MM = 0.025  # one shim step: a depth error that can be called wrong at all
ZONES = {"wide": (0.10, 0.15), "tight": (0.06, 0.09)}  # half widths, of length and of height


@dataclass(frozen=True)
class Outcome:
    """How one mis-set-up went. reshims: moves made. accepted: the worker ended the work. right: it was
    really right then. wrong_first: the first depth move went the wrong way although depth was clearly off.
    readings: photo pairs taken. alarms: good moves called a mix-up. seconds: of the slowest single advice,
    the gear set being known.
    """

    reshims: int
    accepted: bool
    right: bool
    wrong_first: bool
    readings: int = 0
    alarms: int = 0
    seconds: float = 0.0


Worker = Callable[[Setup, Axle, list[EarlierTry]], tuple[str, float, float]]


@dataclass(frozen=True)
class Solver:
    """contactread with a target as wide as the bar's zone."""

    target: Target

    def __call__(self, setup: Setup, axle: Axle, history: list[EarlierTry]) -> tuple[str, float, float]:
        """What contactread says: "accept", "read", "move", "check" or "give up", with P and G."""
        return by_advice(advise(setup, axle, history, self.target))


def by_advice(advice: Advice) -> tuple[str, float, float]:
    """The advice as what to do next."""
    if advice.verdict == "acceptable":
        return "accept", 0.0, 0.0
    pinion, ring = advice.pinion_mm or 0.0, advice.ring_mm or 0.0
    if pinion or ring:
        return "move", pinion, ring
    others = {"read_again": "read", "check_last_move": "check"}
    return others.get(advice.verdict, "give up"), 0.0, 0.0


def work_off(case: MisSetUp, worker: Worker, zone: tuple[float, float], seed: int) -> Outcome:
    """One mis-set-up from the first reading to the end of the work."""
    random = np.random.default_rng(seed)
    pinion, ring = case.pinion_mm, case.ring_mm
    history: list[EarlierTry] = []
    so_far = Outcome(0, False, False, False)
    moved_depth = False
    while True:
        setup = read(true_state(case, pinion, ring), random)
        if setup is None:
            return so_far
        start = time.perf_counter()
        what, p, g = worker(setup, case.axle, history)
        seconds = time.perf_counter() - start
        if what == "check":  # every move was made as told, so the look finds nothing
            history[-1] = replace(history[-1], checked=True)
            so_far = replace(so_far, alarms=so_far.alarms + 1)
            what, p, g = worker(setup, case.axle, history)
        if so_far.readings:  # the first advice also builds the gear set
            so_far = replace(so_far, seconds=max(so_far.seconds, seconds))
        so_far = replace(so_far, readings=so_far.readings + 1)
        if (
            what not in ("move", "read")
            or so_far.reshims == MOST_RESHIMS
            or so_far.readings > 2 * MOST_RESHIMS
        ):
            return replace(so_far, accepted=what == "accept", right=is_right(case, pinion, ring, zone))
        if p and not moved_depth:
            moved_depth = True
            so_far = replace(so_far, wrong_first=p * pinion > 0 and abs(pinion) > CLEARLY_OFF_MM)
        history.append(EarlierTry(setup, p, g))
        pinion, ring = pinion + p, ring + g
        so_far = replace(so_far, reshims=so_far.reshims + (what == "move"))


def is_right(case: MisSetUp, pinion: float, ring: float, zone: tuple[float, float]) -> bool:
    """Whether the set-up is truly done: both centres in the zone, backlash within its limits."""
    state = true_state(case, pinion, ring)
    misses = state.misses(case.aim)
    inside = misses is not None and misses[0] <= zone[0] and misses[1] <= zone[1]
    return inside and BACKLASH_MM[0] <= state.backlash_mm <= BACKLASH_MM[1]


def one_case(seed: int) -> list[tuple[Outcome, Outcome]]:
    """Both workers on the same mis-set-up with the same noise, in each zone."""
    case = draw(np.random.default_rng(seed))
    return [
        (
            work_off(case, Solver(target_as_wide_as(zone)), zone, seed),
            work_off(case, Technician(zone), zone, seed),
        )
        for zone in ZONES.values()
    ]


def target_as_wide_as(zone: tuple[float, float]) -> Target:
    """The target "centred" with the bar's zone around its aim."""
    wanted = Zone((0.5, 0.5), (0.5 - zone[0], 0.5 + zone[0]), (0.5 - zone[1], 0.5 + zone[1]))
    return Target("centred", "Centred on both flanks", "Set by the bar.", ("C1",), wanted, wanted)


def report(name: str, outcomes: list[Outcome]) -> str:
    """One line of figures."""
    reshims = np.array([o.reshims for o in outcomes])
    accepted = [o for o in outcomes if o.accepted]
    failed = sum(not o.accepted for o in outcomes) / len(outcomes)
    false = sum(not o.right for o in accepted) / max(len(accepted), 1)
    wrong = sum(o.wrong_first for o in outcomes) / len(outcomes)
    return (
        f"{name:<12} re-shims median {np.median(reshims):.0f}, 95 % {np.percentile(reshims, 95):.0f}, "
        f"mean {reshims.mean():.2f}; not finished {failed:.1%}; first depth move the wrong way {wrong:.1%}; "
        f"accepted though outside {false:.1%}; photo pairs {np.mean([o.readings for o in outcomes]):.1f}; "
        f"false alarms {sum(o.alarms > 0 for o in outcomes) / len(outcomes):.1%}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1000)
    chosen = parser.parse_args()
    with ProcessPoolExecutor(chosen.processes, mp_context=get_context("spawn")) as pool:
        results = list(pool.map(one_case, range(chosen.seed, chosen.seed + chosen.count), chunksize=4))
    for index, (name, zone) in enumerate(ZONES.items()):
        solver, technician = zip(*(result[index] for result in results), strict=True)
        print(f"{name} zone: ±{zone[0]} of length, ±{zone[1]} of height, backlash {BACKLASH_MM} mm")
        print(report("contactread", list(solver)))
        print(report("technician", list(technician)))
        slowest = 1000 * np.percentile([outcome.seconds for outcome in solver], 95)
        print(f"slowest advice of a set-up, the gear set known, 95 %: {slowest:.0f} ms")


if __name__ == "__main__":
    main()
