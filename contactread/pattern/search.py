"""Find the patch that all teeth share, knowing neither the compound's colour nor which way it shows.

Each candidate patch splits the cells of all teeth into inside and outside. Two groups of equal
covariance explain the cells best where the pooled covariance within the groups has the smallest
determinant (maximum likelihood of two Gaussians). Brush gaps and slop of single teeth only add noise.
"""

from __future__ import annotations

import itertools
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.pattern.cells import COLUMNS, FEATURES, ROWS, Cells
from contactread.pattern.patch import Patch, log_prior, product

_ROWS, _COLUMNS = 12, 36
# Neighbouring cells tell the same story twice: about one in seventeen coarse cells is news.
_NEWS = 0.06
_FLOOR = 0.02  # least variance within the groups, in units of the whole spread
# Both rubbed and printed compound are streakier than what surrounds them; a patch much smoother than its
# surroundings is something else (a reflection, a clean-wiped end).
_SMOOTH_COST = 6.0
_LEAST_SEEN = 0.3  # share of a patch that must be visible


def likely_patches(cells: Cells, count: int = 4) -> Patch:
    """The best of a fixed set of candidate patches that differ from each other, best first, (count, 5)."""
    teeth = len(cells.weight)
    weight = cells.weight.reshape(teeth, ROWS, COLUMNS)
    stack = np.concatenate(
        [cells.features.reshape(teeth, ROWS, COLUMNS, FEATURES), weight[..., None]], axis=3
    )
    stack[..., :FEATURES] *= weight[..., None]
    small = np.stack([cv2.resize(s, (_COLUMNS, _ROWS), interpolation=cv2.INTER_AREA) for s in stack])
    small = small.reshape(teeth, -1, FEATURES + 1).astype(np.float64)
    w = np.where(small[..., FEATURES] > 0.2, small[..., FEATURES], 0)
    x = small[..., :FEATURES] / np.maximum(small[..., FEATURES:], 1e-3) * (w > 0)[..., None]
    x = x - (np.einsum("tc,tcf->tf", w, x) / np.maximum(w.sum(axis=1), 1e-3)[:, None])[:, None]
    patches, inside, area = _candidates()
    total = max(float(w.sum()), 1e-3)
    sums = np.concatenate([w.sum(axis=0)[:, None], np.einsum("tc,tcf->cf", w, x)], axis=1)
    square = np.einsum("tc,tcf,tcg->fg", w, x, x, optimize=True)
    within = product(inside, sums.T.astype(np.float32))
    size = np.maximum(within[:, 0].astype(float), 1e-3)
    rest = np.maximum(total - size, 1e-3)
    level_in = within[:, 1:] / size[:, None]
    level_out = (sums[:, 1:].sum(axis=0) - within[:, 1:]) / rest[:, None]
    step = level_in - level_out
    between = (size * rest / total)[:, None, None] * step[:, :, None] * step[:, None, :]
    covariance = (square - between) / total + _FLOOR * np.eye(FEATURES)
    score = -0.5 * _NEWS * total * np.linalg.slogdet(covariance)[1] + log_prior(patches)
    score += _SMOOTH_COST * np.minimum(step[:, 3], 0)
    score[size < _LEAST_SEEN * area * teeth] = -np.inf
    return patches[_different(score, inside, area, count)]


def _different(
    score: NDArray[np.float64], inside: NDArray[np.float32], area: NDArray[np.float64], count: int
) -> list[int]:
    """The best candidates of which no two share more than half of their joint area."""
    chosen: list[int] = []
    left = score.copy()
    while len(chosen) < count and np.isfinite(left).any():
        best = int(np.argmax(left))
        chosen.append(best)
        shared = product(inside, inside[best][None])[:, 0]
        left[shared > 0.5 * (area + area[best] - shared)] = -np.inf
    return chosen or [int(np.argmax(score))]


@cache
def _candidates() -> tuple[Patch, NDArray[np.float32], NDArray[np.float64]]:
    """Patches (n, 5), the coarse cells inside each (n, coarse cells) and their number (n,)."""
    numbers = itertools.product(
        np.linspace(0.1, 0.9, 11),
        np.linspace(0.1, 0.9, 7),
        np.log([0.15, 0.22, 0.32, 0.46]),
        np.log([0.22, 0.36, 0.58]),
        (-0.8, -0.35, 0.0, 0.35, 0.8),
    )
    patches = np.array(list(numbers))
    u = ((np.arange(_COLUMNS) + 0.5) / _COLUMNS).astype(np.float32)
    v = ((np.arange(_ROWS) + 0.5) / _ROWS).astype(np.float32)
    mid_u, mid_v, length, height, slant = patches.astype(np.float32).T[..., None, None]
    x = u[None, None] - mid_u
    y = (v[None, :, None] - mid_v - slant * x) * np.exp(-height)
    x = x * np.exp(-length)
    inside = ((x * x + y * y) < 1).reshape(len(patches), -1).astype(np.float32)
    area = inside.sum(axis=1).astype(float)
    keep = (area > 0.04 * _ROWS * _COLUMNS) & (area < 0.6 * _ROWS * _COLUMNS)
    return patches[keep], inside[keep], area[keep]
