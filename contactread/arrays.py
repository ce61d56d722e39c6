"""The two kinds of number arrays, named once: everything that is computed with, and everything seen."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]  # places, fits, sums
Singles = NDArray[np.float32]  # what is held for each pixel or cell


def median(values: ArrayLike, axis: int | None = None) -> Any:
    """The median along an axis, or of all; NaN where one of them is. As `np.median`, to the last bit, which
    asks about masked arrays first: to import them would take as long as all medians of a reading.
    """
    numbers = np.asarray(values)
    if axis is None:
        numbers, axis = numbers.ravel(), 0
    count = numbers.shape[axis]
    if not count:
        return np.full(numbers.shape[:axis] + numbers.shape[axis + 1 :], np.nan)[()]
    middle = count // 2
    inorder = np.partition(numbers, [max(middle - 1, 0), middle, count - 1], axis)
    upper, last = inorder.take(middle, axis), inorder.take(count - 1, axis)
    found = upper / 1 if count % 2 else (inorder.take(middle - 1, axis) + upper) / 2
    return np.where(np.isnan(last), last, found)[()]


def quantile(values: ArrayLike, share: float) -> float:
    """The value below which that share of all lies, between neighbours by straight interpolation, as
    `np.quantile`, which is spared for the reason told at `median`. At least one value.
    """
    numbers = np.asarray(values).ravel()
    place = share * (numbers.size - 1)
    low = int(place)
    both = [low, min(low + 1, numbers.size - 1)]
    one, next_one = np.partition(numbers, both)[both].tolist()
    return float(one + (next_one - one) * (place - low))
