"""The contact patch as it is measured: from a coverage map on the flank to centre, extents, tilt, edges."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees

import numpy as np
from numpy.typing import NDArray

from contactread.axle import Interval
from contactread.pattern.measures import Edge

Floats = NDArray[np.float64]

# A patch runs off an edge where it covers more than this share of that edge's row of cells.
_OFF_SHARE = 0.05


@dataclass(frozen=True)
class Patch:
    """A contact patch in flank coordinates (u toe to heel, v root to top, 0..1).

    centroid: area centroid. length, height: 5 and 95 % points of the area along u and v. area_fraction:
    of the flank. tilt_deg: of the long axis against the length, in mm proportions, positive where the heel
    end lies higher. runs_off: edges it runs over.
    """

    centroid: tuple[float, float]
    length: Interval
    height: Interval
    area_fraction: float
    tilt_deg: float
    runs_off: frozenset[Edge]


def coverage(room: Floats, film: float) -> Floats:
    """Share of each cell (0..1) that lies within the film, from `room`, the remaining gap at cell centres.

    room: (..., nu, nv), mm; film: mm. The edge of the patch is placed within its cell by the slope of the
    gap, so that the measures move smoothly.
    """
    across = np.abs(_rise(room))
    across += np.abs(_rise(room.swapaxes(-1, -2)).swapaxes(-1, -2))
    return np.asarray(np.clip(0.5 + (film - room) / np.maximum(across, 1e-9), 0.0, 1.0))


def _rise(values: Floats) -> Floats:
    """Change a cell along the last axis: half the difference of both neighbours, at the ends of one."""
    rise = np.empty_like(values)
    np.subtract(values[..., 2:], values[..., :-2], out=rise[..., 1:-1])
    rise[..., 1:-1] *= 0.5
    rise[..., 0] = values[..., 1] - values[..., 0]
    rise[..., -1] = values[..., -1] - values[..., -2]
    return rise


def measure(covered: Floats, face_width: float, height: float) -> Patch | None:
    """The patch of a coverage map (nu, nv) on a flank of these mm; None where nothing is covered."""
    total = float(covered.sum())
    if total <= 0:
        return None
    nu, nv = covered.shape
    along, up = covered.sum(axis=1), covered.sum(axis=0)
    u, v = (np.arange(nu) + 0.5) / nu, (np.arange(nv) + 0.5) / nv
    centre_u, centre_v = float(along @ u) / total, float(up @ v) / total
    du, dv = (u - centre_u) * face_width, (v - centre_v) * height
    uu, vv, uv = float(along @ du**2), float(up @ dv**2), float(du @ covered @ dv)
    edges: list[tuple[Edge, float]] = [
        ("toe", along[0] / nv),
        ("heel", along[-1] / nv),
        ("root", up[0] / nu),
        ("top", up[-1] / nu),
    ]
    return Patch(
        (centre_u, centre_v),
        _percentiles(along),
        _percentiles(up),
        total / covered.size,
        degrees(0.5 * atan2(2 * uv, uu - vv)),
        frozenset(name for name, share in edges if share > _OFF_SHARE),
    )


def _percentiles(weights: Floats) -> Interval:
    """5 and 95 % points of weights over equal cells of 0..1."""
    rising = np.zeros(weights.size + 1)
    weights.cumsum(out=rising[1:])
    edges = np.arange(rising.size) / weights.size
    # Cells without weight make flat pieces; the first edge at or above the level is taken.
    low, high = np.interp(np.array([0.05, 0.95]) * rising[-1], rising, edges)
    return float(low), float(high)
