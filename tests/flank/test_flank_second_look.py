"""A second look, closer, follows a doubtful first one only, and sees ring gears only."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from flank_corner_scenes import scene

from contactread import load_axle, read
from contactread.errors import PhotoError
from contactread.flank import finder
from contactread.flank.finder import STRANGE
from contactread.flank.gear_fit import Prior
from contactread.flank.second_look import LEAST_CHANCE, suspected
from contactread.flank.sight import Sight, Window, look
from contactread.photo.load import load_photo
from contactread.photo.photo import Photo

SAMPLES = Path(__file__).parents[2] / "sample_images"


@pytest.fixture(scope="module")
def near() -> Photo:
    return load_photo(SAMPLES / "ash_good" / "drive.jpg")


@pytest.fixture(scope="module")
def far(near: Photo) -> Photo:
    """The same from two and a half times the distance: a small picture in a large, unsharp one."""
    around = np.asarray(cv2.GaussianBlur(near.pixels, (0, 0), 60)) // 2
    width, height = int(near.width / 2.5), int(near.height / 2.5)
    around[700 : 700 + height, 150 : 150 + width] = cv2.resize(
        near.pixels, (width, height), interpolation=cv2.INTER_AREA
    )
    return replace(near, pixels=np.asarray(around, np.uint8))


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> list[Window | None]:
    """What the finder looks at, as it goes."""
    looked: list[Window | None] = []

    def noted(pixels: Any, window: Window | None = None) -> Sight:
        looked.append(window)
        return look(pixels, window)

    monkeypatch.setattr(finder, "look", noted)
    return looked


def test_from_afar_the_same_is_read_by_a_second_look(
    near: Photo, far: Photo, windows: list[Window | None]
) -> None:
    plain, other = read(near), read(far)
    assert other.side.flank == plain.side.flank
    assert other.side.centre == pytest.approx(plain.side.centre, abs=0.04)
    first, second, closer = windows
    assert first is None and second is None, "a clear photo is looked at once"
    assert closer is not None
    assert closer.left < 150 + 480 // 2 < closer.right
    assert closer.top < 700 + 640 // 2 < closer.bottom
    assert closer.right - closer.left < far.width


def test_places_of_a_closer_look_are_those_of_the_whole_photo(near: Photo) -> None:
    whole, part = look(near.pixels), look(near.pixels, Window(200, 100, 1400, 1000))

    def middle(sight: Sight) -> np.ndarray:
        weight = sight.convex * sight.painted
        return np.asarray((sight.place * weight[..., None]).sum(axis=(0, 1)) / weight.sum())

    assert np.abs(middle(whole) - middle(part)).max() < 40


def test_where_nothing_is_suspected_no_second_look_follows(near: Photo) -> None:
    sight = look(near.pixels)
    faint = replace(
        sight, convex=sight.convex * 0 + 0.5 * LEAST_CHANCE, concave=sight.concave * 0, painted=sight.painted
    )
    assert suspected(near, faint, None) is None
    assert suspected(near, sight, 1000.0) is None, "large flanks are seen well enough"


def test_gears_of_another_shape_are_none(far: Photo, monkeypatch: pytest.MonkeyPatch) -> None:
    """Straight and helical teeth lie far from what ring gears are; that alone refuses them."""
    usual = Prior.of(None)
    assert usual.strangeness(scene()) == 0
    assert usual.strangeness(scene(spiral=np.radians(45), tooth_pitch=2 * np.pi / 33)) < STRANGE
    for other in ({"spiral": 0.0}, {"cutter_radius": 5.0}, {"pitch_angle": np.radians(45)}):
        assert usual.strangeness(scene(**other)) > STRANGE, other
    monkeypatch.setattr(finder, "STRANGE", 0.01)
    monkeypatch.setattr(finder, "USUAL_ENOUGH", 0.01)
    with pytest.raises(PhotoError) as refused:
        read(far)
    assert refused.value.code == "no-ring-gear"


def test_one_mistaken_tooth_costs_no_gear() -> None:
    """The first look takes a gap at the edge for a tooth, with which the gear would be a strange one."""
    folder = SAMPLES / "ash_runout"
    reading = read(folder / "drive.jpg", axle=load_axle(folder / "axle.toml"))
    assert reading.side.flank == "convex" and len(reading.side.teeth) >= 3
