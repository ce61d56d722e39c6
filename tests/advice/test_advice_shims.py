# mypy: disable-error-code="union-attr, operator, arg-type"
# Where a test meets None in place of a value, it fails; that needs no line of its own.
"""Moves into shims and back: sign by the shim's place, totals kept, notches counted."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from calibration.set_ups import draw, read, true_state
from contactread.advice import advise
from contactread.advice.moves import pinion_move, ring_move
from contactread.advice.shims import (
    carrier_change,
    carrier_step,
    pinion_shim_change,
    pinion_travel,
    pinion_travels,
    side_shim_travel,
)
from contactread.axle import Axle, Carrier, GearSet, PinionShim


@pytest.mark.parametrize("place, sign", [("behind_head", -1), ("under_cage", 1)])
def test_place_decides_the_sign_and_the_way_back(place: Any, sign: int) -> None:
    shim = PinionShim(place, 1.0)
    change = pinion_shim_change(0.1, shim)
    assert change.change_mm == pytest.approx(0.1 * sign)
    assert change.new_mm == pytest.approx(1.0 + 0.1 * sign)
    assert pinion_travel(change.change_mm, shim) == pytest.approx(0.1)


def test_unknown_place_gives_no_sign_but_both_ways_in_words() -> None:
    axle = Axle(GearSet(11, 41, 220.0))
    move = pinion_move(-0.1, axle)
    assert move.shims == ()
    text = " ".join(s.text for s in move.how)
    assert "thicker shim" in text and "thinner pack" in text


@pytest.mark.parametrize("ring_mm", [-0.1, 0.05])
@pytest.mark.parametrize("thicker", ["toward", "away"])
def test_side_shims_keep_their_total(ring_mm: float, thicker: Any) -> None:
    carrier = Carrier(ring_side_mm=6.0, opposite_side_mm=7.0, ring_side_thicker_moves=thicker)
    ring_side, opposite = carrier_change(ring_mm, carrier)
    assert ring_side.new_mm + opposite.new_mm == pytest.approx(13.0)
    toward = ring_side.change_mm if thicker == "toward" else -ring_side.change_mm
    assert (toward > 0) == (ring_mm < 0)


def test_notches_are_counted_where_their_travel_is_known() -> None:
    (change,) = carrier_change(-0.12, Carrier("adjusters", notch_mm=0.06))
    assert change.notches == pytest.approx(-2)
    assert carrier_change(-0.12, Carrier("adjusters")) == ()
    move = ring_move(-0.12, Axle(GearSet(11, 41, 220.0), carrier=Carrier("adjusters", notch_mm=0.06)))
    assert "2 notches" in move.how[1].text


SIZES = (1.2, 1.25, 1.3, 1.35, 1.4, 1.45, 1.5, 1.55, 1.6, 1.65, 1.7, 1.75, 1.8)


def test_a_shim_table_gives_its_own_travels_only() -> None:
    shim = PinionShim("behind_head", 1.5, sizes_mm=SIZES)
    travels = pinion_travels(shim)
    assert travels == pytest.approx([1.5 - size for size in reversed(SIZES)])
    assert pinion_travels(PinionShim("under_cage", None, sizes_mm=SIZES)) == ()


def test_the_advised_pack_is_in_the_table_and_else_on_the_step() -> None:
    case = replace(draw(np.random.default_rng(22)), pinion_mm=0.18)
    setup = read(true_state(case, case.pinion_mm, case.ring_mm), np.random.default_rng(1))
    assert setup is not None

    def pack(shim: PinionShim) -> float:
        advice = advise(setup, replace(case.axle, pinion_shim=shim))
        new = advice.moves[0].shims[0].new_mm
        assert new is not None
        return new

    assert min(abs(pack(PinionShim("behind_head", 1.5, sizes_mm=SIZES)) - size) for size in SIZES) < 1e-9
    metric = pack(PinionShim("behind_head", 1.5))
    assert metric == pytest.approx(round(metric, 2))  # no thousandth hides behind a metric amount


def test_the_finest_step_of_an_adjuster_is_half_a_notch() -> None:
    assert carrier_step(Carrier("adjusters", notch_mm=0.06)) == pytest.approx(0.03)
    assert carrier_step(Carrier(step_mm=0.05)) == 0.05


@pytest.mark.parametrize("thicker, sign", [("toward", -1), ("away", 1)])
def test_side_shims_move_the_gear_by_half_of_their_difference(thicker: Any, sign: int) -> None:
    carrier = Carrier(ring_side_thicker_moves=thicker)
    assert side_shim_travel(0.1, -0.1, carrier) == pytest.approx(0.1 * sign)
    assert side_shim_travel(0.1, 0.1, carrier) == pytest.approx(0.0)  # preload, no travel
    assert side_shim_travel(0.3, 0.1, carrier) == pytest.approx(0.1 * sign)
