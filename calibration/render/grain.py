"""The path tracer's own grain, taken out of its pictures."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]


def despeckle(image: Field) -> Field:
    """Take out lone bright samples of the path tracer: no pixel above 2.5 times its 3 x 3 median.

    image: linear (rows, columns, 3).
    """
    middle = cv2.medianBlur(np.ascontiguousarray(image), 3)
    return np.asarray(np.minimum(image, 2.5 * middle + 0.02 * float(np.median(middle))), np.float32)


def smooth(image: Field, albedo: Field, samples: int) -> Field:
    """Even out the path tracer's own grain, and keep texture: only the light (image over albedo) is filtered,
    across no step that is larger than the grain expected of so many samples per pixel.
    image, albedo: linear (rows, columns, 3)."""
    albedo = np.maximum(albedo, 0.02)
    light = np.log(np.maximum(image / albedo, 0) + 1e-3)
    grain = 1.0 / np.sqrt(samples)
    for width in (1.6, 1.2):
        light = cv2.bilateralFilter(light, 5, 3.0 * grain, width)
        grain /= 2
    return np.asarray((np.exp(light) - 1e-3) * albedo, np.float32)
