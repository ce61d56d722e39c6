"""The set-up loop: how many re-shims from a mis-set-up to a good pattern, under what the solver is told.

    python -m calibration.setup_loop                              # every condition, 300 starts each
    python -m calibration.setup_loop --only known three-numbers --zone tight --count 300
    python -m calibration.setup_loop --only known --part 1/3 --keep outcomes.jsonl   # in slices
    python -m calibration.setup_loop --from outcomes.jsonl        # figures of all slices kept

Simulated mis-set-ups (calibration/set_ups.py) of gears that the solver doesn't know are worked off by
`contactread.advise`; `--technician` does it beside by one who follows the chart in fixed steps. What is told
and which bar holds is in calibration/setup_conditions.py. A re-shim is one time the axle is taken apart,
whatever is changed in it. Backlash is read at one place, and at four where the answer asks. What is to be
left without an all-clear is photographed once more, as that answer says. Work ends when the worker accepts
the set-up, or leaves it then. All of it is a simulation: it shows that the solver copes with gear sets
it wasn't told about, not how a real axle behaves.
Ends with 1 where a bar is missed.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from calibration.set_ups import MisSetUp, at_places, draw, read, true_state
from calibration.setup_conditions import CONDITIONS, DESIGNED_BACKLASH_MM, Condition
from calibration.setup_figures import Outcome, figures
from calibration.setup_truth import beyond, clears_elsewhere, in_the_middle, is_clear, is_right, runs_off
from calibration.technician import Step, Technician
from contactread.advice import Advice, EarlierTry, advise
from contactread.advice.looks import moved, off_in_height
from contactread.axle import Axle, Interval, Limits
from contactread.belief.targets import Target, Zone
from contactread.belief.tries import PLACES
from contactread.cli.output import progress
from contactread.pattern.measures import Setup

MOST_RESHIMS = 8
MOST_LOOKS = (
    3  # the second that an answer may ask for, and one to be surer of what is left without an all-clear
)
STEP_UNTOLD_MM = 0.05  # made where only the direction is told
CLEARLY_OFF_MM = 0.025  # one shim step: a depth error that can be called wrong at all
ZONES = {"wide": (0.10, 0.15), "tight": (0.06, 0.09)}  # half widths, of length and of height

Worker = Callable[[Setup, Axle, list[EarlierTry]], Step]


@dataclass(frozen=True)
class Solver:
    """contactread with a target as wide as the bar's zone. axle_file: False tells it nothing of the axle."""

    target: Target
    axle_file: bool = True

    def __call__(self, setup: Setup, axle: Axle, history: list[EarlierTry]) -> Step:
        """What contactread says to do next."""
        return by_advice(advise(setup, axle if self.axle_file else None, history, self.target))


def by_advice(advice: Advice) -> Step:
    """The advice as what to do next."""
    others = {"acceptable": "accept", "read_again": "read", "check_last_move": "check",
              "measure_first": "measure", "no_better_place": "leave"}  # fmt: skip
    what = "move" if advice.moves else others.get(advice.verdict, "give up")
    if advice.verdict == "acceptable":
        more = any(step.rule == "backlash-unmeasured" for step in advice.next_steps)
        what = "measure" if more else "accept"
    way = {
        move.member: (STEP_UNTOLD_MM if move.direction == "away" else -STEP_UNTOLD_MM)
        if move.travel_mm is None
        else move.travel_mm
        for move in advice.moves
    }
    expected = advice.moves[-1].expected if advice.moves else advice.now
    chance = None if expected is None else expected.chance
    now = None if advice.now is None else advice.now.chance
    return Step(what, way.get("pinion", 0.0), way.get("ring_gear", 0.0), chance, advice.verdict, now)


