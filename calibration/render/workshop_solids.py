"""Solids that stand round a gear: case, housing, pinion, rag, fingers, clutter. mm, gear frame."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.render.gear_shape import RingGearShape
from calibration.render.noise import cloud
from calibration.render.patches import Patch, box, lathe, mesh_of, rotation_between, strip_normals, tube

Array = NDArray[np.float64]


def _wobble(rng: np.random.Generator, points: int, segments: int, amount: float) -> Array:
    field = cloud(rng, (points, segments + 1), (segments / 9, 2.0)) * amount
    field[:, -1] = field[:, 0]
    return field.astype(np.float64)


def _bolts(rng: np.random.Generator, radius: float, z: float, count: int, up: float = 1.0) -> Patch:
    size = float(rng.uniform(5, 11))
    tall = float(rng.uniform(4, 10)) * up
    bolt = lathe(np.array([[size * 1.25, z], [size * 1.25, z + 0.25 * tall], [size, z + 0.25 * tall],
                           [size, z + tall], [0, z + tall]]), 6, 1.0)  # fmt: skip
    shift = bolt.moved(np.eye(3), np.array([radius, 0, 0.0]))
    return shift.turned(np.arange(count) * 2 * np.pi / count)


def case(rng: np.random.Generator, shape: RingGearShape) -> Patch:
    """A differential case or hub through the gear's bore, on the pinion's side and behind."""
    (toe_r, heel_r), (toe_z, heel_z) = shape.section(np.array([0.0, 1.0]), np.zeros(2))
    back = min(toe_z, heel_z) - shape.web
    inner = toe_r * float(rng.uniform(0.55, 0.96))
    steps = int(rng.integers(3, 8))
    top = toe_z + float(rng.uniform(5, 90))
    z = np.sort(rng.uniform(toe_z - 6, top, steps))
    r = inner * np.clip(1 - np.cumsum(rng.uniform(-0.05, 0.2, steps)) * float(rng.uniform(0.2, 1)), 0.2, 1.0)
    profile = [[heel_r * float(rng.uniform(0.8, 1.0)), back - float(rng.uniform(8, 25))]]
    profile += [[profile[0][0], back - 0.3], [inner, back - 0.3], [inner, toe_z - 8]]
    profile += [[a, b] for a, b in zip(r, z, strict=True)] + [[r[-1] * 0.6, z[-1]], [0, z[-1]]]
    count = 72
    wob = _wobble(rng, len(profile), count, float(rng.uniform(0, 1.5)))
    parts = [lathe(np.array(profile), count, 3.0, wobble=wob)]
    if rng.random() < 0.5:
        parts.append(_bolts(rng, 0.5 * (r[-1] * 0.6 + r[-1]), z[-1], int(rng.integers(5, 13))))
    if rng.random() < 0.6:
        parts.append(_bolts(rng, heel_r * 0.86, profile[0][1], int(rng.integers(8, 15)), -1.0))
    return mesh_of(parts)


def housing(rng: np.random.Generator, shape: RingGearShape) -> Patch:
    """Walls round the gear, a floor behind, caps and ribs."""
    outer = shape.diameter / 2
    gamma = np.radians(shape.pitch_angle)
    heel_z = -shape.outer_cone_distance * np.cos(gamma)
    wall = outer * float(rng.uniform(1.06, 1.7))
    low, high = heel_z - float(rng.uniform(30, 80)), heel_z + float(rng.uniform(-10, 60))
    span = float(rng.uniform(0.6, 2.0)) * np.pi
    profile = np.array([[wall, high], [wall, low], [0.0, low]])
    rim = np.array([[wall + 25, high], [wall, high]])
    turn = rotation_between(np.array([0, 0, 1.0]), float(rng.uniform(0, 6.28)))
    parts = [
        lathe(profile, 64, 4.0, span, _wobble(rng, 3, 64, float(rng.uniform(0, 4)))).moved(turn, np.zeros(3)),
        lathe(rim, 64, 4.0, span).moved(turn, np.zeros(3)),
    ]
    for _ in range(int(rng.integers(0, 4))):  # bearing caps, ribs, brackets
        size = rng.uniform(15, 90, 3)
        angle = float(rng.uniform(0, 6.28))
        place = np.array([np.cos(angle), np.sin(angle), 0]) * outer * float(rng.uniform(1.1, 1.8))
        place[2] = heel_z + float(rng.uniform(-40, 40))
        parts.append(box(size).moved(rotation_between(rng.standard_normal(3)), place))
    if rng.random() < 0.4:
        parts.append(_bolts(rng, wall + 12, high, int(rng.integers(6, 14))))
    return mesh_of(parts)


def pinion(rng: np.random.Generator, shape: RingGearShape, angle: float) -> Patch:
    """A pinion head and stem that stand over the ring gear at `angle` (rad)."""
    teeth = int(rng.integers(8, 15))
    r = shape.diameter / 2 * teeth / shape.teeth * float(rng.uniform(1.1, 1.5))
    long = shape.face_width * float(rng.uniform(1.0, 1.3))
    n, m = 14, 24 * teeth
    t = np.linspace(0, 1, n)[:, None]
    phi = np.linspace(0, 2 * np.pi, m + 1)[None]
    twist = float(rng.uniform(0.6, 1.2)) * (1 if rng.random() < 0.5 else -1)
    wave = np.tanh(2.0 * np.sin(teeth * (phi + twist * t)))
    radius = r * (0.72 + 0.28 * t) * (1 + 0.13 * wave)
    grid = np.stack([radius * np.cos(phi), radius * np.sin(phi), np.broadcast_to(long * t, radius.shape)], -1)
    uv = np.stack(np.broadcast_arrays(phi * 0.5, t), -1)
    head = strip_normals(grid, uv, np.zeros(3))
    outward = (head.normals * (head.points * [1, 1, 0])).sum() > 0
    if not outward:
        head = Patch(head.points, -head.normals, head.uv, head.faces[:, ::-1])
    stem = lathe(np.array([[0.6 * r, -25], [0.6 * r, 0], [r * 0.7, 0]]), 40)
    shaft = lathe(
        np.array([[r, long], [0.8 * r, long + 2], [0.55 * r, long + 6], [0.55 * r, long + 120]]), 40
    )
    whole = mesh_of([head, stem, shaft])
    mean_r = shape.diameter / 2 - shape.face_width / 2
    radial = np.array([np.cos(angle), np.sin(angle), 0.0])
    start = radial * (mean_r - 0.55 * long) + np.array([0, 0, 0.0])
    gamma = np.radians(shape.pitch_angle)
    pitch_z = -(shape.outer_cone_distance - shape.face_width / 2) * np.cos(gamma)
    start[2] = pitch_z + r * float(rng.uniform(0.85, 1.1))
    return whole.moved(rotation_between(radial), start)


def rag(rng: np.random.Generator, place: Array, size: float) -> Patch:
    """A crumpled cloth of `size` mm at `place` (3,)."""
    n = 26
    height = cloud(rng, (n, n), 7, 2).astype(np.float64) * size * float(rng.uniform(0.04, 0.14))
    x, y = np.meshgrid(np.linspace(-0.5, 0.5, n) * size, np.linspace(-0.5, 0.5, n) * size, indexing="ij")
    grid = np.stack([x, y, height], -1)
    uv = np.stack([x, y], -1) / 80
    sheet = strip_normals(grid, uv, np.array([0, 0, 1.0]))
    tilt = np.array([0, 0, 1.0]) + 0.4 * rng.standard_normal(3)
    return sheet.moved(rotation_between(tilt, float(rng.uniform(0, 6.28))), place)


def finger(rng: np.random.Generator, tip: Array, toward: Array) -> Patch:
    """A bent, tapered, round-ended tube from `tip` (3,) along the direction `toward` (3,)."""
    toward = toward / np.linalg.norm(toward)
    side = np.cross(toward, rng.standard_normal(3))
    side /= np.linalg.norm(side)
    t = np.linspace(0, 1, 18)[:, None]
    path = tip + toward * 95 * t + side * float(rng.uniform(-30, 30)) * t**2
    thick = float(rng.uniform(6, 11))
    radius = (
        thick
        * (0.8 + 0.3 * t[:, 0])
        * np.sqrt(np.clip(1 - (1 - np.minimum(t[:, 0] / 0.09, 1)) ** 2, 0.01, 1))
    )
    radius *= 1 + 0.05 * np.sin(t[:, 0] * 18)
    return tube(path, radius, 14, 2.0)


def clutter(rng: np.random.Generator, centre: Array, spread: float, floor: float, count: int) -> list[Patch]:
    """Nuts, boxes, bottles, rings and discs that stand about `centre` (3,), on z = `floor`. spread: mm."""
    parts = []
    for _ in range(count):
        angle, reach = rng.uniform(0, 6.28), spread * rng.uniform(0.7, 2.2)
        place = centre + np.array([np.cos(angle) * reach, np.sin(angle) * reach, 0])
        kind = rng.integers(4)
        if kind == 0:
            part = box(rng.uniform(10, 110, 3))
        elif kind == 1:
            r, h = float(rng.uniform(8, 45)), float(rng.uniform(10, 150))
            part = lathe(
                np.array([[0, 0], [r, 0], [r, 0.7 * h], [0.4 * r, 0.8 * h], [0.4 * r, h], [0, h]])[::-1], 28
            )
        elif kind == 2:
            r = float(rng.uniform(15, 70))
            part = lathe(np.array([[0.6 * r, 12], [0.6 * r, 0], [r, 0], [r, 12], [0.6 * r, 12.0]])[::-1], 36)
        else:
            part = tube(
                np.cumsum(rng.normal(0, 10, (16, 3)) + rng.normal(0, 12, 3), 0),
                np.full(16, rng.uniform(2, 9)),
                10,
            )
        place[2] = floor + 6
        parts.append(part.moved(rotation_between(rng.standard_normal(3) + np.array([0, 0, 2.0])), place))
    return parts


def toothed(
    rng: np.random.Generator,
    radius: float,
    teeth: int,
    cone: float,
    twist: float = 0.0,
    width: float | None = None,
) -> Patch:
    """A gear about z of straight or slanted teeth, small end up. cone: how fast it narrows. twist: rad."""
    width = radius * float(rng.uniform(0.15, 0.5)) if width is None else width
    n, m = 8, teeth * 14
    t = np.linspace(0, 1, n)[:, None]
    phi = np.linspace(0, 2 * np.pi, m + 1)[None]
    steep = float(rng.uniform(1.3, 3.2))
    wave = np.clip(steep * np.sin(teeth * (phi + twist * (t + 0.3 * t * t))), -1, 1)
    tall = 1.1 * np.pi * radius / teeth * float(rng.uniform(0.5, 0.9))
    shrink = 1 - min(cone, 0.8 * radius / width) * width / radius * t
    r = (radius - tall + tall * wave) * shrink
    z = width * t * float(1 / (1 + 0.4 * cone)) - 0.5 * width
    grid = np.stack([r * np.cos(phi), r * np.sin(phi), np.broadcast_to(z, r.shape)], -1)
    uv = np.stack(np.broadcast_arrays(phi / (2 * np.pi), 0.1 + 0.5 * t), -1)
    rim = strip_normals(grid, uv, np.zeros(3))
    parts = [_facing_out(rim)]
    hub = float(rng.uniform(0.25, 0.9)) * radius * float(shrink[-1, 0])
    for row, sign in ((0, -1.0), (-1, 1.0)):
        disc = np.stack([grid[row], grid[row] * [0, 0, 1.0] + grid[row] * [0.2, 0.2, 0]], 0)
        flat = np.stack([np.broadcast_to(phi[0] / (2 * np.pi), (m + 1,)), np.full(m + 1, 0.8)], -1)
        parts.append(
            strip_normals(disc, np.stack([flat, flat + np.array([0, 0.15])]), np.array([0, 0, sign]))
        )
    if rng.random() < 0.6:
        top = float(z[-1, 0])
        collar = np.array(
            [[hub, top], [hub, top + width * 0.4], [0.5 * hub, top + width * 0.4], [0.5 * hub, top]]
        )
        parts.append(lathe(collar, 64))
    return mesh_of(parts)


def _facing_out(rim: Patch) -> Patch:
    """Turn a rim's triangles and normals away from the axis."""
    if (rim.normals * rim.points * [1, 1, 0]).sum() > 0:
        return rim
    return Patch(rim.points, -rim.normals, rim.uv, rim.faces[:, ::-1])
