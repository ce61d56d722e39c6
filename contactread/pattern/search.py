"""Find the patch that all teeth share, knowing neither the compound's colour nor which way it shows.

Each candidate patch splits the cells of all teeth into inside and outside. Two groups of equal
covariance explain the cells best where the pooled covariance within the groups has the smallest
determinant (maximum likelihood of two Gaussians). Brush gaps and slop of single teeth only add noise.
"""

from __future__ import annotations

import itertools
from functools import cache

import numpy as np

from contactread.arrays import Floats, Singles
from contactread.pattern.cells import FEATURES, STREAKS, Cells
from contactread.pattern.ellipse import Ellipses, log_prior, product, radius

# Neighbouring cells tell the same story twice: about one in seventeen coarse cells is news.
_NEWS = 0.06
_FLOOR = 0.02  # least variance within the groups, in units of the whole spread
# Both rubbed and printed compound are streakier than what surrounds them; a patch much smoother than its
# surroundings is something else (a reflection, a clean-wiped end).
_SMOOTH_COST = 6.0
_LEAST_SEEN = 0.3  # share of a patch that must be visible
_COUNT = 4  # patches that the search goes on from
_AT_ONCE = 128  # candidates compared at once, best first


def likely_patches(cells: Cells) -> Ellipses:
    """The best of a fixed set of candidate patches that differ from each other, best first, (_COUNT, 5)."""
    weight, features = cells.halves
    w = np.where(weight > 0.2, weight, 0)
    x = features * (w > 0)[..., None]
    x = x - w[:, None] @ x / np.maximum(w.sum(axis=1), 1e-3)[:, None, None]
    patches, inside, area = _candidates()
    total = max(float(w.sum()), 1e-3)
    weighted = x * w[..., None]
    sums = np.concatenate([w.sum(axis=0)[:, None], weighted.sum(axis=0)], axis=1)
    square = (np.swapaxes(weighted, 1, 2) @ x).sum(axis=0).astype(float)
    within = product(inside, sums).astype(float)
    size = np.maximum(within[:, 0], 1e-3)
    rest = np.maximum(total - size, 1e-3)
    step = within[:, 1:] / size[:, None] - (sums[:, 1:].sum(axis=0) - within[:, 1:]) / rest[:, None]
    # The covariance within the groups is that of all cells less what the step between them explains, which
    # takes as much off its determinant (matrix determinant lemma).
    whole = square / total + _FLOOR * np.eye(FEATURES)
    explained = size * rest / total**2 * (step @ np.linalg.inv(whole) * step).sum(axis=1)
    score = -0.5 * _NEWS * total * np.log(np.maximum(1 - explained, 1e-6)) + log_prior(patches)
    score += _SMOOTH_COST * np.minimum(step[:, STREAKS], 0)
    score[size < _LEAST_SEEN * area * len(weight)] = -np.inf
    return patches[_different(score, inside, area)]


def _different(score: Floats, inside: Singles, area: Floats) -> list[int]:
    """The best candidates of which no two share more than half of their joint area."""
    order = np.argsort(-score)
    chosen = [int(order[0])]
    for start in range(0, len(order), _AT_ONCE):
        some = order[start : start + _AT_ONCE]
        some = some[np.isfinite(score[some])]
        if len(chosen) == _COUNT or not len(some):
            break
        shared = inside[some] @ inside[chosen].T
        free = (shared <= 0.5 * (area[some, None] + area[chosen] - shared)).all(axis=1)
        while len(chosen) < _COUNT and free.any():
            best = int(some[np.argmax(free)])
            chosen.append(best)
            common = inside[some] @ inside[best]
            free &= common <= 0.5 * (area[some] + area[best] - common)
    return chosen


@cache
def _candidates() -> tuple[Ellipses, Singles, Floats]:
    """Patches (n, 5), the coarse cells inside each (n, coarse cells) and their number (n,)."""
    numbers = itertools.product(
        np.linspace(0.1, 0.9, 11),
        np.linspace(0.1, 0.9, 7),
        np.log([0.15, 0.22, 0.32, 0.46]),
        np.log([0.22, 0.36, 0.58]),
        (-0.8, -0.35, 0.0, 0.35, 0.8),
    )
    patches = np.array(list(numbers))
    inside = (radius(patches, 2) < 1).astype(np.float32)
    area = inside.sum(axis=1).astype(float)
    keep = (area > 0.04 * inside.shape[1]) & (area < 0.6 * inside.shape[1])
    return patches[keep], inside[keep], area[keep]
