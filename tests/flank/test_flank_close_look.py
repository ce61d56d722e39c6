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
from contactread.photo.load import load_photo
from contactread.photo.photo import Photo

SAMPLE = Path(__file__).parents[2] / "sample_images" / "cedar_good" / "coast.jpg"
Look = tuple[list[Flank], list[CloseUp]]


@pytest.fixture(scope="module")
def start() -> tuple[Photo, GearView, Look]:
    """The sample, the gear that the finder hands on, eight of its teeth seen, and what comes of it."""
    photo = load_photo(SAMPLE)
    handed: list[Any] = []

    def note(*arguments: Any) -> Look:
        handed.append(arguments[1])
        looked = look_twice(*arguments)
        handed.append(looked)
        return looked

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(finder, "look_twice", note)
        finder.find_flanks(photo)
    return photo, handed[0], handed[1]


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[list[Flank]]:
    """The flanks of every look at the photo, as they come."""
    seen: list[list[Flank]] = []

    def noted(pixels: Any, flanks: list[Flank], rolled: list[float]) -> list[CloseUp]:
        seen.append(flanks)
        return look_closely(pixels, flanks, rolled)

    monkeypatch.setattr(close_look, "look_closely", noted)
    return seen


def again(photo: Photo, view: GearView, painted: float = 0.9) -> Look:
    count = len(view.teeth)
    chances, worth = [painted] * count, list(range(count, 0, -1))
    return look_twice(photo, view, chances, chances, worth, "concave", Prior.of(None))


def apart(one: list[Flank], other: list[Flank]) -> float:
    """The farthest that corners of the same flanks lie apart, as a share of the flank's length."""
    return max(
        float(np.abs(np.subtract(a.corners[name], b.corners[name])).max()) / a.length_px
        for a, b in zip(one, other, strict=True)
        for name in a.corners
    )


def test_some_teeth_first_then_the_others_and_those_beside(
    start: tuple[Photo, GearView, Look], looks: list[list[Flank]]
) -> None:
    photo, view, (expected, _) = start
    flanks, closeups = again(photo, view)
    assert len(flanks) == len(closeups) == len(expected)
    assert [len(look) for look in looks] == [FIRST, len(flanks) - FIRST]
    assert len(view.teeth) < len(flanks) <= len(view.teeth) + MOST_BESIDE
    middles = np.array([flank.map(0.5, 0.5) for flank in flanks])
    assert (np.diff(middles @ (middles[-1] - middles[0])) > 0).all()  # in order along the gear
    assert apart(flanks, expected) < 0.05  # other teeth come first; a corner is known no better


def test_a_gear_put_a_little_wrong_is_put_right_by_a_second_look(
    start: tuple[Photo, GearView, Look], looks: list[list[Flank]]
) -> None:
    photo, view, (expected, _) = start
    parameters = view.parameters.copy()
    parameters[4] += 0.03 * parameters[6]  # aside, as seen by the camera, by a share of the depth
    wrong = replace(view, parameters=parameters)
    flanks, _ = again(photo, wrong)
    assert len(looks[1]) > len(flanks) - FIRST  # the first ones once more, from the better place
    known = [flank for flank in flanks if min(apart([flank], [other]) for other in expected) < 0.1]
    assert len(known) >= len(view.teeth)


def told(change: Callable[[CloseUp], CloseUp]) -> Callable[..., list[CloseUp]]:
    return lambda *arguments: [change(closeup) for closeup in look_closely(*arguments)]


def test_beside_bare_teeth_none_are_looked_for(
    start: tuple[Photo, GearView, Look], monkeypatch: pytest.MonkeyPatch
) -> None:
    photo, view, _ = start
    bare = told(lambda closeup: replace(closeup, painted=np.zeros_like(closeup.painted)))
    monkeypatch.setattr(close_look, "look_closely", bare)
    flanks, closeups = again(photo, view, painted=0.0)
    assert len(flanks) == len(view.teeth)
    assert max(closeup.painted_chance for closeup in closeups) == 0


def test_of_a_gear_of_which_nothing_is_seen_nothing_is_told(
    start: tuple[Photo, GearView, Look], monkeypatch: pytest.MonkeyPatch
) -> None:
    photo, view, _ = start
    unseen = told(lambda closeup: replace(closeup, visible=np.zeros_like(closeup.visible)))
    monkeypatch.setattr(close_look, "look_closely", unseen)
    assert again(photo, view) == ([], [])
