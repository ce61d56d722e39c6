"""Triangle patches: grids, surfaces of revolution, boxes, tubes; joined into one mesh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Patch:
    """Vertices (n, 3), unit normals (n, 3), texture coordinates (n, 2), triangles (m, 3)."""

    points: Array
    normals: Array
    uv: Array
    faces: NDArray[np.int64]

    def turned(self, angles: Array) -> Patch:
        """Copies turned about z by each angle (n,), rad, joined in that order."""
        c, s, zero = np.cos(angles), np.sin(angles), np.zeros_like(angles)
        rotation = np.stack([c, -s, zero, s, c, zero, zero, zero, zero + 1], -1).reshape(-1, 3, 3)
        count = len(self.points)
        return Patch(
            np.einsum("kij,nj->kni", rotation, self.points).reshape(-1, 3),
            np.einsum("kij,nj->kni", rotation, self.normals).reshape(-1, 3),
            np.tile(self.uv, (len(angles), 1)),
            (self.faces[None] + count * np.arange(len(angles))[:, None, None]).reshape(-1, 3),
        )

    def moved(self, rotation: Array, shift: Array, scale: float = 1.0) -> Patch:
        """Scaled, then rotated by a matrix (3, 3), then shifted by (3,)."""
        return Patch(scale * self.points @ rotation.T + shift, self.normals @ rotation.T, self.uv, self.faces)


def mesh_of(parts: Sequence[Patch]) -> Patch:
    """One patch of several; vertices are not shared across parts."""
    starts = np.cumsum([0, *(len(p.points) for p in parts)])
    return Patch(
        np.concatenate([p.points for p in parts]),
        np.concatenate([p.normals for p in parts]),
        np.concatenate([p.uv for p in parts]),
        np.concatenate([p.faces + start for p, start in zip(parts, starts, strict=False)]),
    )


def nothing() -> Patch:
    """One speck far away: keeps a scene's structure where a shape isn't used."""
    points = np.array([[0, 0, -9e4], [1, 0, -9e4], [0, 1, -9e4]])
    return Patch(
        points, np.tile([0.0, 0, 1], (3, 1)), np.zeros((3, 2)), np.array([[0, 1, 2]], dtype=np.int64)
    )


def grid_faces(rows: int, columns: int, flip: bool = False) -> NDArray[np.int64]:
    """Triangles (2 (rows - 1) (columns - 1), 3) of a grid's vertices, numbered row by row. flip: the other
    way round."""
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]
    order = [a, c, b, a, d, c] if flip else [a, b, c, a, c, d]
    return np.stack(order, -1).reshape(-1, 3)


def strip_normals(grid: Array, uv: Array, outward: Array) -> Patch:
    """A smooth patch of a grid (rows, columns, 3); its normals agree with `outward` on the whole."""
    along, up = np.gradient(grid, axis=0), np.gradient(grid, axis=1)
    normals = np.cross(along, up)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True) + 1e-12
    rows, columns = grid.shape[:2]
    flip = bool((normals.mean((0, 1)) * outward).sum() < 0)
    return Patch(
        np.ascontiguousarray(grid).reshape(-1, 3),
        (normals * (-1 if flip else 1)).reshape(-1, 3),
        np.ascontiguousarray(uv).reshape(-1, 2),
        grid_faces(rows, columns, flip),
    )


def lathe(
    profile: Array,
    segments: int,
    repeats: float = 1.0,
    span: float = 2 * np.pi,
    wobble: Array | None = None,
) -> Patch:
    """Surface of revolution about z of a profile (n, 2) of (radius, z), hard edges at its corners.

    The side to the left of the profile's direction, seen with radius right and z up, is outside.
    Texture x runs `repeats` times round; texture y follows the profile in the same mm scale. wobble:
    optional (n, segments + 1) added to the radius.
    """
    angle = np.linspace(0, span, segments + 1)
    parts = []
    done = 0.0
    scale = repeats / max(1e-6, 2 * np.pi * float(np.abs(profile[:, 0]).max()))
    for i in range(len(profile) - 1):
        (r0, z0), (r1, z1) = profile[i], profile[i + 1]
        length = float(np.hypot(r1 - r0, z1 - z0))
        if length < 1e-9:
            continue
        r = np.stack([np.full_like(angle, r0), np.full_like(angle, r1)], 1)
        if wobble is not None:
            r = r + wobble[i : i + 2].T
        z = np.broadcast_to(np.array([z0, z1])[None], r.shape)
        grid = np.stack([r * np.cos(angle)[:, None], r * np.sin(angle)[:, None], z], -1)
        nr, nz = -(z1 - z0) / length, (r1 - r0) / length
        normal = np.stack([nr * np.cos(angle), nr * np.sin(angle), np.full_like(angle, nz)], -1)[
            :, None
        ].repeat(2, 1)
        y = np.array([done, done + length]) * scale
        uv = np.stack(np.broadcast_arrays((angle / (2 * np.pi) * repeats)[:, None], y[None]), -1)
        face = grid_faces(segments + 1, 2)
        first = np.cross(grid[1, 0] - grid[0, 0], grid[1, 1] - grid[0, 0])
        if (first * normal[0, 0]).sum() < 0:
            face = grid_faces(segments + 1, 2, True)
        parts.append(Patch(grid.reshape(-1, 3), normal.reshape(-1, 3), uv.reshape(-1, 2), face))
        done += length
    return mesh_of(parts)


def quad(corners: Array, repeats: tuple[float, float] = (1.0, 1.0)) -> Patch:
    """A flat four-sided patch; corners (4, 3) counter-clockwise seen from its front."""
    normal = np.cross(corners[1] - corners[0], corners[3] - corners[0])
    normal /= np.linalg.norm(normal)
    uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]]) * repeats
    return Patch(corners, np.tile(normal, (4, 1)), uv, np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int64))


def box(size: Array, repeats: float = 1.0) -> Patch:
    """A box about the origin. size: (3,), mm. repeats: of the texture over each face."""
    h = np.asarray(size) / 2
    parts = []
    for axis in range(3):
        a, b = (axis + 1) % 3, (axis + 2) % 3
        for sign in (-1, 1):
            corners = np.zeros((4, 3))
            corners[:, axis] = sign * h[axis]
            corners[:, a] = np.array([-1, 1, 1, -1]) * h[a] * sign
            corners[:, b] = np.array([-1, -1, 1, 1]) * h[b]
            parts.append(quad(corners, (repeats, repeats)))
    return mesh_of(parts)


def tube(path: Array, radius: Array, sides: int = 12, repeats: float = 4.0) -> Patch:
    """A round tube along a path (n, 3) with a radius at each point; open ends."""
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True) + 1e-12
    helper = np.eye(3)[np.argmin(np.abs(tangent).max(0))]
    a = np.cross(tangent, helper)
    a /= np.linalg.norm(a, axis=1, keepdims=True) + 1e-12
    b = np.cross(tangent, a)
    angle = np.linspace(0, 2 * np.pi, sides + 1)
    ring = np.cos(angle)[None, :, None] * a[:, None] + np.sin(angle)[None, :, None] * b[:, None]
    grid = path[:, None] + radius[:, None, None] * ring
    uv = np.stack(
        np.broadcast_arrays(np.linspace(0, repeats, len(path))[:, None], np.linspace(0, 1, sides + 1)[None]),
        -1,
    )
    faces = grid_faces(len(path), sides + 1)
    middle = np.cross(grid[1, 0] - grid[0, 0], grid[1, 1] - grid[0, 0])
    if (middle * ring[0, 0]).sum() < 0:
        faces = grid_faces(len(path), sides + 1, True)
    return Patch(grid.reshape(-1, 3), ring.reshape(-1, 3), uv.reshape(-1, 2), faces)


def rotation_between(z_axis: Array, spin: float = 0.0) -> Array:
    """A rotation that takes z to `z_axis`, after a spin about z (rad)."""
    z = np.asarray(z_axis, float) / np.linalg.norm(z_axis)
    helper = np.eye(3)[int(np.argmin(np.abs(z)))]
    x = np.cross(helper, z)
    x /= np.linalg.norm(x)
    frame = np.stack([x, np.cross(z, x), z], 1)
    c, s = np.cos(spin), np.sin(spin)
    return np.asarray(frame @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]))
