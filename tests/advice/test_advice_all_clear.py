"""No false all-clear: what is off, unknown or unsure is never called right, whatever is told of the axle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from told_setup import setup_from

from calibration.set_ups import draw, read, true_state
from calibration.setup_loop import target_as_wide_as
from contactread.advice import Advice, EarlierTry, advise
from contactread.axle import Axle, GearSet, Limits
from contactread.patch import told_clear
from contactread.pattern.measures import Setup

SIGMA = (0.012, 0.02)
GOOD_MM = (0.20,) * 4
MILLED = Axle(GearSet(11, 41, 222.0, cutting="face_milled"), limits=Limits(backlash_mm=(0.15, 0.25)))
AXLES = {
    "none": None,
    "few numbers": MILLED,
    "no limits": replace(MILLED, limits=Limits()),
    "cutting unknown": replace(MILLED, gears=replace(MILLED.gears, cutting="unknown")),
    "can't be computed": replace(MILLED, gears=replace(MILLED.gears, offset_mm=100.0)),
    "used": replace(MILLED, gears=replace(MILLED.gears, condition="used")),
}
ALL = pytest.mark.parametrize("axle", AXLES.values(), ids=list(AXLES))
CENTRED = ((0.45, 0.5), (0.46, 0.5))


def told(setup: Setup, axle: Axle | None) -> Advice:
    """The answer after a second look that saw the same, so that no further look is a way out."""
    return advise(setup, axle, [EarlierTry(setup)])


def cut(setup: Setup, *edges: str) -> Setup:
    """The same set-up with the drive pattern running off these edges."""
    drive = setup.drive
    off = {edge for edge in ("toe", "heel", "top", "root") if edge in edges}
    return replace(setup, drive=replace(drive, clear=told_clear(drive.length, drive.height, off)))


@ALL
def test_what_is_right_and_sure_is_left_alone(axle: Axle | None) -> None:
    advice = advise(setup_from(*CENTRED, GOOD_MM, sigma=SIGMA), axle)
    assert advice.verdict == "acceptable" and not advice.moves
    assert advice.cannot_know or (axle is not None and axle.limits.backlash_mm)


@ALL
@pytest.mark.parametrize("edges", [("top",), ("root",), ("top", "root")])
def test_a_pattern_that_runs_off_root_or_top_is_not_accepted(
    axle: Axle | None, edges: tuple[str, ...]
) -> None:
    setup = cut(setup_from(*CENTRED, GOOD_MM, sigma=SIGMA), *edges)
    assert told(setup, axle).verdict not in ("acceptable", "read_again")
    assert advise(setup, axle).verdict != "acceptable"


@ALL
@pytest.mark.parametrize("backlash", [0.05, 0.11, 0.31, 0.48])
def test_backlash_outside_its_zone_is_not_accepted(axle: Axle | None, backlash: float) -> None:
    advice = told(setup_from(*CENTRED, (backlash,) * 4, sigma=SIGMA), axle)
    assert advice.verdict.startswith("move")
    wanted = "away" if backlash < 0.2 else "toward"
    assert any(move.member == "ring_gear" and move.direction == wanted for move in advice.moves)


@ALL
@pytest.mark.parametrize("centres", [CENTRED, ((0.45, 0.85), (0.46, 0.85)), ((0.2, 0.5), (0.2, 0.5))])
def test_backlash_is_measured_before_anything_else(
    axle: Axle | None, centres: tuple[tuple[float, float], tuple[float, float]]
) -> None:
    advice = advise(setup_from(*centres, sigma=SIGMA), axle)
    assert advice.verdict == "measure_first" and advice.reason and not advice.moves


@ALL
@pytest.mark.parametrize("height", [0.15, 0.85])
def test_patterns_clearly_high_or_low_are_not_accepted(axle: Axle | None, height: float) -> None:
    for advice in (advise, told):
        setup = setup_from((0.45, height), (0.46, height), GOOD_MM, sigma=SIGMA, size=(0.45, 0.2))
        verdict = advice(setup, axle).verdict
        if axle is not None and axle.gears.condition == "used":  # backlash hardly moves it there (A14)
            assert verdict == "no_better_place"
            continue
        assert verdict.startswith("move") or verdict == "not_a_shim_problem"


def test_a_second_look_is_asked_for_once_only() -> None:
    unsure = setup_from((0.53, 0.63), (0.55, 0.63), GOOD_MM, sigma=(0.03, 0.05))
    for axle in (None, MILLED):
        assert advise(unsure, axle).verdict == "read_again"
        assert told(unsure, axle).verdict != "read_again"


def test_mis_set_ups_without_an_axle_file_are_never_cleared() -> None:
    """A slice of `python -m calibration.setup_loop --only no-axle-file`."""
    target = target_as_wide_as((0.10, 0.15))
    for seed in range(40):
        random = np.random.default_rng(seed)
        case = draw(random)
        state = true_state(case, case.pinion_mm, case.ring_mm)
        setup = read(state, random)
        misses = state.misses(case.aim)
        if setup is None or misses is None:
            continue
        right = misses[0] <= 0.10 and misses[1] <= 0.15 and 0.1524 <= state.backlash_mm <= 0.254
        for seen in (setup, replace(setup, backlash_mm=())):
            assert right or advise(seen, None, target=target).verdict != "acceptable"


def test_what_earlier_tries_say_must_show_in_the_photos_at_hand() -> None:
    """The belief is sure by its history, this reading lies outside its zone: first a look, no all-clear."""
    good = setup_from((0.5, 0.5), (0.5, 0.5), GOOD_MM, sigma=(0.02, 0.04))
    edge = setup_from((0.5, 0.5), (0.57, 0.5), GOOD_MM, sigma=(0.02, 0.04))
    tight = target_as_wide_as((0.06, 0.09))
    tries = [EarlierTry(good), EarlierTry(good, 0.0, 0.001)] * 6
    first = advise(edge, MILLED, tries, tight)
    assert first.now is not None and first.now.chance > 0.9
    assert first.verdict == "read_again" and "Earlier tries" in first.reason
    second = advise(edge, MILLED, [*tries, EarlierTry(edge)], tight)
    assert second.verdict == "no_better_place" and "don't show it" in second.answer[1]


def test_used_gears_are_cleared_only_where_they_are_centred_in_height() -> None:
    """ "Centred in height" is part of the rule (A14), beside running off no edge."""
    axle = replace(MILLED, gears=replace(MILLED.gears, condition="used"))
    low = advise(setup_from((0.6, 0.5), (0.6, 0.22), GOOD_MM, sigma=SIGMA, size=(0.4, 0.2)), axle)
    assert low.headline == "Leave the shims as they are; that is no all-clear."
    assert "coast pattern reads low" in low.reason and "drive" not in low.reason
    assert advise(setup_from((0.6, 0.5), (0.6, 0.5), GOOD_MM, sigma=SIGMA), axle).verdict == "acceptable"


def test_an_all_clear_says_what_its_charts_show_outside() -> None:
    axle = replace(MILLED, gears=replace(MILLED.gears, condition="used"))
    just = advise(setup_from((0.6, 0.5), (0.6, 0.31), GOOD_MM, sigma=(0.03, 0.05), size=(0.4, 0.2)), axle)
    assert just.verdict == "acceptable"
    assert "The coast pattern reads low on the tooth, but by less than a reading can tell." in just.answer


@pytest.mark.parametrize("centre", [(0.3, 0.93), (0.95, 0.5), (0.5, 0.07)])
def test_used_gears_without_limits_are_never_told_how_far(centre: tuple[float, float]) -> None:
    """The way back onto the tooth may end at no backlash at all, where the teeth bind."""
    axle = replace(MILLED, gears=replace(MILLED.gears, condition="used"), limits=Limits())
    advice = advise(setup_from(centre, centre, GOOD_MM, sigma=SIGMA), axle)
    assert advice.moves and all(move.travel_mm is None for move in advice.moves)
    assert "gives no limits for backlash" in " ".join(advice.answer)
