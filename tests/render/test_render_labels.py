"""Labels, patch numbers, camera and development: no path tracer needed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.render.camera import Camera
from calibration.render.camera_post import (
    Development,
    develop,
    jpeg,
    random_development,
    undistorted_to_distorted,
)
from calibration.render.compound import PAINTED, TILES, State, lay, random_compound
from calibration.render.dressed_gear import atlas_v, dress, flank_v
from calibration.render.gear_shape import RingGearShape
from calibration.render.labels import Labels, decode, encode, mask_of
from calibration.render.patch_shape import PatchForm, numbers_of, region
from calibration.render.steel import random_steel


def camera(k1: float = 0.06, k2: float = -0.02) -> Camera:
    return Camera(
        np.array([40.0, -30, 180]), np.array([10.0, 5, 0]), np.array([0.2, 1, 0]), 700.0, 640, 424, k1, k2
    )


def test_encode_and_decode() -> None:
    rng = np.random.default_rng(0)
    shape = (7, 9)
    flank = rng.integers(0, 3, shape).astype(np.uint8)
    labels = Labels(
        flank,
        np.where(flank > 0, rng.integers(0, 47, shape), -1),
        rng.random(shape),
        rng.random(shape),
        rng.random(shape) > 0.5,
        rng.random(shape) > 0.5,
        flank > 0,
        rng.random(shape) > 0.5,
    )
    back = decode(encode(labels))
    for name in ("flank", "tooth", "painted", "contact", "gear", "unrolled"):
        np.testing.assert_array_equal(getattr(back, name), getattr(labels, name))
    np.testing.assert_allclose(back.u, labels.u, atol=0.5 / 255 + 1e-9)
    assert set(np.unique(mask_of(labels, "convex"))) <= {0, 1, 2, 3}


def test_atlas_rows_there_and_back() -> None:
    tile = np.array([0, 3, TILES - 1])
    v = np.array([0.0, 0.37, 1.0])
    np.testing.assert_allclose(flank_v(atlas_v(tile, v, 80), tile, 80), v, atol=1e-9)


def test_numbers_of_a_tilted_ellipse() -> None:
    """Against the closed form: centroid, area pi a b, and the axis a known slope makes in mm."""
    size = (40.0, 8.0)
    rows, columns = 200, 800
    u, v = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
    x, y = (u - 0.45) * size[0], (v - 0.55) * size[1]
    angle = np.radians(6.0)
    along, up = x * np.cos(angle) + y * np.sin(angle), -x * np.sin(angle) + y * np.cos(angle)
    numbers = numbers_of((along / 8) ** 2 + (up / 1.5) ** 2 < 1, size)
    assert numbers is not None
    assert numbers.centroid == pytest.approx((0.45, 0.55), abs=2e-3)
    assert numbers.area_fraction == pytest.approx(np.pi * 8 * 1.5 / (size[0] * size[1]), rel=0.01)
    assert numbers.tilt_deg == pytest.approx(6.0, abs=0.1)
    assert numbers.runs_off == frozenset()


def test_numbers_of_the_drawn_patch() -> None:
    """The truth comes from the very mask that the compound was laid with, and lies where it was asked."""
    rng = np.random.default_rng(1)
    form = PatchForm((0.4, 0.6), (0.25, 0.2), ragged=0.0)
    layer = lay(rng, random_compound(rng, "yellow"), form, (38.0, 8.0), (60, 240))
    centres = []
    for i in range(PAINTED):
        mask = layer.contact[i * 60 : (i + 1) * 60]
        numbers = numbers_of(mask, (38.0, 8.0))
        assert numbers is not None
        centres.append(numbers.centroid)
    # the teeth swing (runout) and scatter about the common place
    assert np.abs(np.mean(centres, 0) - [0.4, 0.6]).max() < 0.08
    assert not layer.contact[PAINTED * 60 :].any()


def test_an_unrolled_tooth_has_no_contact_and_a_thicker_coat() -> None:
    rng = np.random.default_rng(2)
    form = PatchForm((0.5, 0.5), (0.3, 0.3), ragged=0.0)
    compound = replace(random_compound(rng, "yellow"), polarity="pressed_away", wet=2.0, miss=-3.0)
    wet_state: State = "wet"
    wiped: State = "wiped"
    states = (wet_state,) * 6 + (wiped,) * (PAINTED - 6)
    layer = lay(rng, compound, form, (38.0, 8.0), (60, 240), None, states)
    wet, rolled = layer.thickness[: 6 * 60], layer.thickness[6 * 60 : PAINTED * 60]
    assert not layer.contact[: 6 * 60].any() and layer.contact[6 * 60 : PAINTED * 60].any()
    assert np.median(wet) > 1.3 * np.median(rolled)


def test_patch_edges_and_emptiness() -> None:
    u, v = (a.astype(np.float32) for a in np.meshgrid(np.linspace(0, 1, 50), np.linspace(0, 1, 30)))
    low = numbers_of(region(PatchForm((0.05, 0.0), (0.3, 0.3)), u, v, (38, 8)) > 0, (38, 8))
    assert low is not None and low.runs_off == {"toe", "root"}
    assert numbers_of(np.zeros((30, 50), bool), (38, 8)) is None


def test_distortion_inverts() -> None:
    c = camera()
    p = np.stack(np.meshgrid(np.linspace(0, 639, 9), np.linspace(0, 423, 7)), -1)
    np.testing.assert_allclose(c.distort(c.undistort(p)), p, atol=1e-6)


def test_projection_meets_the_pixel_ray() -> None:
    c = camera()
    pixels = np.array([[3.0, 7.0], [320.5, 200.25], [620.0, 400.0]])
    points = c.origin + 150 * c.directions(pixels)
    np.testing.assert_allclose(c.project(points), pixels, atol=1e-6)
    assert np.isnan(c.project(c.origin - 10 * c.axes[2])).all()


def test_resampling_puts_the_lens_into_the_picture() -> None:
    """A dot in the undistorted picture lands where `distort` says."""
    c = camera(0.1, 0.0)
    scale = 1 / c.overscan()
    source = np.zeros((480, 640, 3), np.float32)
    source[100:103, 150:153] = 1.0
    dot = (np.array([151.0, 101.0]) - np.array([319.5, 239.5])) / scale + c.centre
    out = undistorted_to_distorted(source, c, scale)[..., 0]
    y, x = np.unravel_index(int(out.argmax()), out.shape)
    assert np.abs(np.array([x, y]) - c.distort(dot)).max() < 1.5


def test_development_is_a_picture_and_reacts_to_ev() -> None:
    rng = np.random.default_rng(2)
    image = np.full((60, 80, 3), 0.2, np.float32)
    plain = Development(vignette=0.0)
    mid = develop(image, plain, rng, 1.0).mean()
    assert develop(image, Development(ev=-2, vignette=0.0), rng, 1.0).mean() < mid
    for _ in range(20):
        out = develop(image, random_development(rng), rng, 1.0)
        assert out.dtype == np.uint8 and out.shape == image.shape
    assert jpeg(out, 80)[:2] == b"\xff\xd8"


@pytest.mark.parametrize("count", [3, 12, 99])
def test_dressed_teeth_share_tiles_rightly(count: int) -> None:
    rng = np.random.default_rng(3)
    shape = RingGearShape()
    dressed = dress(rng, shape, random_steel(rng), random_compound(rng), count, (24, 64))
    assert len(dressed.painted) == min(count, shape.teeth)
    for tooth in range(shape.teeth):
        assert (dressed.tile_of_tooth[tooth] < PAINTED) == (tooth in dressed.painted)
        assert (dressed.contact("convex", tooth) is not None) == (tooth in dressed.painted)
