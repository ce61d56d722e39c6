"""An axle file that tells other gears than those in the axle is suspected, by what the gears answer."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from told_setup import setup_from

from calibration.set_ups import MisSetUp, draw
from calibration.setup_conditions import CONDITIONS
from calibration.setup_loop import ZONES, by_advice, one_start, target_as_wide_as, work_off
from calibration.technician import Step
from contactread.advice import Advice, EarlierTry, advise, misfit, mixups
from contactread.advice.looks import agreeing, differ
from contactread.axle import Axle, EaseOff, GearSet
from contactread.belief.believe import _observe
from contactread.belief.linear import Observation
from contactread.belief.targets import target_for
from contactread.pattern.measures import Setup

ZONE = ZONES["tight"]
SIGMA = (0.012, 0.02)


def answers(case: MisSetUp, gears: GearSet, seed: int) -> list[Advice]:
    """All advice on a simulated axle whose file tells of these gears."""
    told: list[Advice] = []

    def worker(setup: Setup, axle: Axle, history: list[EarlierTry]) -> Step:
        told.append(advise(setup, replace(axle, gears=gears), history, target_as_wide_as(ZONE)))
        return by_advice(told[-1])

    work_off(case, worker, ZONE, seed)
    return told


def rules(advice: Advice) -> list[str]:
    return [statement.rule for statement in advice.diagnosis]


def test_another_offset_than_the_file_s_is_named_where_no_move_fits() -> None:
    case = draw(np.random.default_rng(3002))
    assert case.gears.offset_mm
    wrong = answers(case, replace(case.gears, offset_mm=0.0), 3002)[-1]
    assert wrong.verdict == "not_a_shim_problem" and "perhaps-other-offset" in rules(wrong)
    assert "Measure the offset" in " ".join(s.text for s in wrong.diagnosis)
    right = answers(case, case.gears, 3002)
    assert right[0].moves and not any("perhaps-other-offset" in rules(advice) for advice in right)


def test_gears_that_answer_unlike_the_axle_file_get_no_all_clear() -> None:
    random = np.random.default_rng(3032)
    case, other = draw(random), draw(random)
    while other.gears.hand != case.gears.hand:
        other = draw(random)
    *_, last = answers(case, other.gears, 3032)
    assert last.verdict == "no_better_place" and "perhaps-other-axle" in rules(last)
    assert "of another axle" in last.reason and last.chance is not None and last.chance > 0.9
    assert not any("perhaps-other-axle" in rules(advice) for advice in answers(case, case.gears, 3032))


def test_after_three_moves_in_vain_a_worn_set_told_new_is_suspected() -> None:
    case = draw(np.random.default_rng(3023))
    relief = case.model.ease_off
    flat = EaseOff(0.3 * relief.lengthwise_mm, 0.3 * relief.profile_mm, 0.0)
    worn = replace(case, model=case.model.with_ease_off(flat, case.model.film_mm))
    told = answers(worn, case.gears, 3023)
    assert sum(bool(advice.moves) for advice in told) == 3
    assert told[-1].verdict == "not_a_shim_problem" and "moves-in-vain" in rules(told[-1])
    assert "3 moves didn't set it right" in told[-1].reason
    assert any("used" in thing for thing in told[-1].inspections)


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ((0.20,) * 4, (0.23,) * 4, True),  # four places each: 0.03 mm is no dial's doing
        ((0.20,) * 4, (0.21,) * 4, False),
        ((0.20,), (0.26,), False),  # perhaps two places of a gear that runs out
        ((0.20,), (0.32,), True),
        ((), (0.32,), False),
    ],
)
def test_looks_whose_backlash_differs_are_not_of_the_same_shims(
    one: tuple[float, ...], other: tuple[float, ...], apart: bool
) -> None:
    first, second = (setup_from((0.45, 0.5), (0.46, 0.5), dial, sigma=SIGMA) for dial in (one, other))
    assert differ(first, second) is apart
    assert agreeing(second, [EarlierTry(first)]) == ([] if apart else [EarlierTry(first)])


def test_one_place_of_a_gear_that_runs_out_says_less() -> None:
    one = setup_from((0.5, 0.5), (0.5, 0.5), (0.2,))
    sigmas = [_observe(one, np.full((1, 4), 0.5), (0.0, 0.0), swing).sigma[4] for swing in (0.0, 0.01, 0.05)]
    assert sigmas[0] == sigmas[1] == pytest.approx(0.01) and sigmas[2] == pytest.approx(0.036, abs=0.001)


@pytest.mark.parametrize("seed", [5228, 5282])
def test_far_off_gears_of_which_little_is_known_get_a_move_that_helps(seed: int) -> None:
    """Of 40 drawn sets none explained these readings: the advice was a ring-gear step of no use, or that no
    shim helps. Both axles are set right by shims alone.
    """
    outcome = one_start(CONDITIONS["three-numbers"], "wide", seed)
    assert outcome.accepted and outcome.right and outcome.reshims <= 2


@pytest.mark.parametrize(("bent", "better"), [(0.4, 7.0), (0.6, -np.inf)])
def test_another_gear_set_that_needs_a_bent_housing_explains_nothing_better(
    bent: float, better: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    def belief(evidence: float) -> Any:
        return SimpleNamespace(bent_chance=bent, posterior=SimpleNamespace(log_evidence=evidence))

    monkeypatch.setattr(misfit, "believe", lambda *_, **__: belief(5.0))
    tries = [EarlierTry(setup_from((0.5, 0.5), (0.5, 0.5)))]
    axle = Axle(GearSet(11, 41, 220.0))
    assert misfit._better_by(belief(-2.0), axle, tries, target_for(None)) == better


def test_exchanged_photos_take_their_doubt_along() -> None:
    seen = Observation(np.array([[0.1, 0.2, 0.3, 0.4, 0.5]]), np.array([1.0, 2, 3, 4, 5]), (0.0, 0.0))
    other = mixups._swapped(seen)
    assert other.measures.tolist() == [[0.3, 0.4, 0.1, 0.2, 0.5]] and other.sigma.tolist() == [3, 4, 1, 2, 5]
