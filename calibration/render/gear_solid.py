"""The solid of a ring gear as triangle patches, flank coordinates included. Lengths in mm, in the gear frame
of `gear_shape`."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from calibration.render.gear_shape import RingGearShape, flank_angle
from calibration.render.patches import Patch, lathe, mesh_of, strip_normals
from contactread.axle import FlankName

Array = NDArray[np.float64]
NU, NV = 29, 11  # vertices along and up a flank


@dataclass(frozen=True, eq=False)
class GearMesh:
    """Meshes of one gear. Every tooth has the same number of triangles in each mesh but `body`.

    Texture coordinates of the flanks: (u, v) of the tooth, to be moved into an atlas by the caller.
    `rest`: x = u, y = place round the tooth (0..0.45 root and fillets, 0.55..0.8 top land and broken
    edges, 0.85..1 tooth ends). `tooth_faces`: triangles per tooth.
    """

    shape: RingGearShape
    convex: Patch
    concave: Patch
    rest: Patch
    body: Patch
    tooth_faces: dict[str, int] = field(default_factory=dict)

    def tooth_of_face(self, name: str, face: NDArray[np.int64]) -> NDArray[np.int64]:
        """Tooth number of each triangle number of the mesh `name` (not `body`); any shape."""
        return np.asarray(face // self.tooth_faces[name])


def _up(shape: RingGearShape) -> Array:
    """The pitch cone's normal at angle 0, out of the tooth space."""
    gamma = np.radians(shape.pitch_angle)
    return np.array([np.cos(gamma), 0, np.sin(gamma)])


def _place(shape: RingGearShape, u: Array, w: Array, theta: Array) -> Array:
    """Points (..., 3) of the gear frame, mm, at angle theta (rad)."""
    radius, z = shape.section(u, w)
    return np.stack([radius * np.cos(theta), radius * np.sin(theta), z], -1)


@dataclass(frozen=True, eq=False)
class _Side:
    """One side of tooth 0, from the root land to the top land: its patches, and rows of places.

    foot, top, rows: angle (rad) and height share, each (nu, n): of the fillet, from the flank down; of the
    broken edge, from the flank up; of all from the root land to the top land.
    """

    flank: Patch
    edge: Patch
    foot: tuple[Array, Array]
    top: tuple[Array, Array]
    rows: tuple[Array, Array]


def _side(shape: RingGearShape, name: FlankName, nu: int, nv: int) -> _Side:
    side = -shape.sense if name == "convex" else shape.sense
    u1 = np.linspace(0, 1, nu)
    u, v = np.meshgrid(u1, np.linspace(0, 1, nv), indexing="ij")
    w = shape.w_of_v(u, v)
    theta = flank_angle(shape, name, u, w)
    across = side * np.array([0.0, 1.0, 0.0])
    flank = strip_normals(_place(shape, u, w, theta), np.stack([u, v], -1), across)
    w0, w1 = w[:, 0], w[:, -1]
    slope = (theta[:, 1] - theta[:, 0]) / (w[:, 1] - w[:, 0])
    radius = shape.section(u1, w0)[0]
    control = theta[:, 0] - slope * w0
    reach = control + side * np.minimum(shape.fillet / radius, 0.2 * shape.pitch)
    b = np.linspace(0, 1, 5)[None, :]
    foot_t = (1 - b) ** 2 * theta[:, :1] + 2 * b * (1 - b) * control[:, None] + b**2 * reach[:, None]
    foot_w = (1 - b) ** 2 * w0[:, None] + 0 * b
    edge = np.minimum(shape.edge_break * 0.9 / radius, 0.06 * shape.pitch)
    bend = np.linspace(0, np.pi / 2, 4)[None, :]
    top_t = theta[:, -1:] - side * edge[:, None] * (1 - np.cos(bend))
    top_w = w1[:, None] + (1 - w1)[:, None] * np.sin(bend)
    y = np.linspace(0.57, 0.6, 4) if name == "convex" else np.linspace(0.78, 0.75, 4)
    uv = np.stack(np.broadcast_arrays(u1[:, None], y[None, :]), -1)
    grid = _place(shape, np.broadcast_to(u1[:, None], top_t.shape), top_w, top_t)
    return _Side(
        flank,
        strip_normals(grid, uv, _up(shape) + across),
        (foot_t, foot_w),
        (top_t, top_w),
        (
            np.concatenate([foot_t[:, ::-1], theta[:, 1:], top_t[:, 1:]], 1),
            np.concatenate([foot_w[:, ::-1], w[:, 1:], top_w[:, 1:]], 1),
        ),
    )


