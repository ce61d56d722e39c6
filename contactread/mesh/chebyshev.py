"""Smooth fields over a flank, carried by their values at Chebyshev points.

Everything about an exact pair of flanks is smooth, so a dozen by eight points carry it to better than a
nanometre, and 96 x 32 points follow from two small matrix products.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import ArrayLike

from contactread.arrays import Floats


@dataclass(frozen=True)
class Axis:
    """Chebyshev points of one flank coordinate on [low, high], ascending. count: how many."""

    low: float
    high: float
    count: int

    def nodes(self) -> Floats:
        """The points, shape (count,)."""
        k = np.arange(self.count)[::-1]
        x = np.cos(np.pi * (k + 0.5) / self.count)
        return (self.low + self.high) / 2 + (self.high - self.low) / 2 * x

    def basis(self, at: ArrayLike) -> Floats:
        """Chebyshev polynomials at the points `at` (n,), shape (n, count)."""
        twice = (2 * np.asarray(at, float) - self.low - self.high) * (2 / (self.high - self.low))
        values = np.empty((self.count, twice.size))
        values[0] = 1.0
        values[1] = twice / 2
        for k in range(2, self.count):
            np.multiply(twice, values[k - 1], out=values[k])
            values[k] -= values[k - 2]
        return values.T

    def fit(self) -> Floats:
        """Matrix (count, count) from values at the nodes to Chebyshev coefficients; not to be written to."""
        return _fit(self)

    def reader(self, at: ArrayLike) -> Floats:
        """Matrix (at.size, count) from values at the nodes to values at `at`."""
        return self.basis(np.asarray(at, float)) @ self.fit()

    def slope(self) -> Floats:
        """Matrix (count, count) from coefficients to the coefficients of the derivative."""
        columns = np.zeros((self.count, self.count))
        for k in range(1, self.count):
            unit = np.zeros(k + 1)
            unit[k] = 1
            columns[:k, k] = chebyshev.chebder(unit)
        return columns * 2 / (self.high - self.low)

    def derivative(self) -> Floats:
        """Matrix (count, count) from values at the nodes to the derivative there; not to be written to."""
        return _derivative(self)


# The same few axes serve every gear set, so their matrices are worked out once.
@cache
def _fit(axis: Axis) -> Floats:
    return np.asarray(np.linalg.inv(axis.basis(axis.nodes())), np.float64)


@cache
def _derivative(axis: Axis) -> Floats:
    return np.asarray(axis.basis(axis.nodes()) @ axis.slope() @ axis.fit(), np.float64)


class Field:
    """A vector field on the flank, evaluated anywhere: values at nodes (u.count, v.count, m)."""

    def __init__(self, u: Axis, v: Axis, values: Floats) -> None:
        self._u, self._v = u, v
        self._width = values.shape[-1]
        coefficients = v.fit() @ np.tensordot(u.fit(), values, 1)
        # Components first: then the sums below run along the points, which lie side by side.
        self._flat = np.ascontiguousarray(coefficients.transpose(2, 1, 0)).reshape(-1, u.count)

    def __call__(self, u: Floats, v: Floats) -> Floats:
        """Values at points u, v of shape (n,): shape (n, m)."""
        rows = (self._flat @ self._u.basis(u).T).reshape(self._width, self._v.count, -1)
        return np.asarray(np.einsum("mbn,bn->mn", rows, self._v.basis(v).T).T)
