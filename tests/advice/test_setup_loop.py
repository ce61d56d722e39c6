"""The benchmark of the set-up loop counts what it says it counts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.set_ups import MisSetUp, draw, true_state
from calibration.setup_conditions import CONDITIONS, Bar
from calibration.setup_figures import Outcome, figures
from calibration.setup_loop import ZONES, start_of, work_off
from calibration.setup_truth import in_the_middle, is_right, runs_off
from calibration.technician import Step
from contactread.advice import EarlierTry
from contactread.axle import Axle
from contactread.pattern.measures import Setup

JUDGED = (0.15, 0.25)


def worker_of(*steps: Step):  # type: ignore[no-untyped-def]
    """A worker that does these steps in turn."""
    left = list(steps)

    def work(setup: Setup, axle: Axle, history: list[EarlierTry]) -> Step:
        return left.pop(0)

    return work


def case() -> MisSetUp:
    return replace(draw(np.random.default_rng(22)), pinion_mm=0.1, ring_mm=0.0)


def test_a_right_move_then_accepting_is_one_reshim_and_its_chance_comes_true() -> None:
    steps = Step("move", -0.1, 0.0, 0.9, "move_pinion"), Step("accept", chance=0.95, verdict="acceptable")
    outcome = work_off(case(), worker_of(*steps), ZONES["tight"], 1)
    assert (outcome.reshims, outcome.pinion_moves, outcome.accepted, outcome.right) == (1, 1, True, True)
    assert outcome.forecasts == ((0.9, True),) and outcome.acceptances == ((0.95, True),)
    assert not outcome.wrong_first


def test_accepting_a_deep_mesh_at_once_is_a_false_all_clear() -> None:
    deep = replace(case(), pinion_mm=-0.25)
    outcome = work_off(deep, worker_of(Step("accept")), ZONES["tight"], 1)
    assert outcome.cleared_first and not outcome.right and not outcome.started_right
    lines, met = figures("case", [outcome], Bar(accepted_outside=0.01))
    assert not met and any("all-clear" in line and line.endswith(" 1") for line in lines)


def test_a_move_of_what_was_right_counts_as_needless() -> None:
    right = replace(case(), pinion_mm=0.0)
    steps = Step("move", 0.025, 0.0, 0.9), Step("accept")
    outcome = work_off(right, worker_of(*steps), ZONES["wide"], 1)
    lines, met = figures("case", [outcome], Bar(moved_inside=0.15))
    assert outcome.started_right and not met
    assert any("needless pinion moves" in line and "1 of 1" in line for line in lines)


def test_measuring_is_no_reshim_and_ends_the_lack_of_a_backlash() -> None:
    seen: list[int] = []

    def work(setup: Setup, axle: Axle, history: list[EarlierTry]) -> Step:
        seen.append(len(setup.backlash_mm))
        return Step("measure") if not setup.backlash_mm else Step("accept")

    outcome = work_off(case(), work, ZONES["wide"], 1, measured=False)
    assert seen == [0, 4] and outcome.reshims == 0 and outcome.readings == 1


def test_what_is_left_is_photographed_once_more_and_may_lie_anywhere_in_its_zone() -> None:
    """As the answer says; the middle of the height is asked only of what runs off root or top."""
    seen: list[int] = []

    def work(setup: Setup, axle: Axle, history: list[EarlierTry]) -> Step:
        seen.append(len(history))
        return Step("read" if not history else "leave")

    right = replace(draw(np.random.default_rng(36)), pinion_mm=0.14, ring_mm=0.0)
    state = true_state(right, right.pinion_mm, right.ring_mm)
    assert not in_the_middle(state) and not runs_off(right, right.pinion_mm, right.ring_mm)
    outcome = work_off(right, work, ZONES["wide"], 1)
    assert seen == [0, 1, 2] and outcome.readings == 3
    assert outcome.left and outcome.left_rightly


def test_each_condition_tells_what_it_says() -> None:
    told = {name: start_of(condition, ZONES["wide"], 1000)[0] for name, condition in CONDITIONS.items()}
    assert told["three-numbers"].axle.gears.offset_mm is None
    assert told["three-numbers"].axle.gears.cutting == "unknown"
    assert told["known"].axle.gears == told["known"].gears
    assert told["no-limits"].axle.limits.backlash_mm is None
    milled = told["told-milled"]
    assert (milled.gears.cutting, milled.axle.gears.cutting) == ("face_hobbed", "face_milled")
    inside = told["inside"]
    assert is_right(inside, inside.pinion_mm, inside.ring_mm, ZONES["wide"], JUDGED)


def test_a_chance_that_does_not_come_true_is_called_so() -> None:
    outcomes = [Outcome(1, True, True, forecasts=((0.9, n % 2 == 0),)) for n in range(100)]
    lines, _ = figures("case", outcomes)
    assert sum("beyond doubt MISSED" in line for line in lines) >= 4
