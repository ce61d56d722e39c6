"""Parts that are no ring gear but look like workshop metal: spur and straight-bevel gears, discs, rings."""

from __future__ import annotations

import numpy as np

from calibration.render.compound import Compound
from calibration.render.noise import cloud, ramp
from calibration.render.patches import Patch, box, lathe, mesh_of, strip_normals
from calibration.render.steel import Steel, finish
from calibration.render.surroundings import Thing


def straight_gear(rng: np.random.Generator, radius: float, steel: Steel, compound: Compound | None) -> Thing:
    """A spur gear, helical gear or straight bevel gear, at times with compound on some teeth."""
    teeth = int(rng.integers(18, 60))
    cone = float(rng.choice([0.0, rng.uniform(0.3, 1.2)]))
    twist = float(rng.choice([0.0, rng.uniform(-0.25, 0.25)]))
    width = radius * float(rng.uniform(0.15, 0.5))
    n, m = 6, teeth * 14
    t = np.linspace(0, 1, n)[:, None]
    phi = np.linspace(0, 2 * np.pi, m + 1)[None]
    wave = np.clip(2.2 * np.sin(teeth * (phi + twist * t)), -1, 1)
    tall = 1.1 * np.pi * radius / teeth * float(rng.uniform(0.5, 0.9))
    shrink = 1 - cone * width / radius * t
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
        tube = np.array(
            [[hub, top], [hub, top + width * 0.4], [0.5 * hub, top + width * 0.4], [0.5 * hub, top]]
        )
        parts.append(lathe(tube, 64))
    shape = (160, 1024)
    thickness = None
    if compound is not None:
        x = (np.arange(shape[1], dtype=np.float32) / shape[1])[None]
        near = np.minimum(x, 1 - x) < float(rng.uniform(0.05, 0.5))
        low = float(rng.uniform(-1.5, 0.8))
        spread = ramp(cloud(rng, shape, 14.0, 3), low, low + float(rng.uniform(0.2, 1.5)))
        thickness = (spread * near * compound.thickness).astype(np.float32)
    return Thing(mesh_of(parts), finish(rng, steel, shape, 1.6, thickness, compound))


def disc_or_ring(rng: np.random.Generator, radius: float, steel: Steel) -> Thing:
    """A brake-disc-like plate, a bearing-like ring with rollers, or a block with bores."""
    kind = int(rng.integers(3))
    parts: list[Patch] = []
    if kind == 0:
        inner, hat = radius * float(rng.uniform(0.45, 0.65)), float(rng.uniform(10, 50))
        profile = np.array(
            [[0, hat], [inner, hat], [inner, 8], [radius, 8], [radius, -8], [inner * 0.9, -8.0]]
        )
        parts.append(lathe(profile[::-1], 90, 4.0))
        hole = lathe(np.array([[6, hat + 0.2], [0, hat + 0.2]]), 14)
        count = int(rng.integers(4, 8))
        hole = hole.moved(np.eye(3), np.array([inner * 0.6, 0, 0]))
        parts.append(hole.turned(np.arange(count) * 2 * np.pi / count))
    elif kind == 1:
        inner = radius * float(rng.uniform(0.6, 0.8))
        for a, b in ((inner * 0.92, inner), (radius * 0.94, radius)):
            parts.append(lathe(np.array([[a, 12], [a, -12], [b, -12], [b, 12], [a, 12.0]])[::-1], 80, 3.0))
        r = (radius * 0.94 - inner) / 2
        arc = np.linspace(np.pi / 2, -np.pi / 2, 9)
        ball = lathe(np.stack([r * np.cos(arc), r * np.sin(arc)], -1)[::-1], 16)
        ball = ball.moved(np.eye(3), np.array([(inner + radius * 0.94) / 2, 0, 0]))
        count = int(2 * np.pi * inner / (2.4 * r))
        parts.append(ball.turned(np.arange(count) * 2 * np.pi / count))
    else:
        parts.append(box(np.array([1.6, 1.2, 0.4]) * radius, 2.0))
        for _ in range(int(rng.integers(3, 9))):
            r = float(rng.uniform(0.05, 0.2)) * radius
            plug = lathe(np.array([[r, 0], [r, 8.0], [0.6 * r, 8.0], [0.6 * r, -6], [0, -6]]), 24)
            parts.append(plug.moved(np.eye(3), np.array([*rng.uniform(-0.6, 0.6, 2) * radius, 0.2 * radius])))
    return Thing(mesh_of(parts), finish(rng, steel, (160, 512), 2.0, None, None))


def _facing_out(rim: Patch) -> Patch:
    """Turn a rim's triangles and normals away from the axis."""
    if (rim.normals * rim.points * [1, 1, 0]).sum() > 0:
        return rim
    return Patch(rim.points, -rim.normals, rim.uv, rim.faces[:, ::-1])
