"""Photos, looks and axle files that don't belong together are told, before a shim moves by them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_reading import made_reading, other_hand
from told_setup import setup_from

from calibration.set_ups import draw, read, true_state
from contactread.advice import Advice, EarlierTry, advise
from contactread.advice.looks import agreeing
from contactread.axle import FLANKS, Axle, Cutting, GearSet, Hand, Limits
from contactread.errors import AdviceError
from contactread.reading import pair

SIGMA = (0.012, 0.02)
GOOD_MM = (0.20,) * 4
CENTRED = ((0.45, 0.5), (0.46, 0.5))
MILLED = Axle(GearSet(11, 41, 222.0, cutting="face_milled"), limits=Limits(backlash_mm=(0.15, 0.25)))


def test_the_hand_of_the_gear_set_is_seen() -> None:
    for flank in FLANKS:
        reading = made_reading(flank=flank)
        assert reading.hand == "left" and other_hand(reading).hand == "right"


def test_photos_of_two_hands_are_no_pair() -> None:
    drive, coast = made_reading(flank="convex"), made_reading(flank="concave")
    assert pair(drive, coast).hand == "left"
    with pytest.raises(AdviceError, match="left-hand ring gear, the coast one a right-hand"):
        pair(drive, other_hand(coast))


@pytest.mark.parametrize("hand", ["left", "right"])
def test_an_axle_file_of_the_other_hand_is_refused(hand: Hand) -> None:
    setup = replace(setup_from(*CENTRED, GOOD_MM, sigma=SIGMA), hand=hand)
    other: Hand = "right" if hand == "left" else "left"
    assert advise(setup, replace(MILLED, gears=replace(MILLED.gears, hand=hand))).verdict == "acceptable"
    with pytest.raises(AdviceError) as refused:
        advise(setup, replace(MILLED, gears=replace(MILLED.gears, hand=other)))
    assert refused.value.code == "hand-not-axle"


def test_looks_at_the_same_shims_that_differ_are_looked_at_again() -> None:
    deep = setup_from((0.42, 0.2), (0.42, 0.2), GOOD_MM, sigma=SIGMA, size=(0.45, 0.3))
    good = setup_from(*CENTRED, GOOD_MM, sigma=SIGMA)
    for axle in (None, MILLED):
        told = advise(good, axle, [EarlierTry(deep)])
        assert told.verdict == "read_again" and "nobody wrote down" in told.reason
        assert advise(good, axle, [EarlierTry(deep), EarlierTry(good)]).verdict == "acceptable"
        # Nor does one look that goes with no other call for a third that does.
        assert advise(good, axle, [EarlierTry(good), EarlierTry(deep)]).verdict == "acceptable"
    # A move between them explains it.
    assert advise(good, MILLED, [EarlierTry(deep, pinion_mm=-0.3)]).verdict != "read_again"


def test_a_look_that_differed_before_the_last_move_counts_no_more() -> None:
    deep = EarlierTry(setup_from((0.42, 0.2), (0.42, 0.2), GOOD_MM, sigma=SIGMA, size=(0.45, 0.3)))
    moved = EarlierTry(setup_from((0.43, 0.36), (0.44, 0.36), GOOD_MM, sigma=SIGMA), pinion_mm=0.08)
    good = setup_from(*CENTRED, GOOD_MM, sigma=SIGMA)
    assert agreeing(good, [deep, moved]) == [moved]
    assert agreeing(good, [moved, deep]) == [moved]
    alike = EarlierTry(moved.setup)
    assert agreeing(good, [alike, moved]) == [alike, moved]


def test_used_gears_without_limits_are_no_all_clear() -> None:
    gears = replace(MILLED.gears, condition="used")
    setup = setup_from(*CENTRED, (0.4,) * 4, sigma=SIGMA)
    unlimited = advise(setup, Axle(gears))
    assert unlimited.verdict == "no_better_place" and "recorded" in unlimited.reason
    assert advise(setup, Axle(gears, limits=Limits((0.1, 0.5)))).verdict == "acceptable"


def test_backlash_that_wasn_t_read_after_a_move_is_read_first() -> None:
    low = setup_from((0.42, 0.2), (0.42, 0.2), GOOD_MM, sigma=SIGMA, size=(0.45, 0.3))
    unread = setup_from((0.47, 0.5), (0.47, 0.5), sigma=SIGMA)
    told = advise(unread, MILLED, [EarlierTry(low, 0.2, 0.0)])
    assert told.verdict == "measure_first" and not told.moves
    # Nor is a dial that nobody read said to show anything.
    other = advise(unread, MILLED, [EarlierTry(low, 0.1, 0.1)])
    assert "backlash-did-not-follow" not in [s.rule for s in other.diagnosis]


def of_set(cutting: Cutting, told: Cutting, seed: int) -> Advice:
    random = np.random.default_rng(1000 + seed)
    case = draw(random, hobbed=1.0 if cutting == "face_hobbed" else 0.0)
    setup = read(true_state(case, case.pinion_mm, case.ring_mm), random)
    assert setup is not None
    return advise(setup, replace(case.axle, gears=replace(case.axle.gears, cutting=told)))


@pytest.mark.parametrize(
    ("cutting", "told", "seed"), [("face_hobbed", "face_milled", 0), ("face_milled", "face_hobbed", 6)]
)
def test_the_other_way_of_cutting_is_named_where_it_explains_what_the_file_s_does_not(
    cutting: Cutting, told: Cutting, seed: int
) -> None:
    rule = "perhaps-" + ("hobbed" if told == "face_milled" else "milled")
    wrong = of_set(cutting, told, seed)
    assert wrong.verdict == "not_a_shim_problem" and rule in [s.rule for s in wrong.diagnosis]
    assert of_set(cutting, cutting, seed).moves


def test_crossed_patterns_are_no_shim_s_fault_though_cut_off_at_the_first_try() -> None:
    """As sample_images/birch_crossed shows them; cut-off patterns that gears explain get their move first."""
    gears = GearSet(
        12, 43, 205.0, face_width_mm=31.0, offset_mm=25.0, spiral_deg=32.0, pressure_angle_deg=20.0,
        cutter_radius_mm=76.0, cutter_groups=13, hand="left", cutting="face_hobbed",
    )  # fmt: skip
    axle = replace(MILLED, gears=gears)
    crossed = setup_from((0.45, 0.83), (0.23, 0.73), (0.2,), sigma=SIGMA, size=(0.5, 0.5))
    assert advise(crossed, axle).verdict == "not_a_shim_problem"
    case = draw(np.random.default_rng(7069))
    setup = read(true_state(case, case.pinion_mm, case.ring_mm), np.random.default_rng(7069))
    assert setup is not None and setup.drive.runs_off and setup.coast.runs_off
    assert advise(setup, replace(case.axle, gears=case.gears)).moves


def test_a_place_that_the_dial_shows_outside_is_no_all_clear() -> None:
    before = EarlierTry(setup_from(*CENTRED, (0.21, 0.22, 0.22, 0.21), sigma=SIGMA))
    told = advise(setup_from(*CENTRED, (0.222, 0.225, 0.254, 0.222), sigma=SIGMA), MILLED, [before])
    assert told.verdict == "no_better_place" and not told.moves
    assert "a place of the dial lies outside" in told.reason
    inside = advise(setup_from(*CENTRED, (0.222, 0.225, 0.249, 0.222), sigma=SIGMA), MILLED, [before])
    assert inside.verdict == "acceptable"
    first = advise(setup_from(*CENTRED, (0.222, 0.225, 0.2505, 0.222), sigma=SIGMA), MILLED)
    assert first.verdict == "read_again" and "read backlash once more" in first.reason
    one = advise(setup_from(*CENTRED, (0.251,), sigma=SIGMA), MILLED, [before])
    assert one.verdict == "measure_first"
