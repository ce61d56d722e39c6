"""The shape of a contact patch: an ellipse, slanted, that may run over the edges of the flank.

Five numbers: middle u, middle v, logarithms of the half length and half height, and slant (rise of v per
u). Two ellipsoids pressed together touch in an ellipse (Hertz); a crowned tooth pair is close to that.
"""

from __future__ import annotations

import numpy as np

from contactread.arrays import Floats, Singles
from contactread.pattern.cells import axes

Ellipses = Floats  # (..., 5)

# Patches as shops see them, from trial assemblies good and bad: mean and spread of the five numbers.
# Common practice has a good patch cover a third to two thirds of the length, toe-side of the middle.
USUAL = np.array([0.45, 0.50, np.log(0.28), np.log(0.36), 0.0])
SPREAD = np.array([0.18, 0.18, 0.45, 0.45, 0.5])
# Tooth to tooth on one gear: runout, and the unsteadiness of paint. Same five numbers.
TOOTH_SPREAD = np.array([0.03, 0.05, 0.12, 0.15, 0.12])
_PIECE = 2**18  # multiplications that OpenBLAS does on one core
EDGE = 0.03  # softness of the patch's edge, as a share of the length


def product(a: Singles, b: Singles) -> Singles:
    """a @ b for float32 matrices, in pieces so small that numpy works them on one core: it may wait longer
    for its threads than it works."""
    out = np.empty((len(a), b.shape[1]), np.float32)
    step = max(1, _PIECE // b.size)
    for start in range(0, len(a), step):
        np.matmul(a[start : start + step], b, out=out[start : start + step])
    return out


def log_prior(patches: Ellipses) -> Floats:
    """Logarithm of the prior density, up to a constant, of patches (..., 5)."""
    value: Floats = -0.5 * (((patches - USUAL) / SPREAD) ** 2).sum(axis=-1)
    return value


def radius(patches: Ellipses, coarser: int = 1) -> Singles:
    """Distance of each cell from the patch's middle in half sizes, (n, cells): 1 on the edge.

    coarser: how many times as long and as high as usual the cells are.
    """
    u, v = axes(coarser)
    mid_u, mid_v, length, height, slant = patches.astype(np.float32).T[..., None]
    low = np.exp(-height)
    x = u - mid_u
    y = ((v - mid_v) * low)[:, :, None] - (slant * low * x)[:, None]  # (n, rows, columns)
    x *= np.exp(-length)
    y *= y
    y += (x * x)[:, None]
    return np.asarray(np.sqrt(y, out=y).reshape(len(patches), -1))


def cover(patches: Ellipses, coarser: int = 1) -> Singles:
    """Share of each cell that the patches cover, (n, cells), with a soft edge; coarser: as for `radius`."""
    steep = np.exp(0.5 * (patches[:, 2] + patches[:, 3])).astype(np.float32)[:, None] / (2 * EDGE)
    inside = radius(patches, coarser)
    inside *= -steep
    inside += steep + np.float32(0.5)
    return np.asarray(np.clip(inside, 0, 1, out=inside))
