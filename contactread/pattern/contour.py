"""Outlines of a contact map in flank coordinates, for drawing."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

_ENLARGE = 4  # outlines are followed on a finer grid, so that they look smooth


def contours(inside: NDArray[np.float32], level: float = 0.5) -> tuple[NDArray[np.float64], ...]:
    """Outlines of where `inside` exceeds `level`, each (n, 2) in (u, v); small specks are left out."""
    rows, columns = inside.shape
    size = (columns * _ENLARGE, rows * _ENLARGE)
    fine = cv2.resize(inside, size, interpolation=cv2.INTER_LINEAR)
    found, _ = cv2.findContours((fine > level).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    least = 0.005 * fine.size
    return tuple(
        (curve[:, 0, :].astype(np.float64) + 0.5) / size for curve in found if cv2.contourArea(curve) >= least
    )
