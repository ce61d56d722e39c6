"""Random fields for textures, cheap to make."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]


def cloud(
    rng: np.random.Generator,
    shape: tuple[int, int],
    size: float | tuple[float, float],
    octaves: int = 1,
    falloff: float = 0.55,
) -> Field:
    """A smooth field of mean 0 and deviation 1; size: grain in pixels, or (along rows, along columns)."""
    across, down = (size, size) if isinstance(size, (int, float)) else size
    total = np.zeros(shape, np.float32)
    weight, power = 1.0, 0.0
    for _ in range(octaves):
        rows = max(2, int(np.ceil(shape[0] / max(down, 1.0))) + 2)
        columns = max(2, int(np.ceil(shape[1] / max(across, 1.0))) + 2)
        small = rng.standard_normal((min(rows, shape[0]), min(columns, shape[1])), dtype=np.float32)
        total += weight * cv2.resize(small, shape[::-1], interpolation=cv2.INTER_CUBIC)
        power += weight**2
        weight, across, down = weight * falloff, across / 2, down / 2
        if max(across, down) < 1:
            break
    return total * np.float32(1.25 / np.sqrt(power))


def streaks(
    rng: np.random.Generator, shape: tuple[int, int], length: float, width: float, angle: float
) -> Field:
    """Oriented grain: strokes of a length and width in pixels at an angle (rad) from the rows."""
    rows, columns = shape
    diagonal = int(np.hypot(rows, columns)) + 2
    if abs(np.sin(angle)) < 0.05:
        return cloud(rng, shape, (length, width))
    c, s = np.cos(angle), np.sin(angle)
    small = rng.standard_normal(
        (max(4, int(diagonal / max(width, 1.0))), max(4, int(diagonal / max(length, 1.0)))), dtype=np.float32
    )
    kx, ky = small.shape[1] / diagonal, small.shape[0] / diagonal
    forward = np.array([[c * kx, s * kx, 0], [-s * ky, c * ky, 0]])
    forward[:, 2] = np.array(small.shape[::-1]) / 2 - forward[:, :2] @ np.array([columns / 2, rows / 2])
    out = cv2.warpAffine(
        small,
        forward,
        (columns, rows),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_WRAP,
    )
    return np.asarray(out * np.float32(1.25), np.float32)


def ramp(x: Field, low: float | Field, high: float | Field) -> Field:
    """Smooth step from 0 at `low` to 1 at `high` (> low)."""
    t = np.clip((x - low) / (high - low), 0, 1)
    return np.asarray(t * t * (3 - 2 * t), np.float32)
