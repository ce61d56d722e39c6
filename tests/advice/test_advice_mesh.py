# mypy: disable-error-code="union-attr, operator, arg-type"
# Where a test meets None in place of a value, it fails; that needs no line of its own.
"""Advice with amounts, on simulated gear sets that the solver isn't told about (calibration/set_ups.py)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from calibration.set_ups import NOMINAL_BACKLASH_MM, STEP_MM, MisSetUp, TrueState, draw, read, true_state
from calibration.setup_loop import ZONES, Solver, work_off
from contactread.advice import Advice, EarlierTry, advise
from contactread.axle import Carrier
from contactread.belief import believe
from contactread.belief.draws import draws_of
from contactread.belief.targets import target_for
from contactread.pattern.measures import Setup

FAR = 0.2  # mm of depth error, seen beyond doubt


@pytest.fixture(scope="module")
def case() -> MisSetUp:
    return replace(draw(np.random.default_rng(22)), pinion_mm=FAR, ring_mm=-0.05)


def reading(case: MisSetUp, pinion: float, ring: float, seed: int = 0) -> Setup:
    setup = read(true_state(case, pinion, ring), np.random.default_rng(seed))
    assert setup is not None
    return setup


def first(case: MisSetUp) -> tuple[Setup, Advice]:
    setup = reading(case, case.pinion_mm, case.ring_mm)
    return setup, advise(setup, case.axle)


def test_the_move_goes_the_right_way_on_the_shims_grid(case: MisSetUp) -> None:
    _, advice = first(case)
    assert advice.verdict in ("move_pinion", "move_both")
    assert advice.pinion_mm < -0.08
    for travel in (advice.pinion_mm, advice.ring_mm):
        assert abs(travel / STEP_MM - round(travel / STEP_MM)) < 1e-6
    assert advice.moves[0].shims[0].new_mm == pytest.approx(1.5 - advice.pinion_mm)


def test_what_is_expected_comes_true_within_its_own_doubt(case: MisSetUp) -> None:
    """Over many readings of one set-up the foreseen centres miss by about what their sigma says."""
    scores = []
    for seed in range(12):
        setup = reading(case, case.pinion_mm, case.ring_mm, seed)
        advice = advise(setup, case.axle)
        truth = true_state(case, case.pinion_mm + advice.pinion_mm, case.ring_mm + advice.ring_mm)
        expected = advice.moves[-1].expected
        for centre, sigma, patch in (
            (expected.drive, expected.drive_sigma, truth.prediction.convex),
            (expected.coast, expected.coast_sigma, truth.prediction.concave),
        ):
            scores += [(c - t) / s for c, s, t in zip(centre, sigma, patch.centre, strict=True)]
        scores.append((expected.backlash_mm - truth.backlash_mm) / expected.backlash_sigma_mm)
    assert np.sqrt(np.mean(np.square(scores))) < 2.0


@pytest.mark.parametrize("seed", range(4))
def test_the_moves_bring_the_axle_right(case: MisSetUp, seed: Any) -> None:
    outcome = work_off(case, Solver(target_for(case.axle)), ZONES["wide"], seed)
    assert outcome.right and (outcome.accepted or outcome.left_rightly)
    assert outcome.reshims <= 2
    assert not outcome.wrong_first


@pytest.mark.parametrize("offset_mm, angle_deg", [(-0.3, 0.0), (0.0, -0.28)])
def test_a_housing_that_is_off_is_named_with_its_error(
    case: MisSetUp, offset_mm: Any, angle_deg: Any
) -> None:
    prediction = case.model.predict(0.05, 0.0, offset_mm, np.radians(angle_deg))
    state = TrueState(prediction, NOMINAL_BACKLASH_MM + prediction.backlash_change_mm)
    setup = read(state, np.random.default_rng(1))
    assert setup is not None
    known = replace(
        case.axle, gears=case.gears
    )  # of half guessed gears some explain it without a bent housing
    advice = advise(setup, known)
    assert advice.verdict == "not_a_shim_problem"
    (misfit,) = [s for s in advice.diagnosis if s.rule == "no-move-fits"]
    assert "offset error" in misfit.text and "shaft angle" in misfit.text
    (offset, offset_sigma), (angle, angle_sigma) = believe(case.axle, setup).housing()
    assert abs(offset - offset_mm) < 2.5 * offset_sigma
    assert abs(angle - angle_deg) < 2.5 * angle_sigma


def test_an_observed_move_narrows_what_is_believed(case: MisSetUp) -> None:
    """The doubt about a further move is smaller once the answer to a like move was seen."""
    before = reading(case, 0.2, 0.0)
    after = reading(case, 0.0, 0.0, 1)
    first_only = believe(case.axle, before).forecast(-0.2, 0.0).after
    learned = believe(case.axle, after, [EarlierTry(before, -0.2)]).forecast(0.2, 0.0).after
    assert learned.sigma["convex"][1] < first_only.sigma["convex"][1]


@pytest.mark.parametrize(
    "start, told, really, rule",
    [
        (0.2, -0.2, 0.0, "did-not-move"),
        (0.05, -0.12, 0.12, "moved-wrong-way"),
        (-0.25, -0.25, 0.25, "moved-wrong-way"),  # so far that both explain it beyond all odds
    ],
    ids=["shim-left-out", "thicker-for-thinner", "far"],
)
def test_mixups_in_the_depth_move_are_named(
    case: MisSetUp, start: Any, told: Any, really: Any, rule: str
) -> None:
    setup = reading(case, start, 0.0)
    after = reading(case, start + really, 0.0, 5)
    advice = advise(after, case.axle, [EarlierTry(setup, told, 0.0)])
    assert advice.verdict == "check_last_move"
    assert rule in [s.rule for s in advice.diagnosis]
    assert advice.inspections


def test_backlash_that_did_not_follow_is_named(case: MisSetUp) -> None:
    setup = reading(case, 0.0, 0.1)
    after = reading(case, 0.0, 0.1, 5)
    advice = advise(after, case.axle, [EarlierTry(setup, 0.0, -0.15)])
    assert advice.verdict == "check_last_move"
    assert "backlash-did-not-follow" in [s.rule for s in advice.diagnosis]


def test_exchanged_photos_are_named() -> None:
    """A set whose two flanks answer with clearly different places along the length."""
    case = draw(np.random.default_rng(22))
    setup = reading(case, 0.25, 0.25)
    good = reading(case, 0.2, 0.15, 2)
    swapped = replace(
        good,
        drive=replace(good.coast, flank="convex", role="drive"),
        coast=replace(good.drive, flank="concave", role="coast"),
    )
    if abs(good.drive.centre[0] - good.coast.centre[0]) < 0.1:
        pytest.skip("this gear set shows both patches in one place")
    advice = advise(swapped, case.axle, [EarlierTry(setup, -0.05, -0.1)])
    assert "photos-swapped" in [s.rule for s in advice.diagnosis]


def test_an_honest_move_is_not_called_a_mixup(case: MisSetUp) -> None:
    setup, advice = first(case)
    for seed in range(10):
        after = reading(case, case.pinion_mm + advice.pinion_mm, case.ring_mm + advice.ring_mm, seed)
        again = advise(after, case.axle, [EarlierTry(setup, advice.pinion_mm, advice.ring_mm)])
        assert again.verdict != "check_last_move"


def test_adjusters_move_in_half_notches(case: MisSetUp) -> None:
    axle = replace(case.axle, carrier=Carrier("adjusters", notch_mm=0.08))
    setup = reading(case, 0.0, 0.25)
    advice = advise(setup, axle)
    assert advice.ring_mm < 0
    assert advice.ring_mm / 0.04 == pytest.approx(round(advice.ring_mm / 0.04))
    assert advice.moves[-1].shims[0].notches == pytest.approx(advice.ring_mm / 0.08)


def test_given_relief_narrows_the_answer(case: MisSetUp) -> None:
    """[ease_off] in the axle file: the draws then differ less."""
    gears = case.axle.gears
    loose = draws_of(gears).jacobian[:, 1, 0]
    tight = draws_of(gears, case.model.ease_off).jacobian[:, 1, 0]
    assert tight.std() / abs(tight.mean()) < loose.std() / abs(loose.mean())


def test_unknown_cutting_leaves_the_lengthwise_answer_open() -> None:
    """A22: face-milled and face-hobbed sets answer with opposite signs; both are among the candidates."""
    case = draw(np.random.default_rng(22))
    axle = replace(case.axle, gears=replace(case.axle.gears, cutting="unknown"))
    advice = advise(reading(case, FAR, 0.0), axle)
    computed = [s.text for s in advice.alternatives if "mesh" in s.sources]
    assert computed
    assert advice.pinion_mm < 0


def test_no_gear_set_is_drawn_again_once_it_is_known(case: MisSetUp, monkeypatch: pytest.MonkeyPatch) -> None:
    """To draw them takes most of a first advice; how long each takes: calibration.intake_speed."""
    setup, advice = first(case)
    history = [EarlierTry(setup, advice.pinion_mm, advice.ring_mm)] * 2
    told = advise(setup, case.axle, history)  # two moves that changed nothing: more sets are drawn

    def drawn_again(*_: Any) -> None:
        raise AssertionError("gear sets were drawn again")

    monkeypatch.setattr("contactread.belief.draws._rows", drawn_again)
    assert advise(setup, case.axle, history) == told
    with pytest.raises(AssertionError, match="drawn again"):
        advise(setup, replace(case.axle, gears=replace(case.axle.gears, face_width_mm=30.7)))


def test_reverse_rotation_changes_roles_and_not_the_moves(case: MisSetUp) -> None:
    """The flanks answer alike whichever way the axle turns; "centred" wants the same place of both."""
    setup = reading(case, FAR, 0.0)
    normal = advise(setup, case.axle)
    reverse = advise(setup, replace(case.axle, rotation="reverse"))
    assert (normal.pinion_mm, normal.ring_mm) == (reverse.pinion_mm, reverse.ring_mm)
    assert normal.now.drive == pytest.approx(reverse.now.coast)
