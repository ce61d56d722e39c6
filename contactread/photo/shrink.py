"""Making pictures smaller by area, quickly."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

_FAR = 2  # times too large, each way, from which a picture is first halved


def at_most(pixels: NDArray[np.uint8], *, wide: float = np.inf, long: float = np.inf) -> NDArray[np.uint8]:
    """The picture at most so many pixels wide, and its longer side at most so long; itself where it is so."""
    height, width = pixels.shape[:2]
    scale = min(1.0, wide / width, long / max(height, width))
    if scale == 1:
        return pixels
    return shrink(pixels, max(1, round(width * scale)), max(1, round(height * scale)))


def shrink(pixels: NDArray[np.uint8], width: int, height: int) -> NDArray[np.uint8]:
    """The picture in a smaller size, each pixel the mean of what lies under it.

    Halving is many times as fast as other ratios, so a far larger picture is halved first. An odd last row or
    column is left out then, which makes the rest larger by that much; sides of whole eights avoid it.
    """
    while pixels.shape[1] >= _FAR * width and pixels.shape[0] >= _FAR * height:
        half = (pixels.shape[1] // 2, pixels.shape[0] // 2)
        even = pixels[: 2 * half[1], : 2 * half[0]]
        pixels = np.asarray(cv2.resize(even, half, interpolation=cv2.INTER_AREA), np.uint8)
    return np.asarray(cv2.resize(pixels, (width, height), interpolation=cv2.INTER_AREA), np.uint8)
