"""What the finder concludes from the close-ups: which photos are refused, for which reason, and which pass.

The close-ups are those of a sample, altered; so each rule is asked alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from contactread import read
from contactread.axle import Axle
from contactread.errors import PhotoError
from contactread.flank import verdict as judge
from contactread.flank.finder import find_flanks
from contactread.flank.flank import Flank, FlatFlank, Found
from contactread.flank.flatten import flatten
from contactread.flank.verdict import sharpness
from contactread.pattern.cells import COLUMNS, ROWS
from contactread.pattern.contact import ContactMaps
from contactread.photo.load import load_photo
from contactread.photo.photo import Photo

SAMPLE = Path(__file__).parents[2] / "sample_images" / "ash_good" / "coast.jpg"
BARE, PAINTED = 0.02, 0.98


@pytest.fixture(scope="module")
def photo() -> Photo:
    return load_photo(SAMPLE)


@pytest.fixture(scope="module")
def found(photo: Photo) -> Found:
    return find_flanks(photo)


def painted(found: Found, chances: Sequence[float], contact: float | None = None) -> Found:
    """The first of the found flanks with other chances of paint, and of contact everywhere."""
    closeups = [
        replace(
            closeup,
            visible=np.ones_like(closeup.visible),
            painted=np.full_like(closeup.painted, chance),
            contact=closeup.contact if contact is None else np.full_like(closeup.contact, contact),
        )
        for closeup, chance in zip(found.closeups, chances, strict=False)
    ]
    return replace(found, flanks=found.flanks[: len(closeups)], closeups=tuple(closeups))


def told(flats: Sequence[FlatFlank]) -> ContactMaps:
    """A reader that always sees the same patch."""
    inside = np.zeros((len(flats), ROWS, COLUMNS), np.float32)
    inside[:, 8:16, 20:50] = 1
    doubt = np.zeros((len(flats), 2))
    painted = np.ones(len(flats), bool)
    return ContactMaps(
        inside,
        np.ones_like(inside),
        painted,
        ~painted,
        doubt,
        doubt[0],
        5.0,
        5.0,
        0.5,
        1.0,
        1.0,
        "pressed_away",
        "red",
    )


@pytest.fixture
def verdict(photo: Photo, monkeypatch: pytest.MonkeyPatch) -> Callable[..., str | tuple[str, ...]]:
    """The refusal's code, or the flags, of the sample with such flanks and, if given, such pixels, which are
    taken for sharp."""

    def of(seen: Found, pixels: np.ndarray | None = None) -> str | tuple[str, ...]:
        shown = photo if pixels is None else replace(photo, pixels=pixels)
        if pixels is not None:
            monkeypatch.setattr(judge, "sharpness", lambda _: 0.3)
        try:
            flags = read(shown, finder=lambda *_: seen, reader=told).flags
        except PhotoError as refusal:
            return refusal.code
        return tuple(code for code in flags if code != "cut-off")

    return of


@pytest.mark.parametrize(
    ("chances", "expected"),
    [
        ([BARE] * 6, "no-compound"),
        ([PAINTED], "too-few-teeth"),
        ([PAINTED, BARE], "too-few-teeth"),
        ([BARE, BARE, PAINTED, BARE, BARE], "no-compound"),  # one of many: no brush was there
        ([PAINTED, BARE, PAINTED, BARE, PAINTED], "no-compound"),  # a brush paints neighbours
        ([BARE, PAINTED, PAINTED, BARE], ("few-teeth",)),
        ([BARE, PAINTED, PAINTED, PAINTED, BARE], ()),
    ],
)
def test_paint_is_believed_on_neighbours(
    found: Found, verdict: Any, chances: list[float], expected: str | tuple[str, ...]
) -> None:
    assert verdict(painted(found, chances, contact=0.9)) == expected


def test_paint_without_contact_is_no_pattern(photo: Photo, found: Found) -> None:
    for chances, code in (
        ([PAINTED] * 4, "no-pattern"),
        ([BARE, BARE, PAINTED, PAINTED, BARE], "no-compound"),
    ):
        seen = painted(found, chances, contact=0.1)
        with pytest.raises(PhotoError) as refused:
            read(photo, finder=lambda *_, seen=seen: seen)
        assert refused.value.code == code


@pytest.mark.parametrize(
    ("level", "expected"),
    [(30, "too-dark"), (55, ("dark",)), (90, ()), (200, ()), (255, "glare-over-flanks")],
)
def test_light_is_judged_on_the_flanks(
    found: Found, verdict: Any, photo: Photo, level: int, expected: Any
) -> None:
    pixels = np.full_like(photo.pixels, level)
    assert verdict(painted(found, [PAINTED] * 4, contact=0.9), pixels) == expected


def test_a_dark_photo_without_a_pattern_is_too_dark(found: Found, photo: Photo) -> None:
    """A fault that would only be noted is the reason where nothing is seen."""
    seen = painted(found, [PAINTED] * 4, contact=0.1)
    with pytest.raises(PhotoError) as refused:
        read(replace(photo, pixels=(photo.pixels * 0.28).astype(np.uint8)), finder=lambda *_: seen)
    assert refused.value.code == "too-dark"


def test_a_bright_coat_is_no_glare(found: Found, verdict: Any, photo: Photo) -> None:
    """Yellow and white compound saturate one or two of the three colours; only a lamp's image all three."""
    seen = painted(found, [PAINTED] * 4, contact=0.9)
    for colour in ((120, 255, 255), (255, 255, 200), (20, 60, 255)):
        assert verdict(seen, np.full_like(photo.pixels, colour)) == (), colour
    spotted = photo.pixels.copy() // 2 + 60
    for closeup in seen.closeups:  # a bright band along each flank
        x, y = np.round(closeup.place[16:34:2].reshape(-1, 2)).astype(int).T
        inside = (x >= 0) & (y >= 0) & (x < photo.width) & (y < photo.height)
        for at in zip(x[inside].tolist(), y[inside].tolist(), strict=True):
            cv2.circle(spotted, at, 4, (255, 255, 255), -1)
    assert verdict(seen, spotted) == ("glare",)


