"""What the teeth share, and how far they part."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from contactread.patch import Clear
from contactread.pattern.measures import Side, ToothPattern
from contactread.pattern.side import side_of

TOOTH = ToothPattern(
    centre=(0.5, 0.5),
    length=(0.3, 0.7),
    height=(0.3, 0.7),
    area_fraction=0.2,
    tilt_deg=5.0,
    clear=Clear(0.28, 0.28, 0.26, 0.26),
    size_mm=(32.0, 8.0),
    sigma=(0.01, 0.02),
    unsure_fraction=0.0,
)


def side(teeth: Sequence[ToothPattern], turns: Iterable[float] = ()) -> Side:
    return side_of(teeth, "convex", "drive", "pressed_away", "yellow", list(turns))


def at(u: float, v: float = 0.5, **other: Any) -> ToothPattern:
    return replace(TOOTH, centre=(u, v), **other)


def test_one_tooth() -> None:
    read = side([TOOTH])
    assert read.centre == (0.5, 0.5)
    assert read.spread == (0, 0)
    assert read.wave is None


def test_a_stray_tooth_hardly_moves_the_centre() -> None:
    read = side([at(0.40), at(0.41), at(0.39), at(0.40), at(0.40), at(0.75)])
    assert read.centre[0] == pytest.approx(0.41, abs=0.02)  # the plain mean is 0.458


def test_a_sure_tooth_counts_more() -> None:
    read = side([at(0.40), at(0.46, sigma=(0.1, 0.02))])
    assert read.centre[0] < 0.42


def test_spread_leaves_out_what_measuring_scatters() -> None:
    draw = np.random.default_rng(0)
    noise = [at(0.5 + 0.01 * x, 0.5) for x in draw.normal(size=40)]
    wander = [at(0.5 + 0.04 * x, 0.5) for x in draw.normal(size=40)]
    assert side(noise).spread[0] < 0.008
    assert side(wander).spread[0] == pytest.approx(0.04, rel=0.3)


def test_more_teeth_make_the_centre_surer_but_not_certain() -> None:
    few, many = side([TOOTH] * 2), side([TOOTH] * 50)
    assert many.sigma[0] < few.sigma[0]
    assert many.sigma[0] >= 0.01


def test_runout_shows_as_a_once_per_turn_wave() -> None:
    turns = np.linspace(0, 2 * np.pi, 20, endpoint=False)
    teeth = [at(0.5 + 0.06 * np.sin(t + 1), 0.5 + 0.02 * np.cos(t)) for t in turns]
    assert side(teeth, turns).wave == pytest.approx((0.06, 0.02), abs=1e-6)


def test_a_few_neighbouring_teeth_tell_nothing_of_a_wave() -> None:
    turns = np.linspace(0, 1.0, 10)
    assert side([TOOTH] * 10, turns).wave is None
    assert side([TOOTH] * 4, np.linspace(0, 6, 4)).wave is None


def test_most_teeth_decide_whether_the_side_runs_off() -> None:
    """And the distance never contradicts: it is the middle tooth's."""
    off = replace(TOOTH, clear=TOOTH.clear._replace(toe=0.0))
    near = replace(TOOTH, clear=TOOTH.clear._replace(toe=0.1))
    read = side([off, off, TOOTH])
    assert read.runs_off == {"toe"} and read.margins_mm and read.margins_mm["toe"] == 0
    read = side([off, near, TOOTH])
    assert read.runs_off == frozenset() and read.margins_mm and read.margins_mm["toe"] == pytest.approx(3.2)
    assert side([off, off, TOOTH, TOOTH]).runs_off == {"toe"}
    assert side([TOOTH, replace(TOOTH, size_mm=None)]).margins_mm is None


def test_tilt_wraps_round_the_half_turn() -> None:
    read = side([replace(TOOTH, tilt_deg=88.0), replace(TOOTH, tilt_deg=-88.0)])
    assert abs(read.tilt_deg) == pytest.approx(90)


def test_teeth_that_wander_make_the_centre_less_sure() -> None:
    """Teeth 0.1 apart: their mean is known to half of what they wander, not to each one's own sigma."""
    places = (0.30, 0.40, 0.50, 0.60)
    wandering = side([at(u) for u in places])
    steady = side([at(0.45)] * 4)
    assert wandering.sigma[0] > 0.8 * np.std(places, ddof=1) / 2 > 3 * steady.sigma[0]


def test_doubt_that_all_teeth_share_is_not_averaged_away() -> None:
    shared = side_of([TOOTH] * 50, "convex", "drive", "pressed_away", "yellow", (), (0.1, 0.2))
    assert shared.sigma == pytest.approx((0.1, 0.2), rel=0.02)


def test_a_line_that_is_hard_on_a_few_teeth_is_not_the_sides() -> None:
    hard = replace(TOOTH, hard_edges=frozenset({"top"}))
    assert side([hard, TOOTH, TOOTH, TOOTH]).hard_edges == frozenset()
    assert side([hard, hard, hard, TOOTH]).hard_edges == {"top"}
