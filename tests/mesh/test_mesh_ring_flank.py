"""Ring-gear flanks: exact normals, nominal angles at the mean point, both hands, what can't be cut."""

from __future__ import annotations

from dataclasses import replace
from math import cos, sin

import numpy as np
import pytest

from calibration.mechanics.directions import ISO_SAMPLES
from contactread.axle import FlankName, Hand
from contactread.errors import MechanicsError
from contactread.mesh.blank import Blank, blank_of
from contactread.mesh.ring_flank import RingFlank

SAMPLES = [(name, flank) for name in ISO_SAMPLES for flank in ("convex", "concave")]


def blank(name: str, hand: Hand = "left") -> Blank:
    gears, proportions = ISO_SAMPLES[name]
    return blank_of(replace(gears, hand=hand), proportions)


@pytest.mark.parametrize(("name", "flank"), SAMPLES)
def test_normals_against_finite_differences(name: str, flank: FlankName) -> None:
    ring = RingFlank(blank(name), flank)
    u, v = np.linspace(0, 1, 7)[:, None], np.linspace(0, 1, 5)[None]
    _, normals = ring.points_and_normals(u, v)
    step = 1e-5
    by_u = ring.points(u + step, v) - ring.points(u - step, v)
    by_v = ring.points(u, v + step) - ring.points(u, v - step)
    for tangent in (by_u, by_v):
        tangent = tangent / np.linalg.norm(tangent, axis=-1, keepdims=True)
        assert np.abs(np.einsum("ijm,ijm->ij", tangent, normals)).max() < 1e-8
    assert np.linalg.norm(normals, axis=-1) == pytest.approx(1.0)


@pytest.mark.parametrize(("name", "flank"), SAMPLES)
def test_nominal_spiral_and_pressure_angle_at_the_mean_point(name: str, flank: FlankName) -> None:
    b = blank(name)
    u, v = 1 - b.mean_place, (b.dedendum2 - b.clearance) / b.working_depth
    point, normal = RingFlank(b, flank).points_and_normals(u, v)
    assert np.hypot(point[0], point[1]) == pytest.approx(b.cones.radius2, rel=1e-9)
    azimuth = np.arctan2(point[1], point[0])
    c, s = np.cos(azimuth), np.sin(azimuth)
    normal = np.array([c * normal[0] + s * normal[1], c * normal[1] - s * normal[0], normal[2]])
    up = np.array([cos(b.cones.cone2), 0, sin(b.cones.cone2)])
    along = np.array([sin(b.cones.cone2), 0, -cos(b.cones.cone2)])
    pressure = b.pressure_drive if flank == "convex" else b.pressure_coast
    assert np.arcsin(normal @ up) == pytest.approx(pressure, abs=1e-9)
    flat = normal - (normal @ up) * up
    side = 1 if flank == "concave" else -1
    assert np.arctan2(-side * (flat @ along), side * flat[1]) == pytest.approx(b.cones.spiral2, abs=1e-9)
    assert side * azimuth * b.cones.radius2 * cos(b.cones.spiral2) == pytest.approx(b.thickness2 / 2)


@pytest.mark.parametrize("name", list(ISO_SAMPLES))
def test_right_hand_is_the_mirror_image(name: str) -> None:
    for flank in ("convex", "concave"):
        left = RingFlank(blank(name, "left"), flank).points_and_normals(0.3, 0.6)
        right = RingFlank(blank(name, "right"), flank).points_and_normals(0.3, 0.6)
        for a, b in zip(left, right, strict=True):
            assert a * [1, -1, 1] == pytest.approx(b)


def test_tooth_leans_the_way_of_its_hand() -> None:
    """Right hand: seen from the toothed side (+z), the heel lies clockwise of the toe."""
    ring = RingFlank(blank("D1", "right"), "convex")
    toe, heel = ring.points(0.0, 0.5), ring.points(1.0, 0.5)
    assert np.arctan2(heel[1], heel[0]) < np.arctan2(toe[1], toe[0])


@pytest.mark.parametrize("name", list(ISO_SAMPLES))
def test_tooth_is_thinner_at_the_top_and_flanks_bulge_the_right_way(name: str) -> None:
    b = blank(name)
    for v0, v1 in ((0.0, 0.5), (0.5, 1.0)):
        widths = []
        for v in (v0, v1):
            gap = [RingFlank(b, f).points(0.5, v) for f in ("convex", "concave")]
            widths.append(abs(np.arctan2(gap[1][1], gap[1][0]) - np.arctan2(gap[0][1], gap[0][0])))
        assert widths[1] < widths[0]
    cases: tuple[tuple[FlankName, bool], ...] = (("convex", True), ("concave", False))
    for flank, bulges in cases:
        points, normals = RingFlank(b, flank).points_and_normals(np.array([0.0, 0.5, 1.0]), 0.5)
        middle = points[1] - (points[0] + points[2]) / 2
        assert bool(middle @ normals[1] > 0) is bulges


def test_face_milled_flank_is_a_cone_about_the_cutter_axis() -> None:
    """All flank normals of a cone make one angle with its axis, and all points lie on it."""
    ring = RingFlank(blank("D2"), "concave")
    points, normals = ring.points_and_normals(np.linspace(0, 1, 9)[:, None], np.linspace(0, 1, 5)[None])
    cutter = ring._cutter
    axis = turn(cutter.axis, cutter.azimuth)
    assert np.ptp(normals @ axis) < 1e-9
    apex_free = points - turn(cutter.centre, cutter.azimuth)
    height = apex_free @ axis
    radius = np.linalg.norm(apex_free - height[..., None] * axis, axis=-1)
    slope = np.polyfit(height.ravel(), radius.ravel(), 1)
    assert radius == pytest.approx(np.polyval(slope, height), abs=1e-8)


def turn(vector: np.ndarray, angle: float) -> np.ndarray:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c * vector[0] - s * vector[1], s * vector[0] + c * vector[1], vector[2]])


def test_a_cutter_that_cannot_reach_is_refused() -> None:
    gears = replace(ISO_SAMPLES["D1"][0], cutter_radius_mm=28.0, spiral_deg=50.0, face_width_mm=40.0)
    with pytest.raises(MechanicsError) as caught:
        RingFlank(blank_of(gears), "convex").points(np.linspace(0, 1, 5), 0.5)
    assert caught.value.code in ("gear-set-impossible", "flank-not-cut")
