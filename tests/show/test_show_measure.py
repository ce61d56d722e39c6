"""Measurements against their limits, in words."""

from __future__ import annotations

from typing import Any

import pytest

from contactread.axle import Axle, GearSet
from contactread.records.limits import check
from contactread.show.axle_table import left_out
from contactread.show.measure_text import limit_text, missed_text, values_text


@pytest.mark.parametrize(
    "values, limit, missed, limits",
    [
        ((0.25, 0.18), (0.13, 0.20), "0.05 mm (2.0 thou) too much", "0.13 to 0.20 mm (5.1 to 7.9 thou)"),
        ((0.10,), (0.13, 0.20), "0.03 mm (1.2 thou) too little", "0.13 to 0.20 mm (5.1 to 7.9 thou)"),
        ((0.10,), (None, 0.05), "0.05 mm (2.0 thou) too much", "at most 0.05 mm (2.0 thou)"),
        ((0.10,), (0.15, None), "0.05 mm (2.0 thou) too little", "at least 0.15 mm (5.9 thou)"),
        (
            (0.202,),
            (0.13, 0.20),
            "less than 0.01 mm (0.4 thou) too much",
            "0.13 to 0.20 mm (5.1 to 7.9 thou)",
        ),
        ((0.10,), None, "", "none to judge by"),
    ],
)
def test_a_value_outside_its_limits_is_told_with_its_side(
    values: tuple[float, ...], limit: tuple[float | None, float | None] | None, missed: str, limits: str
) -> None:
    measure = check("Backlash", "mm", values, limit)
    assert (missed_text(measure), limit_text(measure)) == (missed, limits)


def test_several_values_are_told_as_a_range() -> None:
    measure = check("Pinion turning torque", "N·m", (2.0, 2.5), (1.0, 3.0))
    assert values_text(measure) == "2.00 to 2.50 N·m (17.7 to 22.1 in-lb)" and missed_text(measure) == ""
    assert values_text(check("Backlash", "mm", (0.2, 0.2, 0.2), None)) == "0.20 mm (7.9 thou)"
    measure = check("Pinion turning torque", "N·m", (3.5,), (1.0, 3.0))
    assert missed_text(measure) == "0.50 N·m (4.4 in-lb) too much"


@pytest.mark.parametrize(
    ("condition", "judged"), [("new", "judged by common practice"), ("used", "not judged")]
)
def test_an_axle_without_limits_is_said_to_be_judged_as_advice_judges_it(condition: Any, judged: str) -> None:
    axle = Axle(GearSet(11, 41, 222.0, condition=condition))
    assert f"backlash is {judged}." in " ".join(left_out(axle))
