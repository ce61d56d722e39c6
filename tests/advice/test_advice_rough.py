"""Nothing, or little, is told of the gear set: amounts over classes of gear sets, with their doubt."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from told_setup import setup_from

from calibration.setup_conditions import CONDITIONS
from calibration.setup_loop import ZONES, Solver, start_of, target_as_wide_as, work_off
from contactread.advice import Advice, EarlierTry, advise
from contactread.advice.rough import ACCEPT_CHANCE, between, unknown_axle
from contactread.axle import Axle, GearSet, Limits
from contactread.belief import believe
from contactread.facts import facts
from contactread.gear_classes import FIRST_FACTS, drawn_set, supposed_set

SIGMA = (0.015, 0.02)
GOOD_MM = (0.20,) * 4
HIGH = setup_from((0.45, 0.70), (0.46, 0.72), (0.25, 0.25), sigma=SIGMA, size=(0.5, 0.4))


def of(**known: Any) -> Axle:
    return Axle(supposed_set(known))


def amount(advice: Advice) -> float:
    travel = advice.pinion_mm
    assert travel
    return abs(travel)


def test_the_first_amount_stands_with_its_doubt_and_asks_for_what_would_narrow_it() -> None:
    advice = advise(HIGH)
    pinion = advice.moves[0]
    assert pinion.member == "pinion" and pinion.direction == "toward"
    assert pinion.travel_mm is not None and pinion.between_mm is not None
    low, high = pinion.between_mm
    assert low <= pinion.travel_mm <= high <= 0 and high - low > 0.03
    assert advice.headline.startswith("Pinion about 0.") and "TOWARD" in advice.headline
    said = " ".join(advice.answer)
    assert "It may want 0." in said and "rough guess" in said and "To know better: " in said
    assert "Chance all is right then: " in said
    assert any("the best one is 0." in s.text and "four chances in five" in s.text for s in pinion.how)
    assert {"shim-behind-head", "shim-under-cage"} <= {s.rule for s in pinion.how}
    assert advice.to_json()["moves"][0]["between"][0]["mm"] == pytest.approx(low, abs=1e-4)


def test_three_numbers_are_no_rough_guess() -> None:
    advice = advise(HIGH, of(pinion_teeth=11, ring_teeth=41, ring_diameter_mm=222.0))
    assert advice.moves[0].between_mm is None and "rough guess" not in " ".join(advice.answer)


def test_one_number_narrows_the_guess() -> None:
    """A larger set of the same proportions needs the larger move for the same patterns."""
    small, large = (advise(HIGH, of(ring_diameter_mm=mm)) for mm in (155.0, 290.0))
    assert amount(large) > 1.15 * amount(small)
    assert all(move.between_mm is not None for move in (*small.moves, *large.moves))
    drawn = believe(of(ring_diameter_mm=155.0), HIGH).drawn.draws.open_numbers()
    assert np.ptp(drawn["ring_diameter_mm"]) == 0 < np.ptp(drawn["ratio"])
    drawn = believe(of(pinion_teeth=9, ring_teeth=41), HIGH).drawn.draws.open_numbers()
    assert np.ptp(drawn["ratio"]) == 0 < np.ptp(drawn["ring_diameter_mm"])


def test_an_observed_move_is_learnt_from() -> None:
    """What 0.10 mm of pinion did to the patterns says how these gears answer, as with three numbers."""
    first = setup_from((0.45, 0.80), (0.46, 0.80), GOOD_MM, sigma=SIGMA, size=(0.5, 0.35))

    def answer(height: float) -> float:
        seen = setup_from((0.45, height), (0.46, height), GOOD_MM, sigma=SIGMA, size=(0.5, 0.35))
        posterior = believe(unknown_axle(), seen, [EarlierTry(first, -0.10, 0.0)]).posterior
        return float(posterior.weight @ posterior.candidates.jacobian[:, [1, 3], 0].mean(axis=1))

    assert answer(0.74) < 0.9 * answer(0.68)


def test_how_far_an_amount_may_be_off_counts_what_moves_taught() -> None:
    """Gears found to answer twice as much as the candidate want half the travel."""
    jacobian = np.array([[[1.0, 0.0], [2.0, 0.0], [-1.0, 0.0], [2.0, 0.0], [0.2, 0.6]]])
    zones: Any = SimpleNamespace(low=np.full(5, 0.4), high=np.full(5, 0.6))

    def reach(learned: np.ndarray[Any, Any]) -> float:
        posterior = SimpleNamespace(
            candidates=SimpleNamespace(jacobian=jacobian), learned=learned, weight=np.ones(1),
            now=(np.array([[0.5, 0.7, 0.5, 0.7, 0.5]]), 1e-4 * np.eye(5)[None]),
        )  # fmt: skip
        belief: Any = SimpleNamespace(posterior=posterior)
        (low, high), ring = between(belief, zones, (-0.01, 0.0))
        assert low < high <= 0 and ring == (0.0, 0.0)
        return low

    assert reach(jacobian) == pytest.approx(reach(0 * jacobian) / 2, rel=0.1)


def test_an_all_clear_needs_the_reading_itself_to_be_sure() -> None:
    """However sure the belief is: never more than the reading at these shims shows."""
    target = target_as_wide_as(ZONES["tight"])
    centre = setup_from((0.5, 0.5), (0.5, 0.55), GOOD_MM, sigma=(0.02, 0.04), size=(0.5, 0.4))
    known = Axle(GearSet(11, 41, 222.0), limits=Limits(backlash_mm=(0.15, 0.25)))
    history = [EarlierTry(centre), EarlierTry(centre, 0.0, 0.001)] * 3
    assert advise(centre, known, [*history, EarlierTry(centre)], target).verdict == "acceptable"
    first = advise(centre, None, history, target)
    assert first.verdict == "read_again" and "gears' own numbers" in first.reason
    second = advise(centre, None, [*history, EarlierTry(centre)], target)
    assert second.verdict == "no_better_place" and "no all-clear" in second.headline
    sure = setup_from((0.5, 0.5), (0.5, 0.5), (0.2,) * 4, sigma=SIGMA, size=(0.5, 0.4))
    assert advise(sure, None, [EarlierTry(sure)], target).verdict == "acceptable" and ACCEPT_CHANCE >= 0.97


def test_where_no_gear_set_fits_the_chart_tells_the_direction_alone() -> None:
    """A10: bearing at both toes: ring gear away. No set of the classes shows it at this backlash."""
    advice = advise(setup_from((0.2, 0.5), (0.2, 0.5), GOOD_MM, sigma=SIGMA, size=(0.35, 0.45)))
    assert [(m.member, m.direction, m.travel_mm) for m in advice.moves] == [("ring_gear", "away", None)]
    assert "No amount" in advice.answer[-1]


def test_an_axle_file_that_cannot_be_computed_is_told_and_guessed_over_classes() -> None:
    axle = Axle(GearSet(10, 41, 250.0, offset_mm=100.0), limits=Limits(backlash_mm=(0.15, 0.25)))
    advice = advise(HIGH, axle)
    assert advice.moves[0].direction == "toward" and advice.moves[0].between_mm is not None
    assert "can't be computed" in " ".join(advice.answer)
    assert any("offset" in s.text and "left out" in s.text for s in advice.diagnosis)


@pytest.mark.parametrize("height, way", [(0.15, 1), (0.85, -1)])
def test_short_patches_never_turn_the_answer_of_the_gears_round(height: float, way: int) -> None:
    """A patch shorter than any drawn: the way a pinion move takes it is the same for all gears."""
    setup = setup_from((0.45, height), (0.46, height), GOOD_MM, sigma=SIGMA, size=(0.45, 0.2))
    for axle in (unknown_axle(), Axle(GearSet(11, 41, 222.0))):
        assert (believe(axle, setup).posterior.candidates.jacobian[:, [1, 3], 0] > 0).all()
    pinion = advise(setup, None, [EarlierTry(setup)]).moves[0]
    assert pinion.member == "pinion" and pinion.direction == ("away" if way > 0 else "toward")


def test_a_slice_of_the_set_up_loop() -> None:
    """Of it all: `python -m calibration.setup_loop --only no-axle-file`."""
    condition, zone = CONDITIONS["no-axle-file"], ZONES["wide"]
    outcomes = []
    for seed in range(8300, 8312):
        case, measured = start_of(condition, zone, seed)
        worker = Solver(target_as_wide_as(zone), axle_file=False)
        outcomes.append(work_off(case, worker, zone, seed, condition.judged_mm, measured))
    assert not any(o.accepted and not o.right for o in outcomes)
    assert np.median([o.reshims for o in outcomes]) <= 1 and max(o.reshims for o in outcomes) <= 3


def test_a_start_inside_is_not_moved_by_noise() -> None:
    condition, zone = replace(CONDITIONS["no-axle-file"], inside=True), ZONES["wide"]
    moved = 0
    for seed in range(8300, 8308):
        case, measured = start_of(condition, zone, seed)
        worker = Solver(target_as_wide_as(zone), axle_file=False)
        moved += work_off(case, worker, zone, seed, condition.judged_mm, measured).reshims > 0
    assert moved <= 2


def test_classes_name_their_sources_and_hold_what_is_known() -> None:
    for name, entry in facts("gear_classes").items():
        assert entry["sources"] and "odds" in entry["invented"], name
        assert all(source in facts("sources") for source in entry["sources"]), name
        assert all(low < high for low, high in (entry[key] for key in ("ring_diameter_mm", "ratio")))
    random = np.random.default_rng(0)
    for known in ({}, {"ring_teeth": 41}, {"pinion_teeth": 9}, {"ring_diameter_mm": 420.0}):
        gears = supposed_set(known)
        assert set(gears.supposed) == set(FIRST_FACTS) - set(known)
        for _ in range(50):
            drawn = drawn_set(gears, random)
            assert all(getattr(drawn, name) == value for name, value in known.items())
            assert 2.3 < drawn.ring_teeth / drawn.pinion_teeth < 5.6 and not drawn.supposed
    assert np.std([drawn_set(supposed_set({}), random).ring_diameter_mm for _ in range(200)]) > 25
