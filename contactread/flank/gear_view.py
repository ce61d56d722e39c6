"""A ring gear under a camera: where the points of its flanks fall in the picture.

The flank of a non-generated, face-milled ring gear is part of the cone that the straight blade edge
sweeps about the cutter axis, and that axis stands square on the root plane (Litvin and Fuentes, Gear
Geometry and Applied Theory, chapter on spiral bevel gears; named from memory). Going outward the teeth
advance toward the side of the cutter's centre, so the flank that faces that way is the concave one.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.axle import FlankName

CAMERA = 7  # numbers of the camera, before the gear's:
# log of the focal length in pixels, rotation vector, position.
FOCAL, TURN, PLACE = 0, slice(1, 4), slice(4, 7)


class Gear(IntEnum):
    """The numbers of a gear, in order: angles in rad, lengths over the mean cone distance; the addendum as a
    share of the working height; leans: slope of the end faces outward, going from root to top."""

    PITCH_ANGLE = 0
    FACE_WIDTH = 1
    HEEL_HEIGHT = 2
    TOE_HEIGHT = 3
    ADDENDUM = 4
    SPIRAL = 5
    CUTTER_RADIUS = 6
    PRESSURE_ANGLE = 7
    TOE_LEAN = 8
    HEEL_LEAN = 9
    TOOTH_PITCH = 10


LAND = 0.036  # rad: a usual top land, about 2.5 mm on a mean radius of 80 mm, across the slanted tooth


@dataclass(frozen=True, eq=False)
class GearView:
    """A gear and the camera that sees it.

    parameters: (18,): the camera (FOCAL, TURN, PLACE), then the numbers of `Gear`. advance: +1 where, seen
    from the pinion's side, the teeth advance counter-clockwise going outward, else -1. flank: the side of the
    teeth that is seen. centre_px: principal point. teeth: (n,) place of each marked tooth along the gear, in
    tooth pitches from their mean. cost: half the sum of squared residuals over their sigmas.
    """

    parameters: Floats
    advance: int
    flank: FlankName
    centre_px: tuple[float, float]
    teeth: Floats
    cost: float

    @property
    def aspect(self) -> float:
        """Mean working height over face width."""
        height = (self.number(Gear.HEEL_HEIGHT) + self.number(Gear.TOE_HEIGHT)) / 2
        return height / self.number(Gear.FACE_WIDTH)

    def number(self, which: Gear) -> float:
        """One of the gear's numbers."""
        return float(self.parameters[CAMERA + which])

    def project(self, u: Floats, v: Floats) -> Floats:
        """Pixels of the flank points (u, v), each (points,), on every tooth: (teeth, points, 2)."""
        points = flank_points(self.parameters[None], u, v, self.advance, self.flank)
        return np.asarray(project(self.parameters[None], points, self._angles(0.0), self.centre_px)[0])

    def faces_camera(self) -> NDArray[np.bool_]:
        """Whether each tooth's flank is seen from outside the metal at its middle, (teeth,)."""
        u, v = np.array([0.4, 0.6, 0.5, 0.5]), np.array([0.5, 0.5, 0.4, 0.6])
        points = flank_points(self.parameters[None], u, v, self.advance, self.flank)
        seen = turned(points, self._angles(0.0))[0] @ rotations(self.parameters[None, TURN])[0].T
        place = seen.mean(axis=1) + self.parameters[PLACE]
        facing = self.advance if self.flank == "concave" else -self.advance
        outward = -facing * np.cross(seen[:, 1] - seen[:, 0], seen[:, 3] - seen[:, 2])
        return np.asarray((outward * place).sum(axis=1) < 0)

    def neighbour_in_front(self) -> list[tuple[Floats, ...]]:
        """For each tooth the faces of the next tooth on the side it faces: polygons of pixels, (n, 2).

        That tooth's seen flank, top land and two ends; what lies behind them is hidden.
        """
        edge = np.linspace(0, 1, 9)
        zero, one = np.zeros(9), np.ones(9)
        u, v = np.concatenate([edge, edge]), np.concatenate([zero, one])
        points = flank_points(self.parameters[None], u, v, self.advance, self.flank)
        pitch = self.number(Gear.TOOTH_PITCH)
        heights = self.number(Gear.TOE_HEIGHT), self.number(Gear.HEEL_HEIGHT)
        # The slot side of the tooth in front leans outward by the same pressure angle.
        lean = [LAND + 2 * h * np.tan(self.number(Gear.PRESSURE_ANGLE)) for h in heights]

        turns = (pitch, pitch - LAND, pitch - lean[0], pitch - lean[1])
        angles = np.concatenate([self._angles(turn) for turn in turns], axis=1)
        seen = project(self.parameters[None], points, angles, self.centre_px)
        front, land, toe_foot, heel_foot = seen.reshape(len(turns), -1, len(u), 2)
        faces: list[tuple[Floats, ...]] = []
        for k in range(len(self.teeth)):
            root, top, back = front[k, :9], front[k, 9:], land[k, 9:]
            faces.append(
                (
                    np.concatenate([root, top[::-1]]),
                    np.concatenate([top, back[::-1]]),
                    np.array([root[0], top[0], back[0], toe_foot[k, 0]]),
                    np.array([root[8], top[8], back[8], heel_foot[k, 8]]),
                )
            )
        return faces

    def _angles(self, turn: float) -> Floats:
        """Turn of every tooth about the axis, plus `turn` rad toward the side that the flank faces."""
        facing = self.advance if self.flank == "concave" else -self.advance
        return np.asarray((self.teeth * self.number(Gear.TOOTH_PITCH) + facing * turn)[None])


