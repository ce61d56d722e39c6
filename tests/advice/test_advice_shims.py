"""Moves into shims and back: sign by the shim's place, totals kept, notches counted."""

from __future__ import annotations

import pytest

from contactread.advice.moves import pinion_move, ring_move
from contactread.advice.shims import carrier_change, pinion_shim_change, pinion_travel
from contactread.axle import Axle, Carrier, GearSet, PinionShim


@pytest.mark.parametrize("place, sign", [("behind_head", -1), ("under_cage", 1)])
def test_place_decides_the_sign_and_the_way_back(place, sign):
    shim = PinionShim(place, 1.0)
    change = pinion_shim_change(0.1, shim)
    assert change.change_mm == pytest.approx(0.1 * sign)
    assert change.new_mm == pytest.approx(1.0 + 0.1 * sign)
    assert pinion_travel(change.change_mm, shim) == pytest.approx(0.1)


def test_unknown_place_gives_no_sign_but_both_ways_in_words():
    axle = Axle(GearSet(11, 41, 220.0))
    move = pinion_move(-0.1, axle)
    assert move.shims == ()
    text = " ".join(s.text for s in move.how)
    assert "thicker shim" in text and "thinner pack" in text


@pytest.mark.parametrize("ring_mm", [-0.1, 0.05])
@pytest.mark.parametrize("thicker", ["toward", "away"])
def test_side_shims_keep_their_total(ring_mm, thicker):
    carrier = Carrier(ring_side_mm=6.0, opposite_side_mm=7.0, ring_side_thicker_moves=thicker)
    ring_side, opposite = carrier_change(ring_mm, carrier)
    assert ring_side.new_mm + opposite.new_mm == pytest.approx(13.0)
    toward = ring_side.change_mm if thicker == "toward" else -ring_side.change_mm
    assert (toward > 0) == (ring_mm < 0)


def test_notches_are_counted_where_their_travel_is_known():
    (change,) = carrier_change(-0.12, Carrier("adjusters", notch_mm=0.06))
    assert change.notches == pytest.approx(-2)
    assert carrier_change(-0.12, Carrier("adjusters")) == ()
    move = ring_move(-0.12, Axle(GearSet(11, 41, 220.0), carrier=Carrier("adjusters", notch_mm=0.06)))
    assert "2 notches" in move.how[1].text
