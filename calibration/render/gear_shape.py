"""The form of a ring gear, and its flanks as surfaces. Lengths in mm.

Gear frame: z is the gear axis, pointing to the pinion's side; the pitch apex lies at the origin and the
teeth face +z. Flanks are non-generated: the surface swept by a straight blade that turns about the
cutter axis. With `cutter_groups` = 0 (face-milled) that is a cone; otherwise (face-hobbed) the gear
turns by groups/teeth of the cutter's turn, which makes the lengthwise curve an extended epicycloid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from contactread.axle import FlankName

Array = NDArray[np.float64]


@dataclass(frozen=True)
class RingGearShape:
    """What fixes the solid. mm and degrees.

    diameter: outer pitch diameter. depth_toe, depth_heel: whole depth. addendum: share of the depth
    above the pitch cone. thickness: tooth thickness on the pitch cone as a share of the pitch. fillet:
    height of the root fillet. edge_break: height and width of the broken top edge. toe_lean, heel_lean:
    angle of the tooth ends against the pitch cone's normal, positive outwards with height. web: body
    depth under the tooth root. bore: bore radius as a share of the toe root radius.
    """

    teeth: int = 41
    diameter: float = 215.9
    face_width: float = 33.0
    pitch_angle: float = 73.0
    spiral: float = 33.0
    cutter_radius: float = 114.3
    cutter_groups: int = 0
    hand: Literal["left", "right"] = "left"
    pressure_convex: float = 21.0
    pressure_concave: float = 23.0
    depth_heel: float = 10.2
    depth_toe: float = 7.4
    addendum: float = 0.25
    thickness: float = 0.46
    fillet: float = 1.1
    edge_break: float = 0.3
    toe_lean: float = 5.0
    heel_lean: float = -8.0
    web: float = 12.0
    bore: float = 0.93

    @property
    def sense(self) -> int:
        """-1 for a right-hand gear (outer ends lean clockwise, seen from the pinion's side), else +1."""
        return -1 if self.hand == "right" else 1

    @property
    def pitch(self) -> float:
        """Angle from tooth to tooth, rad."""
        return 2 * np.pi / self.teeth

    @property
    def outer_cone_distance(self) -> float:
        """Pitch apex to heel along the pitch cone, mm."""
        return float(self.diameter / 2 / np.sin(np.radians(self.pitch_angle)))

    def depth(self, u: Array) -> Array:
        """Whole depth at u, mm."""
        return self.depth_toe + (self.depth_heel - self.depth_toe) * u

    def section(self, u: Array, w: Array) -> tuple[Array, Array]:
        """Radius and z at lengthwise u, for w = 0 on the root line and 1 on the top line (mm)."""
        height = self.depth(u) * (w - (1 - self.addendum)) + (1 - w) * np.polyval(self.root_rise, u)
        return self.at_height(u, height)

    def at_height(self, u: Array, height: Array) -> tuple[Array, Array]:
        """Radius and z at lengthwise u, `height` above the pitch cone (mm)."""
        outer = self.outer_cone_distance
        toe = outer - self.face_width + np.tan(np.radians(self.toe_lean)) * height
        heel = outer + np.tan(np.radians(self.heel_lean)) * height
        along = toe + (heel - toe) * u
        gamma = np.radians(self.pitch_angle)
        return along * np.sin(gamma) + height * np.cos(gamma), height * np.sin(gamma) - along * np.cos(gamma)

    @cached_property
    def root_rise(self) -> Array:
        """How far the root lies above the root cone, mm: a polynomial in u, highest power first (5,).

        The tips of the blades sweep a plane, which touches the root cone at mid-length and lies above it
        to both sides.
        """
        u = np.linspace(0, 1, 9)
        foot = (self.addendum - 1) * self.depth(u)
        radius, z = self.at_height(u, foot)
        turns = [_blade_place(self, flank, radius, z, foot)[0] for flank in ("convex", "concave")]
        turn = (turns[0] + turns[1]) / 2
        root_angle = np.radians(self.pitch_angle) - np.arctan(self.root_fall)
        return np.polyfit(u, np.cos(root_angle) * radius * (1 - np.cos(turn)), 4)

    @property
    def root_fall(self) -> float:
        """How fast the root falls away from the pitch cone, going outward, mm per mm."""
        return (self.depth_heel - self.depth_toe) * (1 - self.addendum) / self.face_width

    def w_of_v(self, u: Array, v: Array) -> Array:
        """Height share of the whole tooth for flank height v (0 fillet start, 1 under the edge break)."""
        depth = self.depth(u)
        low, high = self.fillet / depth, 1 - self.edge_break / depth
        return low + v * (high - low)


def flank_angle(shape: RingGearShape, flank: FlankName, u: Array, w: Array) -> Array:
    """Angle about the gear axis of a flank point, relative to its tooth's middle (rad). u, w: equal shapes;
    the angle has that shape."""
    radius, z = shape.section(u, w)
    theta, turn = _blade_place(shape, flank, radius, z, shape.depth(u) * (w - (1 - shape.addendum)))
    ratio = shape.cutter_groups / shape.teeth
    side = -shape.sense if flank == "convex" else shape.sense
    return np.asarray(theta + ratio * turn + side * shape.thickness * shape.pitch / 2)


def _blade_place(
    shape: RingGearShape, flank: FlankName, radius: Array, z: Array, height: Array
) -> tuple[Array, Array]:
    """Where the blade passes the circle (radius, z): angle about the gear axis in the cutter's frame, and
    turn of the cutter (rad). height: about how high above the pitch cone that is, mm."""
    gamma, beta, s = np.radians(shape.pitch_angle), np.radians(shape.spiral), shape.sense
    mean = shape.outer_cone_distance - shape.face_width / 2
    rc, ratio = shape.cutter_radius, shape.cutter_groups / shape.teeth
    along = np.array([np.sin(gamma), 0.0, -np.cos(gamma)])
    normal = np.array([np.cos(gamma), 0.0, np.sin(gamma)])
    e1 = (along - shape.root_fall * normal) / np.hypot(1, shape.root_fall)
    e2 = np.array([0.0, 1.0, 0.0])
    k = np.cross(e1, e2)
    point = along * mean
    lead = np.arcsin(np.clip(ratio * mean * np.sin(gamma) * np.cos(beta) / rc, -0.7, 0.7))
    eta = beta - lead
    d1 = np.sin(eta) * e1 - s * np.cos(eta) * e2
    d2 = np.cross(k, d1)
    centre = point - rc * d1
    slope = -np.tan(np.radians(shape.pressure_convex))
    if flank == "concave":
        slope = np.tan(np.radians(shape.pressure_concave))
    turn = s * (np.hypot(radius, z) - mean) / (rc * np.cos(eta))
    rise = height + 0.0 * radius
    for _ in range(9):
        c, sn, r = np.cos(turn), np.sin(turn), rc + slope * rise
        ray = c[..., None] * d1 + sn[..., None] * d2
        p = centre + r[..., None] * ray + rise[..., None] * k
        pt = r[..., None] * (c[..., None] * d2 - sn[..., None] * d1)
        pr = slope * ray + k
        rho = np.hypot(p[..., 0], p[..., 1])
        a = (p[..., 0] * pt[..., 0] + p[..., 1] * pt[..., 1]) / rho
        b = (p[..., 0] * pr[..., 0] + p[..., 1] * pr[..., 1]) / rho
        f, g = radius - rho, z - p[..., 2]
        det = a * pr[..., 2] - b * pt[..., 2]
        turn = turn + np.clip((f * pr[..., 2] - b * g) / det, -0.2, 0.2)
        rise = rise + np.clip((a * g - f * pt[..., 2]) / det, -5, 5)
    return np.arctan2(p[..., 1], p[..., 0]), turn


def flank_points(shape: RingGearShape, flank: FlankName, u: Array, v: Array, tooth: int = 0) -> Array:
    """Points (..., 3) of a flank in the gear frame, mm, for u and v of equal shape."""
    w = shape.w_of_v(u, v)
    radius, z = shape.section(u, w)
    theta = flank_angle(shape, flank, u, w) + tooth * shape.pitch
    return np.stack([radius * np.cos(theta), radius * np.sin(theta), z], -1)


def flank_size(shape: RingGearShape) -> tuple[float, float]:
    """Mean length (arc, mid height) and height (mid length) of the convex flank, mm."""
    t, half = np.linspace(0, 1, 33), np.full(33, 0.5)
    along, up = flank_points(shape, "convex", t, half), flank_points(shape, "convex", half, t)
    return tuple(float(np.linalg.norm(np.diff(p, axis=0), axis=1).sum()) for p in (along, up))  # type: ignore[return-value]


def fits(shape: RingGearShape) -> bool:
    """Whether the top land and the root land stay open all along, the cutter reaches both ends, and the
    root doesn't rise too far there."""
    u = np.linspace(0, 1, 5)
    one = np.ones(5)
    radius = shape.section(u, one)[0]
    cx = [flank_angle(shape, "convex", u, w * one) for w in (0.0, 1.0)]
    cc = [flank_angle(shape, "concave", u, w * one) for w in (0.0, 1.0)]
    thick = [shape.sense * (b - a) for a, b in zip(cx, cc, strict=True)]
    if not all(np.isfinite(t).all() for t in thick):
        return False
    lean = np.abs(np.diff(flank_angle(shape, "convex", u, 0.5 * one))) * radius[1:]
    top_land, root_land = thick[1] * radius, (shape.pitch - thick[0]) * radius
    return bool(
        top_land.min() > 2.2 * shape.edge_break + 0.5
        and root_land.min() > 0.6
        and np.polyval(shape.root_rise, u).max() < 0.15 * shape.depth_toe
        and lean.max() < 0.6 * shape.face_width
    )


def random_shape(rng: np.random.Generator) -> RingGearShape:
    """A plausible ring gear, wider in every respect than what is common."""
    while True:
        hobbed = rng.random() < 0.35
        teeth = int(rng.integers(33, 48))
        diameter = float(rng.uniform(150, 300))
        outer_module = diameter / teeth
        pitch_angle = float(rng.uniform(65, 79))
        outer = diameter / 2 / np.sin(np.radians(pitch_angle))
        depth = outer_module * float(rng.uniform(1.55, 2.25))
        low, high = (0.92, 1.0) if hobbed else (0.64, 0.82) if rng.random() < 0.6 else (0.6, 0.95)
        taper = float(rng.uniform(low, high))
        shape = RingGearShape(
            teeth=teeth,
            diameter=diameter,
            face_width=outer * float(rng.uniform(0.25, 0.36)),
            pitch_angle=pitch_angle,
            spiral=float(rng.uniform(25, 45) if rng.random() < 0.35 else rng.uniform(27, 38)),
            cutter_radius=outer * float(rng.uniform(0.68, 1.25)),
            cutter_groups=int(rng.choice([11, 13, 17, 19])) if hobbed else 0,
            hand="left" if rng.random() < 0.5 else "right",
            pressure_convex=float(rng.uniform(16, 26)),
            pressure_concave=float(rng.uniform(16, 26)),
            depth_heel=depth,
            depth_toe=depth * taper,
            addendum=float(rng.uniform(0.15, 0.42)),
            thickness=float(rng.uniform(0.33, 0.48)),
            fillet=depth * float(rng.uniform(0.04, 0.12)),
            edge_break=float(rng.uniform(0.1, 0.7)),
            toe_lean=float(rng.uniform(-12, 25)),
            heel_lean=float(rng.uniform(-26, 10)),
            web=depth * float(rng.uniform(0.6, 2.6)),
            bore=float(rng.uniform(0.8, 0.97)),
        )
        if fits(shape):
            return shape
