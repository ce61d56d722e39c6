"""Where the two gears stand, and at which roll angle a point of the ring-gear flank touches.

Space is the frame of the ring gear in its nominal place (see ring_flank): ring axis z, pinion axis along +x
through (0, a, 0), pinion head on the +x side. Left-hand ring gear; a right-hand one behaves as its mirror
image. Derivation: DERIVATION.md, section 3.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from contactread.arrays import Floats
from contactread.mesh.blank import Blank


@dataclass(frozen=True)
class Displacement:
    """How far the gears stand from their nominal places.

    pinion: P, mm, positive = pinion away from the ring-gear axis, along its own axis. ring: G, mm,
    positive = ring gear away from the pinion, along the ring axis. offset: mm, positive = offset larger
    than drawn. shaft_angle: rad, positive = more than 90 degrees.
    """

    pinion: float = 0.0
    ring: float = 0.0
    offset: float = 0.0
    shaft_angle: float = 0.0


@dataclass(frozen=True)
class Assembly:
    """The pinion axis seen from the ring gear.

    origin: a point of the pinion axis (3,), mm; frame: columns are the pinion's own x (axis), y, z.
    ratio: pinion turns per ring-gear turn. Several places at once: origin (k, 3), frame (k, 3, 3).
    """

    origin: Floats
    frame: Floats
    ratio: float

    def roll(self, points: Floats, normals: Floats) -> Floats:
        """Turn of the ring gear (rad) at which each flank point touches the pinion; NaN where it never does.

        points, normals: (..., 3); for several places (n, 3), which gives (k, n). Solves n.v = 0, which is
        A sin(roll) + B cos(roll) = C, on the branch in front of the pinion.
        """
        axis = self.frame[..., 0]
        c, s = axis[..., 0, None], axis[..., 2, None]
        ox, oy, oz = (self.origin[..., i, None] for i in range(3))
        nx, ny, nz = normals[..., 0], normals[..., 1], normals[..., 2]
        px, py, pz = points[..., 0], points[..., 1], points[..., 2] - oz
        lever = ring_lever(points, normals)
        sine = c * (px * nz - pz * nx) - s * (ox * nx + oy * ny)
        cosine = c * (py * nz - pz * ny) + s * (oy * nx - ox * ny)
        level = lever / self.ratio - s * lever + c * oy * nz
        with np.errstate(invalid="ignore"):
            return np.asarray(np.arctan2(sine, cosine) - np.arccos(level / np.hypot(sine, cosine)))

    def to_pinion(
        self, vectors: Floats, roll: Floats, origin: Floats | None = None, phase: Floats | None = None
    ) -> Floats:
        """Ring-flank vectors (..., 3) at ring turn `roll`, in the turning frame of the pinion.

        For several places roll is (k, n), as from `roll`, and so is what is returned: (k, n, 3).
        origin: `self.origin` for points, None for directions. phase: ring turn that the pinion answers to,
        where it isn't `roll`: the teeth have been closed by the difference.
        """
        c, s = np.cos(roll), np.sin(roll)
        x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
        space = np.stack(
            [c * x - s * y, s * x + c * y, np.broadcast_to(z, np.broadcast(z, c).shape)], axis=-1
        )
        local = (space if origin is None else space - origin[..., None, :]) @ self.frame
        pinion_turn = self.ratio * (roll if phase is None else phase)
        c, s = np.cos(pinion_turn), np.sin(pinion_turn)
        x, y, z = local[..., 0], local[..., 1], local[..., 2]
        return np.stack([x, c * y + s * z, c * z - s * y], axis=-1)


def assembly(blank: Blank, at: Displacement | None = None) -> Assembly:
    """The pinion axis for a displacement (None: the nominal place).

    A ring gear moved away by G is the pinion moved by G along +z; only the relative place matters.
    """
    d = at or Displacement()
    c, s = np.cos(d.shaft_angle), np.sin(d.shaft_angle)
    frame = np.array([[c, 0.0, -s], [0.0, 1.0, 0.0], [s, 0.0, c]])
    origin = np.array([d.pinion * c, blank.offset + d.offset, d.ring + d.pinion * s])
    return Assembly(origin, frame, blank.ratio)


def assemblies(blank: Blank, places: Sequence[Displacement]) -> Assembly:
    """The pinion axis for several displacements at once."""
    each = [assembly(blank, at) for at in places]
    return Assembly(np.stack([a.origin for a in each]), np.stack([a.frame for a in each]), blank.ratio)


def ring_lever(points: Floats, normals: Floats) -> Floats:
    """Lever of the flank normal about the ring axis, mm: normal travel per radian of ring-gear turn."""
    return points[..., 0] * normals[..., 1] - points[..., 1] * normals[..., 0]
