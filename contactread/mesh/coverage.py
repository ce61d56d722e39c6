"""Which share of each cell of the flank lies within the compound's film."""

from __future__ import annotations

import numpy as np

from contactread.arrays import Floats


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
