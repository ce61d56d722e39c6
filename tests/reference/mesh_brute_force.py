"""The same questions as contactread.mesh, answered by brute force on two moved surfaces.

Shares with the package only the ring-gear flank and the blank. The pinion flank is taken as a cloud of
points with relief, carried by bicubic splines (scipy, a general reference library); at each roll angle both
surfaces are put where the displaced gears have them, and the gap is where the ring-gear flank's normals
pierce the pinion flank. No equation of meshing is used for the displaced pair.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import RectBivariateSpline

from contactread.axle import EaseOff, FlankName
from contactread.mesh.blank import Blank
from contactread.mesh.ring_flank import RingFlank


def turned(points: np.ndarray, angle: float, axis: int) -> np.ndarray:
    """Points (..., 3) turned about a coordinate axis by the right-hand rule."""
    c, s = np.cos(angle), np.sin(angle)
    i, j = [(1, 2), (2, 0), (0, 1)][axis]
    out = points.copy()
    out[..., i] = c * points[..., i] - s * points[..., j]
    out[..., j] = s * points[..., i] + c * points[..., j]
    return out


@dataclass(frozen=True)
class Place:
    """Displacement of the gears: mm and rad, signs as in contactread.mesh.kinematics.Displacement."""

    pinion: float = 0.0
    ring: float = 0.0
    offset: float = 0.0
    shaft_angle: float = 0.0

    def into_pinion(self, blank: Blank, points: np.ndarray, pinion_turn: float) -> np.ndarray:
        """Points of space (ring frame before the ring gear moved) in the turning frame of the pinion."""
        moved = points + np.array([0.0, -(blank.offset + self.offset), -self.ring])
        # Shaft angle above 90 degrees lifts the pinion head towards +z: undo it by turning about y.
        moved = turned(moved, self.shaft_angle, 1)
        moved = moved - np.array([self.pinion, 0.0, 0.0])
        return turned(moved, -pinion_turn, 0)


class SplinePinion:
    """A pinion flank as splines over labels (u, v)."""

    def __init__(self, u: np.ndarray, v: np.ndarray, points: np.ndarray) -> None:
        self.bounds = (u[0], u[-1], v[0], v[-1])
        self._splines = [RectBivariateSpline(u, v, points[..., k]) for k in range(3)]

    def at(self, u: np.ndarray, v: np.ndarray, du: int = 0, dv: int = 0) -> np.ndarray:
        return np.stack([s.ev(u, v, dx=du, dy=dv) for s in self._splines], axis=-1)

    def pierced(
        self, points: np.ndarray, rays: np.ndarray, u: np.ndarray, v: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Distance along each ray to this surface, and the labels hit; NaN where it isn't hit."""
        t = np.zeros(len(points))
        lo_u, hi_u, lo_v, hi_v = self.bounds
        for _ in range(6):
            error = points + t[:, None] * rays - self.at(u, v)
            system = np.stack([self.at(u, v, du=1), self.at(u, v, dv=1), -rays], axis=-1)
            step = np.linalg.solve(system, error[..., None])[..., 0]
            step = np.clip(step, [-0.1, -0.1, -5], [0.1, 0.1, 5])
            u = np.clip(u + step[:, 0], lo_u, hi_u)
            v = np.clip(v + step[:, 1], lo_v, hi_v)
            t = t + step[:, 2]
        missed = np.linalg.norm(points + t[:, None] * rays - self.at(u, v), axis=-1) > 1e-6
        return np.where(missed, np.nan, t), u, v


def nominal_pinion(blank: Blank, flank: FlankName, ease_off: EaseOff, roll_of) -> SplinePinion:  # type: ignore[no-untyped-def]
    """Relieved pinion flank: ring-gear points put where they touch (`roll_of`, proven to be the envelope by
    test_mesh_envelope), moved off by the relief."""
    u, v = np.linspace(-0.08, 1.08, 117), np.linspace(-0.06, 1.12, 60)
    points, normals = RingFlank(blank, flank).points_and_normals(u[:, None], v[None])
    x, y = 2 * u[:, None] - 1, 2 * v[None] - 1
    relief = ease_off.lengthwise_mm * x**2 + ease_off.profile_mm * y**2 + ease_off.bias_mm * x * y
    points = points + relief[..., None] * normals
    roll = roll_of(*RingFlank(blank, flank).points_and_normals(u[:, None], v[None]))
    out = np.empty_like(points)
    for i in range(len(u)):
        for j in range(len(v)):
            space = turned(points[i, j], roll[i, j], 2)
            out[i, j] = Place().into_pinion(blank, space, blank.ratio * roll[i, j])
    return SplinePinion(u, v, out)


@dataclass(frozen=True)
class BrutePattern:
    centroid: tuple[float, float]
    length: tuple[float, float]
    height: tuple[float, float]
    mean_closing: float


