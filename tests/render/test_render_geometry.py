"""The ring-gear solid: flank coordinates, hands, closed meshes."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from calibration.render.gear_shape import RingGearShape, flank_angle, flank_points, flank_size, random_shape
from calibration.render.gear_solid import build_gear

SHAPES = {
    "milled left": RingGearShape(),
    "milled right": RingGearShape(hand="right"),
    "hobbed": RingGearShape(cutter_groups=13, cutter_radius=88.0, depth_toe=9.0, depth_heel=9.0),
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("flank", ["convex", "concave"])
def test_flank_points_lie_on_their_section(name: str, flank: str) -> None:
    shape = SHAPES[name]
    u, v = np.meshgrid(np.linspace(0, 1, 7), np.linspace(0, 1, 5))
    points = flank_points(shape, flank, u, v, 3)  # type: ignore[arg-type]
    radius, z = shape.section(u, shape.w_of_v(u, v))
    np.testing.assert_allclose(np.hypot(points[..., 0], points[..., 1]), radius, atol=1e-9)
    np.testing.assert_allclose(points[..., 2], z, atol=1e-9)


def test_face_milled_flank_is_the_cutter_cone() -> None:
    """Every point of a face-milled flank lies on one cone: r = r_c + height * tan(pressure angle)."""
    shape = RingGearShape(hand="left", depth_toe=9.0, depth_heel=9.0)
    gamma, beta = np.radians(shape.pitch_angle), np.radians(shape.spiral)
    along = np.array([np.sin(gamma), 0, -np.cos(gamma)])
    axis = np.array([np.cos(gamma), 0, np.sin(gamma)])
    mean = along * (shape.outer_cone_distance - shape.face_width / 2)
    centre = mean + shape.cutter_radius * (-np.sin(beta) * along + np.cos(beta) * np.array([0, 1.0, 0]))
    u, v = np.meshgrid(np.linspace(0, 1, 7), np.linspace(0, 1, 5))
    points = flank_points(shape, "concave", u, v)
    turn = -shape.thickness * shape.pitch / 2  # undo the turn that sets the tooth's thickness
    c, s = np.cos(turn), np.sin(turn)
    points = points @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1.0]])
    from_centre = points - centre
    height = from_centre @ axis
    distance = np.linalg.norm(from_centre - height[..., None] * axis, axis=-1)
    expected = shape.cutter_radius + height * np.tan(np.radians(shape.pressure_concave))
    np.testing.assert_allclose(distance, expected, atol=1e-6)


@pytest.mark.parametrize("groups", [0, 13])
def test_mean_spiral_angle(groups: int) -> None:
    shape = RingGearShape(cutter_groups=groups, depth_toe=9.0, depth_heel=9.0)
    height = 1 - shape.addendum  # the pitch cone
    v = (height * 9.0 - shape.fillet) / (9.0 - shape.fillet - shape.edge_break)
    p = flank_points(shape, "convex", np.array([0.499, 0.501]), np.full(2, v))
    step, middle = p[1] - p[0], p.mean(0)
    radial = np.array([middle[0], middle[1], 0]) / np.hypot(middle[0], middle[1])
    gamma = np.radians(shape.pitch_angle)
    outward = np.sin(gamma) * radial - np.cos(gamma) * np.array([0, 0, 1.0])
    across = np.cross([0, 0, 1.0], radial)
    assert np.degrees(np.arctan2(step @ across, step @ outward)) == pytest.approx(shape.spiral, abs=0.1)


def test_right_hand_is_the_mirror_of_left() -> None:
    u, v = np.meshgrid(np.linspace(0, 1, 5), np.linspace(0, 1, 5))
    left = flank_points(SHAPES["milled left"], "convex", u, v)
    right = flank_points(SHAPES["milled right"], "convex", u, v)
    np.testing.assert_allclose(right, left * [1, -1, 1], atol=1e-9)


def test_right_hand_leans_clockwise_outwards() -> None:
    p = flank_points(SHAPES["milled right"], "convex", np.array([0.0, 1.0]), np.array([0.5, 0.5]))
    angle = np.arctan2(p[:, 1], p[:, 0])
    assert angle[1] < angle[0]


def test_convex_bulges_and_concave_is_hollow() -> None:
    """Seen along the length, the middle of a convex flank stands out of the chord between its ends."""
    shape = RingGearShape()
    for flank, sign in (("convex", 1), ("concave", -1)):
        p = flank_points(shape, flank, np.array([0, 0.5, 1.0]), np.full(3, 0.5))  # type: ignore[arg-type]
        angle = np.arctan2(p[1, 1], p[1, 0])
        tangent = np.array([-np.sin(angle), np.cos(angle), 0])
        side = -shape.sense if flank == "convex" else shape.sense
        assert sign * side * ((p[1] - (p[0] + p[2]) / 2) @ tangent) > 0


def test_meshes_close_and_repeat() -> None:
    """Joined by place, every edge of the gear belongs to two triangles, but where flank meets flank grid."""
    shape = replace(RingGearShape(), teeth=35)
    gear = build_gear(shape, 9, 5)
    for name in ("convex", "concave", "rest"):
        patch = getattr(gear, name)
        assert len(patch.faces) == gear.tooth_faces[name] * shape.teeth
        assert np.allclose(np.linalg.norm(patch.normals, axis=1), 1, atol=1e-6)
    ids: dict[tuple[int, ...], int] = {}
    edges: Counter[tuple[int, int]] = Counter()
    for name in ("convex", "concave", "rest"):
        patch = getattr(gear, name)
        keys = [ids.setdefault(tuple(k), len(ids)) for k in np.round(patch.points * 200).astype(int).tolist()]
        for a, b, c in patch.faces:
            for i, j in ((a, b), (b, c), (c, a)):
                if keys[i] != keys[j]:
                    edges[(min(keys[i], keys[j]), max(keys[i], keys[j]))] += 1
    once = sum(1 for n in edges.values() if n == 1) / shape.teeth
    # open: only the inner and outer circle of the root land, where the body joins, and the foot of the ends
    assert once < 40
    assert max(edges.values()) <= 4


def test_corner_vertices_are_the_flank_corners() -> None:
    shape = RingGearShape()
    gear = build_gear(shape)
    at = {(0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0)}
    per_tooth = len(gear.convex.points) // shape.teeth
    for tooth in (0, 5):
        part = slice(tooth * per_tooth, (tooth + 1) * per_tooth)
        for point, uv in zip(gear.convex.points[part], gear.convex.uv[part], strict=True):
            if tuple(uv.tolist()) in at:
                wanted = flank_points(shape, "convex", uv[:1], uv[1:], tooth)[0]
                np.testing.assert_allclose(point, wanted, atol=1e-9)


def test_random_shapes_are_sound() -> None:
    rng = np.random.default_rng(4)
    for _ in range(25):
        shape = random_shape(rng)
        length, height = flank_size(shape)
        assert 10 < length < 90 and 3 < height < 20
        assert 33 <= shape.teeth <= 47 and 150 <= shape.diameter <= 300


@pytest.mark.parametrize("name", ["milled left", "milled right"])
def test_fillets_of_a_milled_gear_start_in_a_plane(name: str) -> None:
    """The blade tips sweep a plane across the cutter's axis. Midway between a tooth's flanks, where the
    turns that set its thickness cancel, the fillets' start bows out of it by no more than 0.02 mm; on a
    cone about the gear axis it would by far more."""
    shape = SHAPES[name]
    u = np.linspace(0, 1, 21)
    w = shape.w_of_v(u, 0 * u)
    theta = (flank_angle(shape, "convex", u, w) + flank_angle(shape, "concave", u, w)) / 2
    radius, z = shape.section(u, w)
    tips = np.radians(shape.pitch_angle) - np.arctan(shape.root_fall)  # angle of the cutter's axis

    def bow(lift: np.ndarray) -> float:
        """How far the line leaves a straight one, seen across the cutter's axis, after it is let down, mm."""
        height = np.cos(tips) * radius * np.cos(theta) + np.sin(tips) * z - lift
        return float(np.abs(height - np.polyval(np.polyfit(u, height, 1), u)).max())

    assert bow(0 * u) < 0.02
    assert bow((1 - w) * np.polyval(shape.root_rise, u)) > 0.1


@pytest.mark.parametrize("name", ["milled left", "milled right"])
def test_root_rises_to_both_ends(name: str) -> None:
    shape = SHAPES[name]
    toe, quarter, middle, three_quarters, heel = np.polyval(shape.root_rise, [0, 0.25, 0.5, 0.75, 1])
    assert abs(middle) < 1e-3
    assert toe > quarter > 0.02 and heel > three_quarters > 0.02
    across = replace(shape, spiral=0.0)  # the blade crosses the face along one cone line: hardly any rise
    assert np.polyval(across.root_rise, [0.0, 1.0]).min() > 0
    assert np.polyval(across.root_rise, [0.0, 1.0]).max() < 0.01


def test_root_fall_is_the_dedendum_over_the_face() -> None:
    shape = RingGearShape(depth_heel=10.0, depth_toe=8.0, addendum=0.25, face_width=30.0)
    assert shape.root_fall == pytest.approx(0.75 * 2.0 / 30.0)
    assert RingGearShape(depth_heel=9.0, depth_toe=9.0).root_fall == 0
