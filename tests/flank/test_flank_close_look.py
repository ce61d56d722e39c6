"""Which teeth are looked at closely, how often, and that a gear put a little wrong is put right."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from contactread.flank import close_look, finder
from contactread.flank.close_look import FIRST, MOST_BESIDE, look_twice
from contactread.flank.closeup import CloseUp, look_closely
from contactread.flank.flank import Flank
from contactread.flank.gear_fit import Prior
from contactread.flank.gear_view import GearView
from contactread.flank.sight import Sight, sight_of
from contactread.photo.load import load_photo
from contactread.photo.photo import Photo

SAMPLE = Path(__file__).parents[2] / "sample_images" / "cedar_good" / "coast.jpg"
Look = tuple[list[Flank], list[CloseUp], bool]
Start = tuple[Photo, GearView, Sight, Look]


@pytest.fixture(scope="module")
def start() -> Start:
    """The sample, the gear that the finder hands on, eight of its teeth seen, the look, what comes of it."""
    photo = load_photo(SAMPLE)
    handed: list[Any] = []

    def note(*arguments: Any) -> Look:
        handed.extend((arguments[1], arguments[-1]))
        looked = look_twice(*arguments)
        handed.append(looked)
        return looked

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(finder, "look_twice", note)
        finder.find_flanks(photo)
    return photo, *handed


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[list[Flank]]:
    """The flanks of every look at the photo, as they come."""
    seen: list[list[Flank]] = []

    def noted(pixels: Any, flanks: list[Flank], rolled: list[float]) -> list[CloseUp]:
        seen.append(flanks)
        return look_closely(pixels, flanks, rolled)

    monkeypatch.setattr(close_look, "look_closely", noted)
    return seen


def again(photo: Photo, view: GearView, sight: Sight, painted: float = 0.9) -> Look:
    count = len(view.teeth)
    chances, worth = [painted] * count, list(range(count, 0, -1))
    return look_twice(photo, view, chances, chances, worth, "concave", Prior.of(None), sight)


def apart(one: list[Flank], other: list[Flank]) -> float:
    """The farthest that corners of the same flanks lie apart, as a share of the flank's length."""
    return max(
        float(np.abs(np.subtract(a.corners[name], b.corners[name])).max()) / a.length_px
        for a, b in zip(one, other, strict=True)
        for name in a.corners
    )


def test_some_teeth_first_then_the_others_and_those_beside(start: Start, looks: list[list[Flank]]) -> None:
    photo, view, sight, (expected, *_) = start
    flanks, closeups, _ = again(photo, view, sight)
    assert len(flanks) == len(closeups) == len(expected)
    assert [len(look) for look in looks] == [FIRST, len(flanks) - FIRST]
    assert len(view.teeth) < len(flanks) <= len(view.teeth) + MOST_BESIDE
    middles = np.array([flank.map(0.5, 0.5) for flank in flanks])
    assert (np.diff(middles @ (middles[-1] - middles[0])) > 0).all()  # in order along the gear
    assert apart(flanks, expected) < 0.05  # other teeth come first; a corner is known no better


def test_a_gear_put_a_little_wrong_is_put_right_by_a_second_look(
    start: Start, looks: list[list[Flank]]
) -> None:
    photo, view, sight, (expected, *_) = start
    parameters = view.parameters.copy()
    parameters[4] += 0.03 * parameters[6]  # aside, as seen by the camera, by a share of the depth
    wrong = replace(view, parameters=parameters)
    flanks, *_ = again(photo, wrong, sight)
    assert len(looks[1]) > len(flanks) - FIRST  # the first ones once more, from the better place
    known = [flank for flank in flanks if min(apart([flank], [other]) for other in expected) < 0.1]
    assert len(known) >= len(view.teeth)


def told(change: Callable[[CloseUp], CloseUp]) -> Callable[..., list[CloseUp]]:
    return lambda *arguments: [change(closeup) for closeup in look_closely(*arguments)]


def test_beside_bare_teeth_none_are_looked_for(start: Start, monkeypatch: pytest.MonkeyPatch) -> None:
    photo, view, sight, _ = start
    bare = told(lambda closeup: replace(closeup, painted=np.zeros_like(closeup.painted)))
    monkeypatch.setattr(close_look, "look_closely", bare)
    flanks, closeups, _ = again(photo, view, sight, painted=0.0)
    assert len(flanks) == len(view.teeth)
    assert max(closeup.painted_chance for closeup in closeups) == 0


def test_of_a_gear_of_which_nothing_is_seen_nothing_is_told(
    start: Start, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo, view, sight, _ = start
    unseen = told(lambda closeup: replace(closeup, visible=np.zeros_like(closeup.visible)))
    monkeypatch.setattr(close_look, "look_closely", unseen)
    assert again(photo, view, sight) == ([], [], False)


def test_where_the_first_look_saw_no_paint_none_are_looked_for(
    start: Start, looks: list[list[Flank]]
) -> None:
    photo, view, sight, _ = start
    flanks, *_ = again(photo, view, replace(sight, painted=np.zeros_like(sight.painted)))
    assert len(flanks) == len(view.teeth)
    assert [len(look) for look in looks] == [FIRST, len(view.teeth) - FIRST]


@pytest.mark.parametrize("turned", [False, True])
def test_paint_is_asked_about_at_places_of_the_photo(turned: bool) -> None:
    """Paint on the right half of a flank that fills the rows below the tenth."""
    seen = np.zeros((11, 30, 40), np.float32)
    seen[0] = np.where(np.arange(30)[:, None] < 10, -9, 9)
    seen[1], seen[2] = -9, np.where(np.arange(40) < 20, -9, 9)
    sight = sight_of(seen, 0.25, turned, 480 if turned else 640, np.zeros((120, 160, 3), np.uint8))
    cells = np.array([[25, 5], [25, 30], [5, 30]])  # row, column: bare flank, painted flank, no flank
    places = sight.place[tuple(cells.T)].astype(float)
    told = [sight.paint_at(place[None], "convex") for place in places]
    assert told == pytest.approx([0.0, 1.0, 1.0], abs=1e-3)
    assert sight.paint_at(places, "convex") == pytest.approx(0.5, abs=2e-3)  # no flank hardly counts
    assert sight.paint_at(places + 10_000, "convex") == 0.0