def pattern(
    blank: Blank,
    flank: FlankName,
    pinion: SplinePinion,
    place: Place,
    rolls: tuple[float, float],
    film: float,
    shape: tuple[int, int] = (45, 21),
    per_pitch: int = 24,
) -> BrutePattern:
    """Contact pattern of the displaced pair: everything that comes within `film` at some roll angle.

    rolls: range of ring-gear turns in which the flank is in mesh.
    """
    blank = replace(blank, hand="left")
    u, v = np.linspace(0, 1, shape[0]), np.linspace(0, 1, shape[1])
    points, normals = (
        x.reshape(-1, 3) for x in RingFlank(blank, flank).points_and_normals(u[:, None], v[None])
    )
    labels = [g.ravel() for g in np.meshgrid(u, v, indexing="ij")]
    lever = np.abs(points[:, 0] * normals[:, 1] - points[:, 1] * normals[:, 0])
    side = np.sign(points[:, 0] * normals[:, 1] - points[:, 1] * normals[:, 0]).mean()
    pitch = 2 * np.pi / blank.teeth2
    step = pitch / per_pitch
    angles = np.arange(rolls[0] - pitch, rolls[1] + pitch, step)

    def gaps(roll: float, closed: float) -> tuple[np.ndarray, np.ndarray]:
        # The ring gear turns on by `closed` towards its flank's outside; the pinion stays.
        space = turned(points, roll + side * closed, 2)
        rays = turned(normals, roll + side * closed, 2)
        inside = place.into_pinion(blank, space, blank.ratio * roll)
        origin = place.into_pinion(blank, np.zeros(3), blank.ratio * roll)
        direction = place.into_pinion(blank, rays, blank.ratio * roll) - origin
        distance, _, label_v = pinion.pierced(inside, direction, *labels)
        return distance, label_v

    turn = []
    for a in angles:
        distance, label_v = gaps(a, 0.0)
        touching = np.where(np.isfinite(distance) & (label_v >= 0), distance / lever, np.inf)
        turn.append(_least_on_grid(touching.reshape(shape)))
    count = len(angles) // per_pitch * per_pitch
    phase = np.min(np.reshape(turn[:count], (-1, per_pitch)), axis=0)
    closed = [gaps(a, float(phase[i % per_pitch])) for i, a in enumerate(angles[:count])]
    room, tip = _least_over_rolls(np.array([c[0] for c in closed]), np.array([c[1] for c in closed]))
    fine_u, fine_v = ((np.arange(n) + 0.5) / n for n in (720, 480))
    fine = RectBivariateSpline(u, v, room.reshape(shape))(fine_u, fine_v) <= film
    fine &= RectBivariateSpline(u, v, tip.reshape(shape))(fine_u, fine_v) >= 0
    share_u, share_v = fine.sum(axis=1) / fine.sum(), fine.sum(axis=0) / fine.sum()

    def span(share: np.ndarray) -> tuple[float, float]:
        ends = np.arange(1, len(share) + 1) / len(share)  # a cell's share is reached at its far end
        low, high = np.interp([0.05, 0.95], np.cumsum(share), ends)
        return float(low), float(high)

    return BrutePattern(
        (float(share_u @ fine_u), float(share_v @ fine_v)),
        span(share_u),
        span(share_v),
        float(phase.mean()),
    )


def _least_on_grid(values: np.ndarray) -> float:
    """Least value on a grid, refined by a parabola each way where the least isn't at an edge."""
    i, j = np.unravel_index(np.argmin(values), values.shape)
    least = values[i, j]
    for line, k in ((values[:, j], i), (values[i], j)):
        if 0 < k < len(line) - 1 and np.isfinite(line[k - 1 : k + 2]).all():
            a, b, c = line[k - 1 : k + 2]
            if a - 2 * b + c > 0:
                least -= (c - a) ** 2 / (8 * (a - 2 * b + c))
    return float(least)


def _least_over_rolls(gaps: np.ndarray, labels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Least gap of each point over the roll angles, refined by a parabola, and the pinion label there."""
    filled = np.where(np.isfinite(gaps), gaps, 1.0)
    k = np.clip(filled.argmin(axis=0), 1, len(gaps) - 2)
    at = np.arange(gaps.shape[1])
    a, b, c = filled[k - 1, at], filled[k, at], filled[k + 1, at]
    bend = a - 2 * b + c
    sound = (bend > 0) & (np.maximum(a, c) < 0.5)
    shift = np.where(sound, (a - c) / (2 * np.where(sound, bend, 1)), 0.0)
    least = b - np.where(sound, bend, 0.0) * shift**2 / 2
    label = labels[k, at] + shift * (labels[k + 1, at] - labels[k - 1, at]) / 2
    return least, label