def test_small_and_slanted_flanks(found: Found, verdict: Any) -> None:
    seen = painted(found, [PAINTED] * 4, contact=0.9)
    length = float(np.median([flank.length_px for flank in seen.flanks]))

    def scaled(along: float, up: float) -> Found:
        flanks = []
        for flank in seen.flanks:
            toe_root, toe_top, heel_top, heel_root = np.array(list(flank.corners.values()))
            middle = (toe_root + toe_top + heel_top + heel_root) / 4
            u = along * (heel_top + heel_root - toe_top - toe_root) / 4
            v = up * (toe_top + heel_top - toe_root - heel_root) / 4
            coefficients = np.zeros((2, 2, 2))
            coefficients[0, 0], coefficients[1, 0], coefficients[0, 1] = middle, u, v
            flanks.append(replace(flank, map=replace(flank.map, coefficients=coefficients)))
        return replace(seen, flanks=tuple(flanks))

    assert verdict(scaled(1, 1)) == ()
    assert verdict(scaled(80 / length, 80 / length)) == ("small-teeth",)
    assert verdict(scaled(40 / length, 40 / length)) == "teeth-too-small"
    height = float(np.median([flank.height_px / flank.length_px for flank in seen.flanks]))
    assert verdict(scaled(1, 0.1 / height)) == ("oblique",)
    assert verdict(scaled(1, 0.04 / height)) == "too-oblique"


def test_bare_teeth_are_told_but_not_read(
    photo: Photo, found: Found, monkeypatch: pytest.MonkeyPatch
) -> None:
    chances = [BARE if k == 0 else PAINTED for k in range(len(found.flanks))]
    flattened: list[Flank] = []

    def noted(photo: Photo, flank: Flank, axle: Axle | None) -> FlatFlank:
        flattened.append(flank)
        return flatten(photo, flank, axle)

    monkeypatch.setattr("contactread.reading.path.flatten", noted)
    reading = read(photo, finder=lambda *_: painted(found, chances))
    assert len(reading.teeth) == len(found.flanks) == 1 + len(flattened)
    assert not reading.teeth[0].painted
    assert reading.teeth[0].pattern is None
    assert any(tooth.pattern for tooth in reading.teeth[1:])


@pytest.mark.parametrize(("count", "code"), [(4, "no-compound"), (0, "no-ring-gear")])
def test_a_finder_that_finds_nothing_to_read(photo: Photo, found: Found, count: int, code: str) -> None:
    with pytest.raises(PhotoError) as refused:
        read(photo, finder=lambda *_: painted(found, [BARE] * count))
    assert refused.value.code == code


def test_sharpness_is_that_of_the_steepest_edges() -> None:
    """A step between two levels; the same at half the contrast; a slope over ten pixels; and noise alone."""
    step = np.where(np.arange(120) < 60, 60, 180).astype(np.uint8)[None].repeat(90, axis=0)
    faint = (step // 2 + 40).astype(np.uint8)
    slope = np.asarray(cv2.blur(step, (21, 1)))
    assert sharpness(step) == pytest.approx(sharpness(faint), rel=0.05)
    assert 0.3 < sharpness(step) < 0.6
    assert sharpness(np.asarray(slope, np.uint8)) < 0.3 * sharpness(np.asarray(step, np.uint8))
    grain = np.random.default_rng(1).normal(100, 2, (90, 120)).astype(np.uint8)
    assert sharpness(grain) < 0.2
    assert sharpness(np.full((4, 4), 7, np.uint8)) == pytest.approx(0, abs=0.02)
