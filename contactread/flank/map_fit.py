"""Smooth maps of several flanks fitted at once, robustly, to points of known place on each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from contactread.arrays import Floats

_USUAL = 1.5  # median misfits from which a point counts less (Huber)


@dataclass(frozen=True, eq=False)
class MapFits:
    """coefficients: (flanks, terms, 2), see FlankMap. weight: (flanks, points), what each point counted for
    in the end. residual: (flanks,), weighted RMS misfit in pixels."""

    coefficients: Floats
    weight: Floats
    residual: Floats


def fit_maps(
    basis: Floats, place: Floats, weight: Floats, stiffness: Floats, expected: Floats | None, rounds: int
) -> MapFits:
    """Iteratively reweighted least squares for each of several flanks.

    basis: (flanks, points, terms), see FlankMap.basis. place: (flanks, points, 2) pixels. weight: (flanks,
    points), 0 where a flank has fewer points than others. stiffness: (terms,), how strongly each term is held
    to what is expected of it, in points of full weight. expected: (flanks, terms, 2), or None for zero.
    """
    across = np.ascontiguousarray(basis.swapaxes(1, 2))
    held = np.diag(stiffness)
    goal = 0.0 if expected is None else stiffness[:, None] * expected
    none = weight <= 0
    count = (~none).sum(axis=1)
    middle = np.maximum(count - 1, 0) // 2, count // 2
    each = np.arange(len(basis))
    robust = weight
    for _ in range(rounds):
        weighed = across * robust[:, None]
        solved = np.linalg.solve(weighed @ basis + held, weighed @ place + goal)
        coefficients = np.asarray(solved, np.float64)
        off = basis @ coefficients
        off -= place
        error = np.sqrt(off[..., 0] ** 2 + off[..., 1] ** 2)
        ordered = np.sort(np.where(none, np.inf, error), axis=1)
        usual = (ordered[each, middle[0]] + ordered[each, middle[1]]) * (_USUAL / 2) + 1e-6
        robust = weight / np.maximum(1, error / usual[:, None])
    mean_square = (robust * error**2).sum(axis=1) / np.maximum(robust.sum(axis=1), 1e-12)
    return MapFits(coefficients, robust, np.asarray(np.sqrt(mean_square), np.float64))
