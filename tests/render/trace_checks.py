"""The path tracer's labels against its own pixels and against our projection.

An unsuitable LLVM ends the process that traces, so `test_render_trace.py` runs these in one of their own.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.render.camera import Camera
from calibration.render.compound import random_compound
from calibration.render.dressed_gear import DressedGear, dress
from calibration.render.gear_shape import RingGearShape, flank_points
from calibration.render.labels import labels_of, tooth_records
from calibration.render.lights import random_light
from calibration.render.scene import SHAPES, Stage, use_variant
from calibration.render.steel import random_steel
from calibration.render.surroundings import random_surroundings
from calibration.render.viewpoint import random_camera, tooth_frame
from contactread.axle import FlankName

Staged = tuple[Stage, DressedGear, Camera]
FLANKS: tuple[tuple[FlankName, int], ...] = (("convex", 1), ("concave", 2))


@pytest.fixture(scope="module")
def staged() -> Staged:
    use_variant("llvm_ad_rgb")
    rng = np.random.default_rng(6)
    shape = RingGearShape()
    dressed = dress(rng, shape, random_steel(rng), random_compound(rng), 8, (40, 160))
    stage = Stage(dressed, random_surroundings(rng, shape, 0.0, kind="bench"))
    camera, middle = random_camera(rng, shape, "convex", 0, 160, "clear")
    stage.light_up(random_light(rng, camera, middle, np.array([0, 0, 1.0])))
    return stage, dressed, camera


def test_rays_find_the_flank_point_they_are_sent_to(staged: Staged) -> None:
    """Rays sent to known (u, v) on a flank come back with that tooth, u and v."""
    stage, dressed, _ = staged
    shape = dressed.gear.shape
    for name, code in FLANKS:
        middle, out, _, normal = tooth_frame(shape, name, 2)
        camera = Camera(
            middle + 120 * (0.8 * out + 0.6 * normal), middle, out + normal * 0.1, 300, 200, 150, 0.05
        )
        u, v = np.meshgrid(np.linspace(0.1, 0.9, 7), np.linspace(0.3, 0.9, 4))
        pixels = camera.project(flank_points(shape, name, u, v, 2))
        labels = labels_of(stage.hits_at(camera, pixels), dressed)
        here = (labels.flank == code) & (labels.tooth == 2)
        assert here.mean() > 0.7
        assert np.abs(labels.u - u)[here].max() < 0.01
        assert np.abs(labels.v - v)[here].max() < 0.03


@pytest.mark.parametrize("upright", [False, True])
def test_picture_and_labels_agree(staged: Staged, upright: bool) -> None:
    """The traced albedo fits the colour that the labels' own rays find on the atlas, and best unshifted."""
    stage, dressed, camera = staged
    width, height = (120, 160) if upright else (160, 120)
    camera = Camera(camera.origin, camera.target, camera.up, 0.8 * camera.focal_px, width, height,
                    aperture=0.001, focus=camera.focus)  # fmt: skip
    hits = stage.hits(camera)
    layers, scale = stage.layers(camera, 4, 1)
    assert np.isfinite(layers).all()
    rows, columns = layers.shape[:2]
    source = (camera.pixel_grid() - camera.centre) * scale + [(columns - 1) / 2, (rows - 1) / 2]
    x, y = source.astype(np.float32)[..., 0], source.astype(np.float32)[..., 1]
    traced = cv2.remap(layers[..., 3], x, y, cv2.INTER_LINEAR)
    flank = hits.shape == SHAPES.index("convex")
    assert flank.mean() > 0.05
    colour = dressed.finishes["convex"].colour[..., 0]
    expected = np.zeros(hits.shape.shape, np.float32)
    place = (hits.uv[flank] * [colour.shape[1], colour.shape[0]]).astype(int)
    expected[flank] = colour[
        np.minimum(place[:, 1], colour.shape[0] - 1), np.minimum(place[:, 0], colour.shape[1] - 1)
    ]

    def misfit(dx: int, dy: int) -> float:
        both = flank & np.roll(flank, (dy, dx), (0, 1))
        return float(np.abs(np.roll(expected, (dy, dx), (0, 1)) - traced)[both].mean())

    shifts = [(dx, dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
    assert min(shifts, key=lambda s: misfit(*s)) == (0, 0)


def test_tooth_records_are_whole(staged: Staged) -> None:
    stage, dressed, camera = staged
    labels = labels_of(stage.hits(camera), dressed)
    records = tooth_records(stage, dressed, camera, "convex", labels)
    assert records
    assert any(r["painted"] and r["contact"] for r in records)
    for r in records:
        assert 0 <= float(r["visible_fraction"]) <= float(r["unoccluded_fraction"]) <= 1
        assert set(r["corners_px"]) == {"toe_root", "toe_top", "heel_top", "heel_root"}
