"""The camera: a pinhole with radial distortion for the truth, a thin lens for the picture.

World = gear frame, mm. Picture: x right, y down, centre of the top-left pixel at (0, 0).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Camera:
    """origin, target, up: mm. focal_px: focal length in pixels of the finished picture. k1, k2: an
    undistorted position is centre + (p - centre)(1 + k1 r^2 + k2 r^4), r = |p - centre| over half the
    diagonal. aperture: lens radius in mm. focus: distance of sharp focus in mm."""

    origin: Array
    target: Array
    up: Array
    focal_px: float
    width: int
    height: int
    k1: float = 0.0
    k2: float = 0.0
    aperture: float = 0.05
    focus: float = 200.0

    @cached_property
    def axes(self) -> Array:
        """Rows: right, down, forward in world coordinates."""
        forward = self.target - self.origin
        forward = forward / np.linalg.norm(forward)
        right = np.cross(forward, self.up)
        right /= np.linalg.norm(right)
        return np.stack([right, np.cross(forward, right), forward])

    @property
    def centre(self) -> Array:
        """Middle of the picture (x, y), pixels."""
        return np.array([(self.width - 1) / 2, (self.height - 1) / 2])

    @property
    def _half(self) -> float:
        return float(np.hypot(self.width, self.height) / 2)

    def undistort(self, p: Array) -> Array:
        """Where the same ray would meet the picture of an undistorted lens."""
        q = p - self.centre
        r2 = (q**2).sum(-1, keepdims=True) / self._half**2
        return np.asarray(self.centre + q * (1 + self.k1 * r2 + self.k2 * r2**2))

    def distort(self, p: Array) -> Array:
        """Inverse of `undistort`, by fixed-point steps."""
        goal = p - self.centre
        q = goal.copy()
        for _ in range(12):
            r2 = np.minimum((q**2).sum(-1, keepdims=True) / self._half**2, 4.0)
            q = goal / (1 + self.k1 * r2 + self.k2 * r2**2)
        return np.asarray(self.centre + q)

    def project(self, points: Array) -> Array:
        """Pixels (..., 2) of world points (..., 3); NaN behind the camera."""
        local = (points - self.origin) @ self.axes.T
        depth = np.where(local[..., 2:] > 1e-6, local[..., 2:], np.nan)
        return self.distort(self.centre + self.focal_px * local[..., :2] / depth)

    def directions(self, p: Array) -> Array:
        """Unit world directions (..., 3) of the rays through pixels (..., 2)."""
        q = (self.undistort(p) - self.centre) / self.focal_px
        local = np.concatenate([q, np.ones_like(q[..., :1])], -1)
        world = local @ self.axes
        return np.asarray(world / np.linalg.norm(world, axis=-1, keepdims=True))

    def pixel_grid(self, step: int = 1) -> Array:
        """Pixel centres (rows, columns, 2), every `step`."""
        x, y = np.meshgrid(np.arange(step // 2, self.width, step), np.arange(step // 2, self.height, step))
        return np.stack([x, y], -1).astype(np.float64)

    def overscan(self) -> float:
        """Least enlargement of an undistorted picture that covers the distorted one."""
        edge = np.linspace(0, 1, 9)
        w, h = self.width - 1, self.height - 1
        ring = np.concatenate(
            [np.stack(a, -1) for a in ((edge * w, 0 * edge), (edge * w, 0 * edge + h),
                                       (0 * edge, edge * h), (0 * edge + w, edge * h))]
        )  # fmt: skip
        out = np.abs(self.undistort(ring) - self.centre) / (self.centre + 0.5)
        return float(max(1.0, out.max()) * 1.005)
