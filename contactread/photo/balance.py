"""White balance from the metal in the picture, without being drawn by the compound's colour."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_SAMPLES = 6_000
_DARKEST, _BRIGHTEST = 24, 245  # sRGB code values: below is noise, above is clipped
_WIDEST = 0.45  # natural log of the strongest cast that is corrected: phones balance their own photos
_FEWEST = 0.02  # share of usable pixels below which nothing can be said


def estimate_balance(pixels: NDArray[np.uint8]) -> tuple[float, float, float]:
    """Gains (blue, green, red), green 1, that make the light neutral in linear sRGB.

    pixels: uint8, (height, width, 3), blue, green, red. The usual averages (grey world, brightest
    patch) turn yellow compound grey and metal blue. Metal is what is nearly neutral, so the centre of
    the near-neutral pixels is sought: a mean shift in log chromaticity that starts at "no cast" with a
    wide window, narrows it, and never leaves `_WIDEST`. Compound lies far outside the last window.
    """
    step = max(1, int(np.sqrt(pixels.shape[0] * pixels.shape[1] / _SAMPLES)))
    sample = pixels[::step, ::step].reshape(-1, 3)
    usable = sample[(sample.min(axis=1) >= _DARKEST) & (sample.max(axis=1) <= _BRIGHTEST)]
    if len(usable) < _FEWEST * len(sample):
        return 1.0, 1.0, 1.0
    linear = ((np.arange(256) / 255 + 0.055) / 1.055) ** 2.4  # IEC 61966-2-1; its straight foot is below 24
    log = np.log(linear[usable])
    chroma = log[:, (0, 2)] - log[:, (1,)]  # ln(blue / green), ln(red / green)
    centre = np.zeros(2)
    for window in (0.6, 0.6, 0.45, 0.45, 0.3, 0.3, 0.2, 0.2, 0.2):
        near = chroma[((chroma - centre) ** 2).sum(axis=1) < window**2]
        if len(near) < _FEWEST * len(sample):
            return 1.0, 1.0, 1.0
        centre = np.clip(near.mean(axis=0), -_WIDEST, _WIDEST)
    blue, red = np.exp(-centre)
    return float(blue), 1.0, float(red)
