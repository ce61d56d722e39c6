"""An axle housing with its cover off, and what sits in its mouth: flange, bearing caps, carrier.

mm, gear frame. The mouth opens sideways from the gear's axis. Local places (x, y, z) have x
along the gear's axis (to the pinion's side), y beside it, and z out of the mouth;
`Mouth.moved` puts them into the gear frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.render.gear_shape import RingGearShape, flank_angle
from calibration.render.noise import cloud
from calibration.render.patches import (
    Patch,
    box,
    lathe,
    mesh_of,
    nothing,
    rotation_between,
    strip_normals,
    tube,
)
from calibration.render.workshop_solids import toothed

Array = NDArray[np.float64]
SWATCHES = 4  # rows and columns of colours on the texture of `trim`


@dataclass(frozen=True, eq=False)
class Mouth:
    """out, side: unit vectors out of the mouth and beside it. middle: of the opening, in the flange's plane.
    half: half its length along the axle and half its height."""

    out: Array
    side: Array
    middle: Array
    half: tuple[float, float]

    @property
    def turn(self) -> Array:
        """Columns: the local axes in the gear frame."""
        return np.stack([np.array([0.0, 0.0, 1.0]), self.side, self.out], 1)

    def moved(self, part: Patch) -> Patch:
        """A local patch in the gear frame."""
        return part.moved(self.turn, np.zeros(3))


@dataclass(frozen=True, eq=False)
class HousingParts:
    """case: what turns with the gear. housing: castings. flange: the cover's machined seat and caps. trim:
    small coloured parts, whose texture has SWATCHES x SWATCHES colours."""

    mouth: Mouth
    case: Patch
    housing: Patch
    flange: Patch
    trim: Patch


def swatch(part: Patch, number: int) -> Patch:
    """The part in one of the colours of the swatch texture."""
    wave = 0.1 + 0.8 * np.abs((part.uv % 2.0) - 1.0)
    corner = np.array([number % SWATCHES, number // SWATCHES % SWATCHES])
    return Patch(part.points, part.normals, (corner + wave) / SWATCHES, part.faces)


def open_housing(rng: np.random.Generator, shape: RingGearShape, angle: float) -> HousingParts:
    """A housing whose mouth looks out at about `angle` (rad, about the gear's axis)."""
    turn = angle + float(rng.normal(0, 0.75))
    out = np.array([np.cos(turn), np.sin(turn), 0.0])
    side = np.cross(out, [0, 0, 1.0])
    radius = shape.diameter / 2
    (toe_r, heel_r), (toe_z, heel_z) = shape.section(np.array([0.0, 1.0]), np.zeros(2))
    back = min(toe_z, heel_z) - shape.web
    far = back + radius * float(rng.uniform(1.4, 2.1))
    half = (
        (far - back) / 2 + radius * float(rng.uniform(0.1, 0.45)),
        radius * float(rng.uniform(1.1, 1.45)),
    )
    plane = radius * float(rng.uniform(0.1, 0.85))
    x = (far + back) / 2 + float(rng.normal(0, 0.08)) * radius
    mouth = Mouth(out, side, np.array([0, 0, x]) + out * plane, half)
    castings, seat, trim = _walls(rng, mouth, radius, x, plane)
    hub = toe_r * float(rng.uniform(0.5, 0.7))
    caps, cap_trim = _caps(rng, mouth, hub, (back - float(rng.uniform(12, 30)), far))
    castings += caps
    case, inside = _carrier(rng, shape, mouth, hub, (back, far), heel_r)
    return HousingParts(
        mouth,
        mesh_of(case),
        mouth.moved(mesh_of(castings)),
        mouth.moved(mesh_of(seat)),
        mesh_of([mouth.moved(part) for part in trim + cap_trim] + inside),
    )


def _outline(rng: np.random.Generator, half: tuple[float, float], count: int) -> Array:
    """A rounded, somewhat lumpy outline (count + 1, 2) of the mouth."""
    phi = np.linspace(0, 2 * np.pi, count + 1)
    power = float(rng.uniform(1.9, 4.0))
    c, s = np.abs(np.cos(phi)), np.abs(np.sin(phi))
    reach = (c**power + s**power) ** (-1 / power)
    lumps = float(rng.uniform(0, 0.03)) * np.cos(int(rng.integers(8, 15)) * phi)
    flat = float(rng.uniform(0, 0.15)) * np.cos(int(rng.integers(1, 4)) * phi + float(rng.uniform(0, 6.28)))
    return (reach * (1 + lumps + flat))[:, None] * np.stack(
        [half[0] * np.cos(phi), half[1] * np.sin(phi)], -1
    )


def _loft(rings: list[tuple[Array, float]], repeats: float) -> Patch:
    """A surface through outlines (count, 2) at local heights."""
    grid = np.stack([np.concatenate([ring, np.full((len(ring), 1), z)], 1) for ring, z in rings], 1)
    phi = np.linspace(0, repeats, grid.shape[0])[:, None]
    # The texture is as large across as along, going by mean steps.
    along, across = (np.linalg.norm(np.diff(grid, axis=axis), axis=-1).mean(1 - axis) for axis in (0, 1))
    rise = np.concatenate([[0.0], np.cumsum(across)]) * (repeats / along.sum())
    uv = np.stack(np.broadcast_arrays(phi, rise[None]), -1)
    return strip_normals(grid, uv, np.array([0, 0, 1.0]))


def _walls(
    rng: np.random.Generator, mouth: Mouth, radius: float, x: float, plane: float
) -> tuple[list[Patch], list[Patch], list[Patch]]:
    """Castings, the flange's seat, and trim: bowl, shell, tubes; seat with bolt holes; bolts and sealant."""
    count = 96
    inner = _outline(rng, mouth.half, count)
    width = float(rng.uniform(14, 30))
    outer = inner * (1 + width / np.linalg.norm(inner, axis=1, keepdims=True))
    deep = -radius * float(rng.uniform(1.02, 1.35))
    shift = np.array([x, 0.0])
    drop = plane - deep
    bowl = [(inner + shift, plane), (inner * 0.99 + shift, plane - 12)]
    bowl += [
        (inner * k + shift, plane - t * drop) for k, t in ((0.98, 0.5), (0.9, 0.85), (0.6, 1.0), (0.02, 1.03))
    ]
    shell = [(outer + shift, plane), (outer + shift, plane - float(rng.uniform(10, 18)))]
    shell += [
        (inner * k + shift, plane - t * drop) for k, t in ((1.04, 0.2), (1.03, 0.6), (0.8, 1.1), (0.02, 1.2))
    ]
    castings = [_loft(bowl, 6.0), _loft(shell, 6.0)]
    seat = [_loft([(inner + shift, plane + 0.3), (outer + shift, plane + 0.3)], 8.0)]
    pipe = float(rng.uniform(28, 48))
    for sign in (-1, 1):
        start = x + sign * mouth.half[0] * 0.95
        path = np.stack(
            [np.linspace(start, start + sign * 900, 5), np.zeros(5), np.full(5, -0.1 * radius)], 1
        )
        thick = np.interp(np.arange(5), [0, 1, 4], [1.5 * pipe, pipe, pipe])
        castings.append(tube(path, thick, 28, 8.0))
    trim = []
    bolts, start = int(rng.integers(8, 15)), int(rng.integers(0, 8))
    left_in = rng.random() < 0.15
    middle = (inner + outer) / 2 + shift
    paint = int(rng.integers(16))
    for k in range(bolts):
        at = middle[(start + round(k * count / bolts)) % count]
        hole = lathe(np.array([[4.5, 0.6], [0.0, 0.6]]), 12).moved(np.eye(3), np.array([*at, plane]))
        rim = lathe(np.array([[6.5, 0.5], [4.5, 0.55]]), 12).moved(np.eye(3), np.array([*at, plane]))
        trim += [swatch(hole, 0), swatch(rim, 1)]
        if left_in and rng.random() < 0.7:
            trim.append(swatch(_bolt(rng, 7.0).moved(np.eye(3), np.array([*at, plane])), 1))
    if rng.random() < 0.6:  # what is left of the old sealant
        trim += [swatch(p, paint) for p in _sealant(rng, inner + shift, outer + shift, plane)]
    return castings, seat, trim


def _bolt(rng: np.random.Generator, size: float) -> Patch:
    """A hexagon head with its washer, looking along z."""
    tall = size * float(rng.uniform(0.6, 1.0))
    profile = [
        [size * 1.5, 0],
        [size * 1.5, 1.5],
        [size, 1.5],
        [size, tall],
        [0.4 * size, tall + 0.5],
        [0, tall],
    ]
    return lathe(np.array(profile, float), 6)


def _sealant(rng: np.random.Generator, inner: Array, outer: Array, plane: float) -> list[Patch]:
    out = []
    for _ in range(int(rng.integers(1, 7))):
        start, long = int(rng.integers(len(inner))), int(rng.integers(3, 16))
        index = np.arange(start, start + long) % (len(inner) - 1)
        share = np.clip(float(rng.uniform(0.1, 0.9)) + 0.1 * cloud(rng, (2, long), 3.0)[0], 0, 1)[:, None]
        path = inner[index] + share * (outer[index] - inner[index])
        height = np.full((long, 1), plane + 0.5)
        wide = float(rng.uniform(1.5, 6)) * np.sin(np.linspace(0.2, np.pi - 0.2, long))
        out.append(tube(np.concatenate([path, height], 1), wide, 8))
    return out


def _caps(
    rng: np.random.Generator, mouth: Mouth, hub: float, ends: tuple[float, float]
) -> tuple[list[Patch], list[Patch]]:
    """Bearing caps over both ends of the carrier, with their bolts and bright races."""
    castings, trim = [], []
    radius, wall, wide = (
        hub * float(rng.uniform(0.9, 1.15)),
        float(rng.uniform(12, 22)),
        float(rng.uniform(24, 40)),
    )
    # `lathe` turns about z: stand it along the local x.
    stand = np.array([[0, 0, 1.0], [0, -1, 0], [1, 0, 0]]).T
    for sign, at in zip((-1, 1), ends, strict=True):
        low, high = at - wide / 2, at + wide / 2
        profile = np.array(
            [[radius, low], [radius + wall, low], [radius + wall, high], [radius, high], [radius, low]]
        )
        arch = lathe(profile, 28, 2.0, np.pi * 1.04).moved(
            rotation_between(np.array([0, 0, 1.0]), -np.pi / 2), np.zeros(3)
        )
        castings.append(arch.moved(stand, np.zeros(3)))
        for beside in (-1, 1):
            y = beside * (radius + wall + 4)
            foot = box(np.array([wide, 26.0, 60.0])).moved(np.eye(3), np.array([at, y, -22.0]))
            castings.append(foot)
            bolt = _bolt(rng, float(rng.uniform(8, 12)))
            trim.append(
                swatch(bolt.moved(rotation_between(np.array([0, 0, 1.0]), 1.0), np.array([at, y, 8.0])), 1)
            )
        race = np.array(
            [[radius * 0.98, at - sign * wide * 0.5], [radius * 0.98, at - sign * (wide * 0.5 + 12)]]
        )
        for profile in (race, race[::-1] * [0.9, 1.0]):
            trim.append(swatch(lathe(profile, 48).moved(stand, np.zeros(3)), 2))
    return castings, trim


def _carrier(
    rng: np.random.Generator,
    shape: RingGearShape,
    mouth: Mouth,
    hub: float,
    ends: tuple[float, float],
    heel_r: float,
) -> tuple[list[Patch], list[Patch]]:
    """The carrier about the gear's axis, with a window, and what is seen in it; in the gear frame."""
    back, far = ends
    toe_r, toe_z = (float(a[0]) for a in shape.section(np.zeros(1), np.zeros(1)))
    wide = toe_r * float(rng.uniform(0.72, 0.97))
    near = toe_z + float(rng.uniform(-4, 14))
    first = near + (far - near) * float(rng.uniform(0.08, 0.3))
    last = first + (far - near) * float(rng.uniform(0.25, 0.5))
    end = last + (far - last) * float(rng.uniform(0.3, 0.8))
    seat = [[0.0, back - 14], [heel_r * 0.9, back - 14], [heel_r * 0.9, back - 0.3], [wide, back - 0.3]]
    lower = np.array([*seat, [wide, near], [wide * float(rng.uniform(0.9, 1)), near + 3], [wide, first]])
    upper = np.array(
        [[wide, last], [wide, end], [hub * 1.05, end + 6], [hub * 0.8, far], [hub * 0.8, far + 30]]
    )
    parts = [lathe(lower, 72, 3.0), lathe(upper, 72, 3.0)]
    inside: list[Patch] = []
    if rng.random() < 0.25:  # closed
        parts.append(lathe(np.array([[wide, first], [wide, last]]), 72, 3.0))
        return parts, inside
    gap = float(rng.uniform(0.5, 1.1))
    place = float(np.arctan2(mouth.out[1], mouth.out[0]) + rng.normal(0, 0.9))
    for k in range(2):
        shell = lathe(np.array([[wide, first], [wide, last]]), 36, 1.5, np.pi - gap)
        inner = lathe(np.array([[wide * 0.88, last], [wide * 0.88, first]]), 36, 1.5, np.pi - gap)
        turn = rotation_between(np.array([0, 0, 1.0]), place + gap / 2 + k * np.pi)
        parts += [shell.moved(turn, np.zeros(3)), inner.moved(turn, np.zeros(3))]
    middle = (first + last) / 2
    ray = np.array([np.cos(place), np.sin(place), 0.0])
    for sign in (-1, 1):  # side gears along the axis, the pinions between them across it
        gear = toothed(rng, wide * float(rng.uniform(0.45, 0.6)), int(rng.integers(12, 20)), 1.0)
        at = np.array([0, 0, middle + sign * (last - first) * 0.36])
        inside.append(swatch(gear.moved(rotation_between(np.array([0, 0, -sign])), at), 2))
        mate = toothed(rng, wide * float(rng.uniform(0.3, 0.42)), int(rng.integers(8, 13)), 1.0)
        across = np.cross(ray, [0, 0, 1.0]) * sign
        inside.append(swatch(mate.moved(rotation_between(-across), across * wide * 0.55 + [0, 0, middle]), 2))
    pin = np.stack([np.array([0, 0, middle]) + t * np.cross(ray, [0, 0, 1.0]) for t in (-wide, 0.0, wide)])
    inside.append(swatch(tube(pin, np.full(3, 9.0), 16), 2))
    if rng.random() < 0.35:  # a preload spring, coloured
        inside += [
            swatch(_spring(rng, first, last, ray * wide * k), int(rng.integers(3, 16))) for k in (0.15, 0.4)
        ]
    return parts, inside


def _spring(rng: np.random.Generator, low: float, high: float, at: Array) -> Patch:
    turns = float(rng.uniform(5, 10))
    t = np.linspace(0, 1, 140)
    r = float(rng.uniform(8, 16))
    path = np.stack([r * np.cos(6.283 * turns * t), r * np.sin(6.283 * turns * t), low + (high - low) * t], 1)
    return tube(path + at, np.full(len(t), float(rng.uniform(1.6, 3.2))), 8)


def grease(rng: np.random.Generator, shape: RingGearShape, spaces: list[int]) -> Patch:
    """Compound that bridges tooth spaces: for each tooth, sheets in the space beside its convex flank."""
    side = -shape.sense
    parts = []
    for tooth in spaces:
        for _ in range(int(rng.integers(1, 3))):
            low = float(rng.uniform(-0.1, 0.75))
            u1 = np.clip(np.linspace(low, low + float(rng.uniform(0.15, 1.1)), 36), 0, 1)
            u = np.broadcast_to(u1[:, None], (36, 9))
            mix = np.linspace(0, 1, 9)[None]
            level = float(rng.uniform(0.15, 0.95)) + 0.14 * cloud(rng, (36, 9), (4.0, 7.0), 2).astype(float)
            sag = 0.35 * float(rng.uniform(0, 1)) * np.sin(np.pi * mix)
            ends = np.minimum(1, 5 * np.sin(np.pi * np.linspace(0.01, 0.99, 36)))[:, None]
            w = np.clip((level - sag) * ends - 0.06 * (1 - ends), -0.05, 0.99)
            left = flank_angle(shape, "convex", u, w) + tooth * shape.pitch
            right = flank_angle(shape, "concave", u, w) + (tooth + side) * shape.pitch
            theta = left + (right - left) * mix
            radius, z = shape.section(u, w)
            grid = np.stack([radius * np.cos(theta), radius * np.sin(theta), z], -1)
            uv = np.stack(np.broadcast_arrays(u1[:, None] * 3, mix), -1)
            parts.append(strip_normals(grid, uv, np.array([0, 0, 1.0])))
    return mesh_of(parts) if parts else nothing()
