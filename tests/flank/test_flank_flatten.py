"""Flattening: every flat pixel comes from its place in the picture, at the picture's own resolution."""

from __future__ import annotations

import numpy as np
import pytest
from flank_corner_scenes import SIZE, marks, scene

from contactread.axle import Axle, GearSet
from contactread.flank.corners import flanks_from_points
from contactread.flank.flank import Flank, FlankMap
from contactread.flank.flatten import flatten
from contactread.photo.photo import Photo


def ramp_photo(width: int = 1600, height: int = 1200) -> Photo:
    """Blue grows with x, green with y."""
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    pixels = np.stack([x * 256 // width, y * 256 // height, 0 * x], axis=2).astype(np.uint8)
    return Photo(None, pixels, "", "png")


def straight(x0: float, y0: float, width: float, height: float) -> Flank:
    """A rectangle in the picture: root at the bottom, toe at the left."""
    coefficients = np.zeros((2, 2, 2))
    coefficients[0, 0] = x0 + width / 2, y0 - height / 2
    coefficients[1, 0, 0], coefficients[0, 1, 1] = width / 2, -height / 2
    return Flank(FlankMap(coefficients), None, 1.0, 0.0, "corners")


def test_pixels_come_from_their_places() -> None:
    photo = ramp_photo()
    for flank in flanks_from_points(marks(scene()), SIZE):
        flat = flatten(photo, flank)
        rows, columns = flat.seen.shape
        u, v = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
        x, y = np.moveaxis(flank.map(u, v), -1, 0)
        inside = (x > 2) & (x < 1597) & (y > 2) & (y < 1197)
        assert np.abs(flat.pixels[..., 0] - x * 256 / 1600)[inside].max() < 2
        assert np.abs(flat.pixels[..., 1] - y * 256 / 1200)[inside].max() < 2


def test_outside_the_picture_is_not_seen() -> None:
    flat = flatten(ramp_photo(), straight(-288, 600, 576, 96))
    assert not flat.seen[:, :143].any()
    assert flat.seen[:, 145:].all()


def test_a_large_picture_is_averaged_not_skipped() -> None:
    noise = np.random.default_rng(0).integers(0, 2, (2400, 3200, 1), np.uint8) * 255
    photo = Photo(None, np.repeat(noise, 3, axis=2), "", "png")
    flat = flatten(photo, straight(100, 2200, 2880, 1920))
    assert flat.pixels.std() < 30  # bare sampling of black and white noise would give about 80


def test_the_tooth_in_front_hides() -> None:
    square = np.array([[100.0, 0], [388, 0], [388, 1200], [100, 1200]])
    flank = straight(100, 600, 576, 96)
    from dataclasses import replace

    hidden = flatten(ramp_photo(), replace(flank, covered_by=(square,))).seen
    assert not hidden[:, :140].any() and hidden[:, 148:].all()


def test_size_in_mm_from_the_axle() -> None:
    gears = GearSet(pinion_teeth=11, ring_teeth=41, ring_diameter_mm=216, face_width_mm=32)
    flat = flatten(ramp_photo(), straight(100, 600, 576, 96), Axle(gears))
    assert flat.mm_size == pytest.approx((32, 32 * 0.24))
    assert flatten(ramp_photo(), straight(100, 600, 576, 96)).mm_size is None


def test_a_flank_wholly_outside_the_picture() -> None:
    flat = flatten(ramp_photo(), straight(5000, 5000, 576, 96))
    assert not flat.seen.any()
