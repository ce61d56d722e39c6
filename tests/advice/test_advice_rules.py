"""Advice by the chart: what each finding leads to, and that every sentence can name its source."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from told_setup import setup_from

from contactread.advice import Advice, advise
from contactread.advice.answer import Statement
from contactread.advice.first_move import used_direction
from contactread.axle import Axle, Carrier, GearSet, Limits, PinionShim
from contactread.errors import AdviceError
from contactread.facts import facts
from contactread.patch import Point
from contactread.pattern.measures import Setup

AXLE = Axle(
    GearSet(11, 41, 220.0, cutting="face_milled"),
    pinion_shim=PinionShim("behind_head", 1.20),
    carrier=Carrier(ring_side_mm=6.2, opposite_side_mm=7.0),
    limits=Limits(backlash_mm=(0.15, 0.25), backlash_spread_mm=0.05),
)
GOOD = (0.2, 0.2, 0.21, 0.19)
READING = (0.02, 0.04)


def statements(advice: Advice) -> list[Statement]:
    moves = [s for m in advice.moves for s in m.how]
    return [*advice.diagnosis, *moves, *advice.alternatives, *advice.next_steps]


@pytest.mark.parametrize(
    "drive, coast",
    [
        ((0.44, 0.5), (0.46, 0.5)),
        ((0.44, 0.9), (0.46, 0.9)),
        ((0.8, 0.5), (0.8, 0.5)),
        ((0.44, 0.9), (0.46, 0.1)),
    ],
)
def test_every_statement_names_a_rule_and_its_sources(
    drive: tuple[float, float], coast: tuple[float, float]
) -> None:
    advice = advise(setup_from(drive, coast, GOOD), AXLE)
    assert statements(advice)
    for statement in statements(advice):
        assert statement.text.endswith("."), statement
        assert statement.rule in facts("rules")
        assert statement.sources
        assert all(s == "mesh" or s in facts("sources") for s in statement.sources), statement
    assert json.loads(json.dumps(advice.to_json()))["verdict"] == advice.verdict
    assert advice.cautions


def test_patterns_in_the_zone_are_acceptable() -> None:
    advice = advise(setup_from((0.44, 0.5), (0.46, 0.5), GOOD), AXLE)
    assert advice.verdict == "acceptable"
    assert not advice.moves


def test_backlash_outside_its_limits_is_seen_first() -> None:
    advice = advise(setup_from((0.44, 0.5), (0.46, 0.5), (0.4, 0.4, 0.41, 0.4)), AXLE)
    assert advice.verdict in ("move_ring_gear", "move_both")
    assert advice.moves[-1].member == "ring_gear"
    assert advice.moves[-1].direction == "toward"
    assert "backlash-too-large" in [s.rule for s in advice.diagnosis]


def test_backlash_spread_is_no_shim_problem() -> None:
    advice = advise(setup_from((0.44, 0.5), (0.46, 0.5), (0.15, 0.2, 0.25, 0.2)), AXLE)
    assert advice.verdict == "not_a_shim_problem"
    assert not advice.moves
    assert any("runout" in thing for thing in advice.inspections)


@pytest.mark.parametrize(
    "fields, rule",
    [
        ({"spread": (0.15, 0.05)}, "scatter"),
        ({"spread": (0.02, 0.3)}, "scatter"),
        ({"wave": (0.1, 0.02)}, "wave"),
    ],
)
def test_faults_of_the_gear_are_named(fields: dict[str, Any], rule: str) -> None:
    setup = setup_from((0.44, 0.9), (0.46, 0.9), GOOD)
    advice = advise(replace(setup, drive=replace(setup.drive, **fields)), AXLE)
    assert advice.verdict == "not_a_shim_problem"
    assert rule in [s.rule for s in advice.diagnosis]
    assert advice.inspections
    assert not advice.moves


def test_opposite_heights_are_no_shim_problem() -> None:
    advice = advise(setup_from((0.44, 0.85), (0.46, 0.15), GOOD), AXLE)
    assert advice.verdict == "not_a_shim_problem"
    assert "heights-contradict" in [s.rule for s in advice.diagnosis]


def test_a_reading_too_coarse_for_the_zone_asks_for_another() -> None:
    advice = advise(setup_from((0.44, 0.5), (0.46, 0.5), GOOD, sigma=(0.3, 0.3)), AXLE)
    assert advice.verdict == "read_again"
    assert not advice.moves


def test_reverse_rotation_swaps_the_roles_and_keeps_the_heights() -> None:
    axle = replace(AXLE, rotation="reverse")
    setup = setup_from((0.44, 0.85), (0.46, 0.85), GOOD, sigma=READING)
    advice = advise(setup, axle)
    assert "Drive pattern (concave flank)" in advice.diagnosis[0].text
    assert advice.pinion_mm is None or advice.pinion_mm < 0
    assert "reverse-rotation" in [s.rule for s in advice.diagnosis]


def test_sides_given_in_the_wrong_order_are_sorted() -> None:
    right = setup_from((0.44, 0.85), (0.46, 0.80), GOOD)
    assert advise(Setup(right.coast, right.drive, GOOD), AXLE) == advise(right, AXLE)


def test_one_side_twice_is_refused() -> None:
    side = setup_from((0.44, 0.5), (0.46, 0.5)).drive
    with pytest.raises(AdviceError) as caught:
        advise(Setup(side, side), AXLE)
    assert caught.value.code == "same-side-twice"


def test_unknown_target_is_refused() -> None:
    with pytest.raises(AdviceError) as caught:
        advise(setup_from((0.44, 0.5), (0.46, 0.5)), replace(AXLE, target="middle of the moon"))
    assert caught.value.code == "target-unknown"


@pytest.mark.parametrize("cutting", ["face_hobbed", "unknown"])
def test_lengthwise_signs_are_not_assumed_where_cutting_is_not_face_milled(cutting: Any) -> None:
    axle = replace(AXLE, gears=replace(AXLE.gears, cutting=cutting))
    advice = advise(setup_from((0.2, 0.5), (0.2, 0.5), GOOD), axle)
    assert "cutting-unknown" in [s.rule for s in advice.diagnosis]


def test_unmeasured_backlash_is_asked_for() -> None:
    advice = advise(setup_from((0.44, 0.85), (0.46, 0.85)), AXLE)
    assert "backlash-unmeasured" in [s.rule for s in advice.next_steps]


def test_opposite_length_shift_only_supports() -> None:
    """Contradiction 2: the same opposite shift with both heights high never turns the depth move over."""
    for drive_u, coast_u in ((0.65, 0.25), (0.25, 0.65)):
        advice = advise(setup_from((drive_u, 0.85), (coast_u, 0.85), GOOD), replace(AXLE, limits=Limits()))
        assert advice.moves[0].member == "pinion"
        assert advice.moves[0].direction == "toward"
        assert advice.alternatives


def test_a_hard_line_at_an_edge_is_told() -> None:
    setup = setup_from((0.44, 0.5), (0.46, 0.5), GOOD, sigma=READING)
    hard = replace(setup, drive=replace(setup.drive, hard_edges=frozenset({"heel"})))
    assert any("hard line at the heel" in s.text for s in advise(hard, AXLE).diagnosis)


def test_used_gears_off_the_tooth_get_backlash_only_with_an_amount() -> None:
    axle = replace(AXLE, gears=replace(AXLE.gears, condition="used"), limits=Limits((0.10, 0.50)))
    advice = advise(setup_from((0.85, 0.5), (0.85, 0.5), (0.3,), sigma=READING), axle)
    assert [m.member for m in advice.moves] == ["ring_gear"]
    assert advice.moves[0].direction == "toward"
    assert advice.pinion_mm == 0


@pytest.mark.parametrize(
    ("drive", "way"),
    [
        ((0.15, 0.5), "away"),  # off the toe
        ((0.85, 0.5), "toward"),
        ((0.5, 0.15), "away"),  # off the root
        ((0.5, 0.85), "toward"),
        ((0.15, 0.85), "away"),  # the length counts more
        ((0.5, 0.5), None),
    ],
)
def test_used_gears_are_brought_back_by_the_edge_that_they_run_off(drive: Point, way: str | None) -> None:
    assert used_direction(setup_from(drive, (0.5, 0.5))) == way


def test_a_move_without_an_amount_says_why() -> None:
    axle = replace(AXLE, gears=replace(AXLE.gears, condition="used"), limits=Limits((0.10, 0.30)))
    low = setup_from((0.5, 0.1), (0.5, 0.1), (0.2,), sigma=READING)
    answer = " ".join(advise(low, axle).answer)
    assert "Ring gear AWAY" in answer and "small steps" in answer