def flank_points(parameters: Floats, u: Floats, v: Floats, advance: int, flank: FlankName) -> Floats:
    """Points of one flank in the gear's frame (z along the axis toward the pinion's side).

    parameters: (sets, 18); u, v: (points,). Returns (sets, points, 3) in mean cone distances. Radius and
    z are linear in u and v, but for the root edge: the blade tips sweep a plane, so the fillet starts at
    an even height above that plane, not above the root cone, which falls away from it toward both ends.
    """
    cone = _BladeCone(parameters, advance, flank)
    sag = cone.root_sag(u) if np.any((u > 0) & (u < 1)) else 0.0
    return cone.points(u, v, sag)


class _BladeCone:
    """The cone swept by the blade, for several sets of gear parameters at once; arrays are (sets, points)."""

    def __init__(self, parameters: Floats, advance: int, flank: FlankName) -> None:
        numbers = parameters[:, CAMERA:].T[..., None]
        pitch, face, heel, toe, addendum, spiral, cutter, pressure, toe_lean, heel_lean, _ = numbers
        self.toe_lean, self.heel_lean = toe_lean, heel_lean
        self.pitch, self.face, self.heel, self.toe = pitch, face, heel, toe
        self.addendum, self.cutter = addendum, cutter
        root = pitch - np.arctan((1 - addendum) * (heel - toe) / face)
        self.axis_r, self.axis_z = np.cos(root), np.sin(root)
        inward = cutter * np.sin(spiral)
        self.centre_r = np.sin(pitch) - inward * np.sin(root)
        self.centre_y = cutter * np.cos(spiral) * advance
        self.centre_z = -np.cos(pitch) + inward * np.cos(root)
        self.slope = np.tan(pressure) * (1 if flank == "concave" else -1)

    def points(self, u: Floats, v: Floats, sag: Floats | float = 0.0) -> Floats:
        """Points (sets, points, 3); sag: how far the root edge lies below its straight line."""
        height = self.toe + (self.heel - self.toe) * u
        above = (self.addendum - 1 + v) * height - sag * (1 - v)
        lean = self.toe_lean + (self.heel_lean - self.toe_lean) * u
        along = 1 + self.face * (u - 0.5) + lean * above
        sin, cos = np.sin(self.pitch), np.cos(self.pitch)
        r, z = along * sin + above * cos, above * sin - along * cos
        w = z - self.centre_z
        square, rise = w * w, w * self.axis_z
        # Newton: the turn about the axis at which the circle (r, z) meets the cone; at first, none.
        x, y, slant = r - self.centre_r, -self.centre_y, -self.centre_y
        theta: Floats | float = 0.0
        for step in range(3):
            if step:
                cos, sin = np.cos(theta), np.sin(theta)
                x, y = r * cos - self.centre_r, r * sin - self.centre_y
            h = x * self.axis_r + rise
            rho = self.cutter + h * self.slope
            value = x * x + y * y + square - h * h - rho * rho
            if step:
                slant = y * cos - sin * (x - (h + rho * self.slope) * self.axis_r)
            rate = 2 * r * slant
            theta = theta - value / np.where(rate == 0, 1e-9, rate)
        theta = np.minimum(np.maximum(theta, -1.0), 1.0)
        points = np.empty((*r.shape, 3))
        points[..., 0], points[..., 1], points[..., 2] = r * np.cos(theta), r * np.sin(theta), z
        return points

    def root_sag(self, u: Floats) -> Floats:
        """How far the fillet's start lies below the straight line between its ends."""
        edge = self.points(np.concatenate([u, [0.0, 1.0]]), np.zeros(len(u) + 2))
        level = edge[..., 0] * self.axis_r + edge[..., 2] * self.axis_z
        ends = level[:, -2:-1] * (1 - u) + level[:, -1:] * u
        return np.asarray(level[:, :-2] - ends)


def turned(points: Floats, angles: Floats) -> Floats:
    """Points (sets, points, 3) turned about z by angles (sets, teeth): (sets, teeth, points, 3)."""
    cos, sin = np.cos(angles)[..., None], np.sin(angles)[..., None]
    x, y, z = (points[:, None, :, i] for i in range(3))
    solid = np.empty((*angles.shape, points.shape[1], 3))
    solid[..., 0], solid[..., 1], solid[..., 2] = x * cos - y * sin, x * sin + y * cos, z
    return solid


def project(parameters: Floats, points: Floats, angles: Floats, centre: tuple[float, float]) -> Floats:
    """Pixels of gear-frame points on every tooth: (sets, teeth, points, 2).

    parameters: (sets, 18); points: (sets, points, 3); angles: (sets, teeth), each tooth's turn.
    """
    solid = turned(points, angles)
    seen = solid @ np.swapaxes(rotations(parameters[:, TURN]), 1, 2)[:, None]
    seen += parameters[:, None, None, PLACE]
    depth = np.maximum(seen[..., 2:], 1e-3)
    pixels: Floats = seen[..., :2] / depth * np.exp(parameters[:, FOCAL : FOCAL + 1])[
        :, None, None
    ] + np.array(centre)
    return pixels


def rotations(vectors: Floats) -> Floats:
    """Rotation matrices (sets, 3, 3) of rotation vectors (sets, 3), by Rodrigues' formula."""
    angle = np.sqrt((vectors**2).sum(axis=1))[:, None, None] + 1e-12
    zero = np.zeros(len(vectors))
    x, y, z = vectors.T
    cross = np.stack([zero, -z, y, z, zero, -x, -y, x, zero], axis=1).reshape(-1, 3, 3)
    matrices: Floats = np.eye(3) + np.sin(angle) / angle * cross
    matrices += 2 * (np.sin(angle / 2) / angle) ** 2 * (cross @ cross)
    return matrices