def work_off(
    case: MisSetUp,
    worker: Worker,
    zone: Interval,
    seed: int,
    judged_mm: Interval = DESIGNED_BACKLASH_MM,
    measured: bool = True,
) -> Outcome:
    """One mis-set-up from the first reading to the end of the work. judged_mm: the backlash that is right.
    measured: False where backlash is measured only once the worker asks for it.
    """
    random = np.random.default_rng(seed)
    pinion, ring = case.pinion_mm, case.ring_mm
    history: list[EarlierTry] = []
    setup: Setup | None = None  # the photos at hand
    good = is_right(case, pinion, ring, zone, judged_mm) and not runs_off(case, pinion, ring)
    so_far = Outcome(started_right=good)
    while True:
        state = true_state(case, pinion, ring)
        if setup is None:
            setup = read(state, random)
            if setup is None:
                return replace(so_far, end="no pattern on a flank")
            if not measured:
                setup = replace(setup, backlash_mm=())
            so_far = replace(so_far, readings=so_far.readings + 1)
        start = time.perf_counter()
        step = worker(setup, case.axle, history)
        seconds = time.perf_counter() - start
        if step.what == "check":  # every move was made as told, so the look finds nothing
            history[-1] = replace(history[-1], checked=True)
            so_far = replace(so_far, alarms=so_far.alarms + 1)
            step = worker(setup, case.axle, history)
        if so_far.readings > 1:  # the first advice also builds the gear set
            so_far = replace(so_far, seconds=max(so_far.seconds, seconds))
        right = is_right(case, pinion, ring, zone, judged_mm)
        stood: tuple[tuple[float, bool], ...] = ()
        if step.now is not None and setup.backlash_mm and not off_in_height(setup):
            stood = ((step.now, right),)
        so_far = replace(so_far, end=step.verdict, stands=so_far.stands + stood)
        if step.what == "measure" and len(setup.backlash_mm) < PLACES:
            measured, setup = True, replace(setup, backlash_mm=at_places(state, setup.backlash_mm, random))
            continue
        if step.what == "leave" and not off_in_height(setup) and _looks(history) < MOST_LOOKS:
            step = replace(step, what="read")  # "photograph it once more before you seal it", as he is told
        if (
            step.what not in ("move", "read")
            or (step.what == "move" and so_far.reshims == MOST_RESHIMS)
            or so_far.readings > 2 * MOST_RESHIMS
        ):
            accepted = step.what == "accept"
            said = () if step.chance is None or not accepted else ((step.chance, right),)
            return replace(
                so_far,
                accepted=accepted,
                right=right,
                beyond=beyond(state, case, zone, judged_mm) if accepted else (0.0, 0.0, 0.0),
                left=step.what == "leave",
                left_rightly=step.what == "leave"
                and right
                and (in_the_middle(state) or not runs_off(case, pinion, ring)),
                clearable=step.what == "leave" and clears_elsewhere(case, pinion, ring, zone, judged_mm),
                ran_off=accepted and runs_off(case, pinion, ring),
                cleared_first=accepted and so_far.readings == 1,
                acceptances=said,
            )
        if step.pinion_mm and not so_far.pinion_moves:
            wrong = step.pinion_mm * pinion > 0 and abs(pinion) > CLEARLY_OFF_MM
            so_far = replace(so_far, wrong_first=wrong)
        history.append(EarlierTry(setup, step.pinion_mm, step.ring_mm))
        pinion, ring, setup = pinion + step.pinion_mm, ring + step.ring_mm, None
        if step.what == "move":
            came_true = is_right(case, pinion, ring, zone, judged_mm) and is_clear(
                history[-1].setup, case, pinion, ring
            )
            said = () if step.chance is None else ((step.chance, came_true),)
            so_far = replace(
                so_far,
                reshims=so_far.reshims + 1,
                pinion_moves=so_far.pinion_moves + (step.pinion_mm != 0),
                forecasts=so_far.forecasts + said,
            )


def _looks(history: list[EarlierTry]) -> int:
    """Looks at the shims as they stand now, that at hand with them."""
    made = [k for k, one in enumerate(history) if moved(one)]
    return len(history) - (made[-1] + 1 if made else 0) + 1


def start_of(condition: Condition, zone: tuple[float, float], seed: int) -> tuple[MisSetUp, bool]:
    """The mis-set-up of this number, and whether its backlash is measured from the beginning."""
    random = np.random.default_rng(seed)
    case = draw(random, condition.hobbed)
    while condition.inside and not (
        is_right(case, case.pinion_mm, case.ring_mm, zone, condition.judged_mm)
        and not runs_off(case, case.pinion_mm, case.ring_mm)
    ):
        pinion, ring = random.uniform(-0.25, 0.25, size=2)
        case = replace(case, pinion_mm=float(pinion), ring_mm=float(ring))
    limits = Limits(backlash_mm=condition.limits_mm)
    axle = replace(case.axle, gears=condition.tell(case.gears), limits=limits)
    return replace(case, axle=axle), bool(random.uniform() >= condition.unmeasured)


