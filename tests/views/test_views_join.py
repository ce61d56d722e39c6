"""Several photos of one side make one reading; one that disagrees is set aside."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_reading import made_reading, other_hand, straight_flank

import contactread
from contactread.axle import FlankName
from contactread.reading import Reading
from contactread.views import join


def view(centre: tuple[float, float], confidence: float = 0.8, sigma: float = 0.03) -> Reading:
    reading = made_reading(Path(f"{centre}.jpg"), centre=centre)
    side = replace(reading.side, sigma=(sigma, 1.5 * sigma))
    return replace(reading, side=side, confidence=confidence)


def test_three_views_tell_more_than_one() -> None:
    views = [view((0.40, 0.50)), view((0.43, 0.48)), view((0.42, 0.52))]
    joined = join(views)["drive"]
    assert joined.used == (0, 1, 2) and not joined.aside
    assert joined.reading.side.centre == pytest.approx((0.4167, 0.5), abs=0.002)
    assert (np.array(joined.reading.side.sigma) < views[0].side.sigma).all()
    assert joined.reading.confidence > 0.8


def test_views_that_agree_know_more_than_those_that_scatter() -> None:
    alike = join([view((0.40 + off, 0.50 + off)) for off in (0.0, 0.005, -0.005)])["drive"].reading.side.sigma
    apart = join([view((0.40 + off, 0.50 + off)) for off in (0.0, 0.03, -0.03)])["drive"].reading.side.sigma
    assert (np.array(alike) < 0.85 * np.array(apart)).all()
    assert (np.array(alike) > np.array((0.010, 0.018)) / 2).all(), "what all views do wrong stays"


def test_a_picture_given_again_under_another_name_counts_once() -> None:
    one, other = view((0.40, 0.50), 0.6), view((0.44, 0.51), 0.7)
    again = replace(view((0.401, 0.4985), 0.58), size_px=(801, 600))  # encoded anew
    joined = join([one, again, again])["drive"]
    assert (joined.used, joined.aside, joined.copies) == ((0,), (), (1, 2))
    assert (joined.reading.confidence, joined.reading.side.sigma) == (one.confidence, one.side.sigma)
    assert join([again, one, other])["drive"].used == (1, 2), "two pictures, one of them twice"
    elsewhere = tuple(
        replace(t, flank=replace(t.flank, map=straight_flank(160, 180 + 120 * i, 500, 80, "convex").map))
        for i, t in enumerate(one.teeth)
    )
    assert join([one, replace(again, teeth=elsewhere)])["drive"].copies == (), "taken from 10 px apart"


def test_the_view_that_disagrees_is_set_aside_and_named() -> None:
    joined = join([view((0.40, 0.50)), view((0.70, 0.50)), view((0.42, 0.52))])["drive"]
    assert joined.aside == (1,)
    assert joined.reading.side.centre[0] == pytest.approx(0.41, abs=0.01)
    assert (
        joined.reading.confidence < join([view((0.40, 0.50)), view((0.42, 0.52))])["drive"].reading.confidence
    )


def test_a_view_of_the_other_hand_is_set_aside_though_its_patch_agrees() -> None:
    joined = join([other_hand(view((0.41, 0.50), 0.9)), view((0.40, 0.50), 0.8), view((0.42, 0.52))])["drive"]
    assert joined.aside == (0,) and joined.reading.hand == "left"
    alone = join([view((0.40, 0.50)), view((0.42, 0.52))])["drive"]
    assert joined.reading.confidence < alone.reading.confidence


@pytest.mark.parametrize("turn", [1, -1])
def test_of_two_teeth_that_disagree_the_larger_tells_the_hand(turn: int) -> None:
    reading = made_reading()
    kinds: tuple[FlankName, FlankName] = ("convex", "concave")
    for first, second, hand in ((*kinds, "left"), (*kinds[::-1], "right")):
        flanks = straight_flank(150, 180, 500, 80, first), straight_flank(150, 180, 400, 60, second)
        teeth = tuple(replace(reading.teeth[0], flank=flank) for flank in flanks[::turn])
        assert replace(reading, teeth=teeth).hand == hand


def test_of_two_that_disagree_the_surer_stands_less_surely() -> None:
    joined = join([view((0.40, 0.50), 0.6), view((0.70, 0.50), 0.9)])["drive"]
    assert (joined.used, joined.aside, joined.surest) == ((1,), (0,), 1)
    assert joined.reading.side.centre == (0.70, 0.50)
    assert joined.reading.confidence == pytest.approx(0.9 * 0.4 / (0.9 * 0.4 + 0.1))


def test_the_surer_view_counts_more_and_sides_stay_apart() -> None:
    coast = replace(view((0.6, 0.4)), side=made_reading(flank="concave", centre=(0.6, 0.4)).side)
    joined = join([view((0.40, 0.50), sigma=0.02), view((0.46, 0.50), sigma=0.06), coast])
    assert set(joined) == {"drive", "coast"}
    assert joined["drive"].reading.side.centre[0] < 0.42
    assert joined["coast"].surest == 2


def test_views_that_scatter_more_than_they_say_doubt_more() -> None:
    near = join([view((0.40, 0.50), sigma=0.02), view((0.41, 0.50), sigma=0.02)])["drive"].reading.side
    far = join([view((0.37, 0.50), sigma=0.02), view((0.44, 0.50), sigma=0.02)])["drive"].reading.side
    assert far.sigma[0] > 1.2 * near.sigma[0]


def test_stated_doubt_of_joined_views_comes_true() -> None:
    """Views whose errors are in part common to all, as they are in photos."""
    draw, off = np.random.default_rng(5), []
    for _ in range(300):
        common = 0.35**0.5 * 0.03 * draw.normal(size=2)
        own = 0.65**0.5 * 0.03 * draw.normal(size=(3, 2))
        side = join([view((0.4 + e[0], 0.5 + 1.5 * e[1])) for e in common + own])["drive"].reading.side
        off.append(np.subtract(side.centre, (0.4, 0.5)) / side.sigma)
    assert np.sqrt(np.mean(np.square(off), axis=0)) == pytest.approx([1, 1], abs=0.2)


def test_the_library_pairs_what_a_photo_shows_of_its_other_flank_too() -> None:
    coast = replace(made_reading(flank="concave", centre=(0.5, 0.4)), confidence=0.8)
    both = replace(made_reading(centre=(0.42, 0.35)), other=coast)
    assert contactread.pair(both, made_reading(centre=(0.44, 0.36))).coast.centre == (0.5, 0.4)
    two = contactread.pair(made_reading(flank="concave", centre=(0.54, 0.42)), both)
    assert 0.5 < two.coast.centre[0] < 0.54 and two.drive.centre == (0.42, 0.35)
    joined = join([both, coast, view((0.44, 0.36))])
    again = contactread.pair(joined["drive"].reading, joined["coast"].reading)
    assert again.drive == joined["drive"].reading.side, "what was joined already isn't counted twice"
    with pytest.raises(contactread.ContactreadError, match="Both photos show the drive side"):
        contactread.pair(view((0.40, 0.5)), view((0.44, 0.5)))
