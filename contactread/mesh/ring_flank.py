"""The two flanks of a ring-gear tooth, as the cutter leaves them.

Ring gears of axles are not generated: the flank is the surface swept by the blade itself.

* Face milled: a straight blade turns about the cutter axis, which stands square on the root plane: a cone.
* Face hobbed: the same blade turns while the ring gear turns on, z0 / z2 as fast: the blade sweeps along an
  extended epicycloid.

Frame of the ring gear: origin at the crossing point (foot of the common perpendicular of both axes on the
ring axis), z along the ring axis, away from the ring gear's body: the toothed side looks to +z. The tooth is
centred on azimuth 0 (the +x axis) at mid-flank. Computed for a left-hand ring gear; a right-hand one is its
mirror image in y. Lengths in mm. Derivation: DERIVATION.md, sections 1 and 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import cos, pi, sin, sqrt, tan

import numpy as np
from numpy.typing import ArrayLike

from contactread.arrays import Floats
from contactread.axle import FlankName
from contactread.errors import MechanicsError
from contactread.mesh.blank import Blank

Vector = tuple[Floats, Floats, Floats]  # x, y, z


@dataclass(frozen=True)
class RingFlank:
    """One flank of the ring-gear tooth centred on azimuth 0.

    u: along the length, 0 toe to 1 heel, equal steps along the pitch cone; lines of equal u are square to
    the pitch cone. v: up the height, 0 at the working root (one clearance above the root cone), 1 at the
    face cone.
    """

    blank: Blank
    flank: FlankName

    def section(self, u: ArrayLike, v: ArrayLike) -> tuple[Floats, Floats]:
        """Axial section of flank points (u, v): radius from the ring axis and z, mm; broadcast shape."""
        b = self.blank
        along = np.asarray(u, float) * b.face_width2 + b.toe_distance - b.cones.distance2
        low = -(b.dedendum2 - b.clearance) - along * tan(b.dedendum_angle2)
        high = b.addendum2 + along * tan(b.addendum_angle2)
        up = low + np.asarray(v, float) * (high - low)
        sine, cosine = sin(b.cones.cone2), cos(b.cones.cone2)
        distance = b.cones.distance2 + along
        radius = distance * sine + up * cosine
        z = b.ring_apex_z - distance * cosine + up * sine
        return radius, z

    def points(self, u: ArrayLike, v: ArrayLike) -> Floats:
        """Points of the flank, shape broadcast(u, v) + (3,), mm, ring frame."""
        return self.points_and_normals(u, v)[0]

    def points_and_normals(self, u: ArrayLike, v: ArrayLike) -> tuple[Floats, Floats]:
        """Points (mm) and outward unit normals of the flank, each of shape broadcast(u, v) + (3,).

        Raises MechanicsError `flank-not-cut` where the cutter doesn't reach the point.
        """
        radius, z = self.section(u, v)
        turn, rise = self._solve(radius, z)
        point, by_turn, by_rise = self._swept(turn, rise)
        normal = np.cross(by_turn, by_rise)
        normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
        # Outward: the concave flank looks to its cutter centre's side (+y), the convex flank away from it.
        if self.flank == "concave":
            normal = -normal
        if self.blank.hand == "right":
            mirror = np.array([1.0, -1.0, 1.0])
            return point * mirror, normal * mirror
        return point, normal

    def _solve(self, radius: Floats, z: Floats) -> tuple[Floats, Floats]:
        """Blade turn (rad) and rise along the cutter axis (mm) that reach (radius, z): Newton's method."""
        turn, rise = np.zeros_like(radius), np.zeros_like(radius)
        for _ in range(30):
            p, a, c = self._blade(turn, rise)  # the feed turns about the ring axis, which changes neither
            r = np.hypot(p[0], p[1])
            ra = (p[0] * a[0] + p[1] * a[1]) / r
            rc = (p[0] * c[0] + p[1] * c[1]) / r
            er, ez = radius - r, z - p[2]
            det = ra * c[2] - rc * a[2]
            step_turn = np.clip((er * c[2] - rc * ez) / det, -0.1, 0.1)
            step_rise = (ra * ez - a[2] * er) / det
            turn, rise = turn + step_turn, rise + step_rise
            if float(np.abs(step_turn).max()) < 1e-13 and float(np.abs(step_rise).max()) < 1e-10:
                return turn, rise
        raise MechanicsError(
            "flank-not-cut",
            "The cutter doesn't reach the whole flank with these numbers.",
            "Check the cutter radius, the spiral angle and the face width in the axle file.",
        )

    @cached_property
    def _cutter(self) -> _Cutter:
        return _cutter(self.blank, self.flank)

    def _blade(self, turn: Floats, rise: Floats) -> tuple[Vector, Vector, Vector]:
        """Point of the turning blade and its derivatives by turn and rise, without the feed."""
        k = self._cutter
        c, s = np.cos(turn), np.sin(turn)
        arm_x, arm_y = k.arm_x + rise * k.slope_x, k.arm_y + rise * k.slope_y
        arm_1, arm_2 = arm_x * c - arm_y * s, arm_x * s + arm_y * c
        slope_1, slope_2 = k.slope_x * c - k.slope_y * s, k.slope_x * s + k.slope_y * c
        (x1, _, z1), (xa, _, za), (x0, y0, z0) = k.e1, k.axis, k.centre
        return (
            (x0 + rise * xa + arm_1 * x1, y0 + arm_2, z0 + rise * za + arm_1 * z1),
            (-arm_2 * x1, arm_1, -arm_2 * z1),
            (xa + slope_1 * x1, slope_2, za + slope_1 * z1),
        )

    def _swept(self, turn: Floats, rise: Floats) -> tuple[Floats, Floats, Floats]:
        """Point of the swept surface and its derivatives by turn and rise (left-hand ring gear)."""
        k = self._cutter
        spin = k.azimuth + k.feed * turn
        c, s = np.cos(spin), np.sin(spin)
        point, by_turn, by_rise = (
            np.stack([c * x - s * y, s * x + c * y, z], axis=-1) for x, y, z in self._blade(turn, rise)
        )
        by_turn[..., 0] -= k.feed * point[..., 1]
        by_turn[..., 1] += k.feed * point[..., 0]
        return point, by_turn, by_rise