def one_start(condition: Condition, zone_name: str, seed: int, technician: bool = False) -> Outcome:
    """One start worked off."""
    zone = ZONES[zone_name]
    case, measured = start_of(condition, zone, seed)
    worker = Technician(zone) if technician else Solver(target_as_wide_as(zone), condition.axle_file)
    return work_off(case, worker, zone, seed, condition.judged_mm, measured)


def target_as_wide_as(zone: tuple[float, float]) -> Target:
    """The target "centred" with the bar's zone around its aim."""
    wanted = Zone((0.5, 0.5), (0.5 - zone[0], 0.5 + zone[0]), (0.5 - zone[1], 0.5 + zone[1]))
    return Target("centred", "Centred on both flanks", "Set by the bar.", ("C1",), wanted, wanted)


def report(results: dict[tuple[str, str], list[Outcome]]) -> bool:
    """Print all figures; whether every bar is met."""
    met = True
    for (name, zone), outcomes in results.items():
        bar = None
        if name in CONDITIONS:
            bar = CONDITIONS[name].bars[list(ZONES).index(zone)]
        lines, good = figures(f"{name}, {zone} zone", outcomes, bar)
        print("\n".join(lines), flush=True)
        met &= good
    return met


def kept(files: Iterable[Path]) -> dict[tuple[str, str], list[Outcome]]:
    """The outcomes of earlier slices, by condition and zone; of a start kept twice the last."""
    found: dict[tuple[str, str], dict[int, Outcome]] = defaultdict(dict)
    for file in files:
        for line in file.read_text(encoding="utf-8").splitlines():
            entry = json.loads(line)
            for pairs in ("forecasts", "acceptances", "stands"):
                entry["outcome"][pairs] = tuple((c, t) for c, t in entry["outcome"][pairs])
            found[entry["condition"], entry["zone"]][entry["seed"]] = Outcome(**entry["outcome"])
    return {key: list(outcomes.values()) for key, outcomes in found.items()}


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=300, help="starts of each condition")
    parser.add_argument("--seed", type=int, default=1000, help="number of the first start")
    parser.add_argument("--only", nargs="+", choices=list(CONDITIONS), default=list(CONDITIONS))
    parser.add_argument("--zone", choices=list(ZONES), help="one zone only")
    parser.add_argument("--part", default="1/1", metavar="K/N", help="the K-th of N slices of the starts")
    parser.add_argument("--keep", type=Path, metavar="FILE", help="append every outcome to this file")
    parser.add_argument("--from", dest="files", type=Path, nargs="+", metavar="FILE", help="only add up")
    parser.add_argument("--technician", action="store_true", help="the technician beside the solver")
    chosen = parser.parse_args()
    if chosen.files:
        return 0 if report(kept(chosen.files)) else 1
    part, parts = map(int, chosen.part.split("/"))
    seeds = range(chosen.seed, chosen.seed + chosen.count)[part - 1 :: parts]
    zones = [chosen.zone] if chosen.zone else list(ZONES)
    met = True
    for name in chosen.only:
        results: dict[tuple[str, str], list[Outcome]] = defaultdict(list)
        with progress(name, len(seeds)) as step:
            for seed in seeds:
                for zone in zones:  # in turn: the gear set is built once
                    outcome = one_start(CONDITIONS[name], zone, seed)
                    results[name, zone].append(outcome)
                    if chosen.keep:
                        entry = {"condition": name, "zone": zone, "seed": seed, "outcome": asdict(outcome)}
                        with chosen.keep.open("a", encoding="utf-8") as file:
                            file.write(json.dumps(entry) + "\n")
                    if chosen.technician:
                        beside = one_start(CONDITIONS[name], zone, seed, technician=True)
                        results[f"technician, {name}", zone].append(beside)
                step()
        met &= report(results)
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