def _root(shape: RingGearShape, convex: _Side, concave: _Side) -> Patch:
    """This tooth's convex fillet, the root land, and the fillet of the next tooth's concave flank."""
    (ct, cw), (kt, kw) = convex.foot, concave.foot
    land = np.linspace(0, 1, 4)[None, 1:-1]
    far = kt[:, ::-1] - shape.sense * shape.pitch
    theta = np.concatenate([ct, ct[:, -1:] + (far[:, :1] - ct[:, -1:]) * land, far], 1)
    w = np.concatenate([cw, 0 * land + 0 * cw[:, :1], kw[:, ::-1]], 1)
    u = np.broadcast_to(np.linspace(0, 1, len(theta))[:, None], theta.shape)
    y = np.broadcast_to(np.linspace(0, 0.45, theta.shape[1])[None, :], theta.shape)
    return strip_normals(_place(shape, u, w, theta), np.stack([u, y], -1), _up(shape))


def _top_land(shape: RingGearShape, convex: _Side, concave: _Side) -> Patch:
    left, right = convex.top[0][:, -1:], concave.top[0][:, -1:]
    theta = left + (right - left) * np.linspace(0, 1, 4)[None, :]
    u = np.broadcast_to(np.linspace(0, 1, len(theta))[:, None], theta.shape)
    y = np.broadcast_to(np.linspace(0.6, 0.75, 4)[None, :], theta.shape)
    return strip_normals(_place(shape, u, np.ones_like(theta), theta), np.stack([u, y], -1), _up(shape))


def _end(shape: RingGearShape, convex: _Side, concave: _Side, u: float) -> Patch:
    """The tooth's end at u = 0 (toe) or 1 (heel)."""
    row = -1 if u else 0
    gamma = np.radians(shape.pitch_angle)
    outward = np.array([np.sin(gamma), 0, -np.cos(gamma)]) * (1 if u else -1)
    left, w = convex.rows[0][row], convex.rows[1][row]
    right = concave.rows[0][row]
    mix = np.linspace(0, 1, 4)[None, :]
    theta = left[:, None] + (right - left)[:, None] * mix
    uv = np.stack(np.broadcast_arrays(0.1 + 0.8 * mix, (0.86 + 0.13 * w)[:, None]), -1)
    grid = _place(shape, np.full_like(theta, u), np.broadcast_to(w[:, None], theta.shape), theta)
    return strip_normals(grid, uv, outward)


def _tooth_patches(shape: RingGearShape, nu: int, nv: int) -> dict[str, Patch]:
    """Convex and concave flank of tooth 0, and the rest of the tooth with one root land."""
    convex, concave = _side(shape, "convex", nu, nv), _side(shape, "concave", nu, nv)
    rest = [
        convex.edge,
        concave.edge,
        _root(shape, convex, concave),
        _top_land(shape, convex, concave),
        _end(shape, convex, concave, 0.0),
        _end(shape, convex, concave, 1.0),
    ]
    return {"convex": convex.flank, "concave": concave.flank, "rest": mesh_of(rest)}


def build_gear(shape: RingGearShape, nu: int = NU, nv: int = NV) -> GearMesh:
    """All meshes of the gear, with (nu, nv) vertices along and up each flank."""
    one = _tooth_patches(shape, nu, nv)
    whole = {
        name: patch.turned(np.arange(shape.teeth, dtype=np.float64) * shape.pitch)
        for name, patch in one.items()
    }
    return GearMesh(
        shape=shape,
        body=_body(shape),
        tooth_faces={name: len(patch.faces) for name, patch in one.items()},
        **whole,
    )


def _body(shape: RingGearShape) -> Patch:
    """Surface of revolution from the toe root round the bore and the back to the heel root."""
    (toe_r, heel_r), (toe_z, heel_z) = shape.section(np.array([0.0, 1.0]), np.zeros(2))
    low_r, low_z = shape.section(np.array([0.0, 1.0]), np.full(2, -0.45))
    bore = min(shape.bore * toe_r, low_r[0] - 0.5)
    back = min(toe_z, heel_z) - shape.web
    rim = max(low_r[1], heel_r)
    profile = np.array(
        [
            [toe_r, toe_z],
            [low_r[0], low_z[0]],
            [bore, low_z[0] - 1.0],
            [bore, back + 1],
            [bore + 1, back],
            [rim - 2, back],
            [rim, back + 2],
            [rim, min(low_z[1], heel_z - 1)],
            [heel_r, heel_z],
        ]
    )
    return lathe(profile, 160, repeats=6.0)