@dataclass(frozen=True)
class _Cutter:
    """The blade in the ring frame: edge point = centre + rise axis + turned (arm + rise slope).

    e1: in the root plane, along the root cone; the plane's other basis is y. axis: cutter axis, out of the
    gear. feed: turn of the ring gear per turn of the cutter. azimuth: turns the flank to its side of the
    tooth at azimuth 0.
    """

    centre: Floats
    e1: Floats
    axis: Floats
    arm_x: float
    arm_y: float
    slope_x: float
    slope_y: float
    feed: float
    azimuth: float


def _cutter(b: Blank, flank: FlankName) -> _Cutter:
    """Set the cutter so that the flank has its nominal spiral and pressure angle at the mean point.

    The two flanks of a tooth are cut at one nominal radius, face hobbed, or at radii that differ by the
    slot, face milled; then each is turned about the ring axis by half the tooth's thickness.
    """
    side = 1.0 if flank == "concave" else -1.0  # which way the flank looks, along +y
    pressure = b.pressure_coast if flank == "concave" else b.pressure_drive
    c = b.cones
    root = c.cone2 - b.dedendum_angle2
    e1, axis = np.array([sin(root), 0, -cos(root)]), np.array([cos(root), 0, sin(root)])
    e2 = np.array([0.0, 1.0, 0.0])
    along, up = np.array([sin(c.cone2), 0, -cos(c.cone2)]), np.array([cos(c.cone2), 0, sin(c.cone2)])
    mean = c.distance2 * along + np.array([0, 0, b.ring_apex_z])
    across = -sin(c.spiral2) * along + cos(c.spiral2) * e2  # square to the tooth in the pitch plane
    normal = side * cos(pressure) * across + sin(pressure) * up
    rise = float(normal @ axis)  # sine of the blade angle
    w = side * np.array([normal @ e1, normal @ e2]) / sqrt(1 - rise**2)
    tangent = np.array([w[1], -w[0]])
    radius = b.cutter_radius
    if not b.face_hobbed:
        radius += side * (pi * c.module - b.thickness2) / 2
    arm = -radius * (w * cos(b.cutter_lead) + tangent * sin(b.cutter_lead))
    slope = -side * rise / sqrt(1 - rise**2) * w
    return _Cutter(
        centre=mean - arm[0] * e1 - arm[1] * e2,
        e1=e1,
        axis=axis,
        arm_x=arm[0],
        arm_y=arm[1],
        slope_x=slope[0],
        slope_y=slope[1],
        feed=b.cutter_groups / b.teeth2,
        azimuth=side * b.thickness2 / (2 * c.radius2 * cos(c.spiral2)),
    )
