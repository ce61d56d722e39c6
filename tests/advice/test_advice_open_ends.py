"""What advice says where backlash, or its limits, are not known."""

from __future__ import annotations

from told_setup import setup_from

from contactread.advice.advise import advise
from contactread.axle import Axle, Carrier, GearSet, Limits, PinionShim

SIGMA = (0.012, 0.02)
GEARS = GearSet(11, 41, 222.0, cutting="face_milled")
LIMITED = Axle(GEARS, pinion_shim=PinionShim(place="behind_head"), limits=Limits(backlash_mm=(0.13, 0.23)))
UNLIMITED = Axle(GEARS, pinion_shim=PinionShim(place="behind_head"), carrier=Carrier())


def test_right_patterns_without_a_backlash_ask_for_it_and_move_nothing() -> None:
    advice = advise(setup_from((0.45, 0.5), (0.47, 0.5), sigma=SIGMA), LIMITED)
    assert advice.verdict == "measure_first" and not advice.moves
    assert "backlash" in advice.headline


def test_right_patterns_with_backlash_in_its_limits_are_accepted() -> None:
    advice = advise(setup_from((0.45, 0.5), (0.47, 0.5), (0.18,) * 4, sigma=SIGMA), LIMITED)
    assert advice.verdict == "acceptable"


def test_moves_without_limits_say_where_to_stop() -> None:
    advice = advise(setup_from((0.62, 0.74), (0.42, 0.72), (0.18,) * 4, sigma=SIGMA), UNLIMITED)
    told = " ".join(statement.text for statement in advice.moves[-1].how)
    assert "No limits for backlash" in told and "all is right" not in told


def test_a_move_that_no_rule_of_the_chart_asks_for_says_why() -> None:
    low = setup_from((0.42, 0.31), (0.5, 0.31), (0.18,) * 4, sigma=SIGMA, size=(0.5, 0.8))
    advice = advise(low, LIMITED)
    assert advice.verdict.startswith("move")
    chart = {"one-low", "both-low"} & {statement.rule for statement in advice.diagnosis}
    assert chart or any("in height is at about" in statement.text for statement in advice.diagnosis)


def test_without_limits_a_plan_does_not_take_backlash_away() -> None:
    low = setup_from((0.3, 0.25), (0.3, 0.25), (0.19,) * 4, sigma=SIGMA)
    for axle in (UNLIMITED, LIMITED):
        advice = advise(low, axle)
        expected = advice.moves[-1].expected if advice.moves else None
        backlash = expected.backlash_mm if expected else 0.19
        assert backlash is None or backlash > 0.12
