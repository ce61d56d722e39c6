"""The median and quantiles that ask nothing about masked arrays, against numpy's."""

from __future__ import annotations

import subprocess
import sys
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from contactread.arrays import median, quantile


@pytest.mark.parametrize("shape", [(1,), (2,), (7,), (8, 3), (5, 4, 2), (1001, 3)])
@pytest.mark.parametrize("kind", [np.float64, np.float32, np.int64])
def test_the_same_as_numpys_to_the_last_bit(shape: tuple[int, ...], kind: type) -> None:
    values: NDArray[Any] = (100 * np.random.default_rng(0).normal(size=shape)).astype(kind)
    for axis in (None, *range(len(shape))):
        ours, theirs = median(values, axis), np.median(values, axis=axis)
        assert np.asarray(ours).dtype == np.asarray(theirs).dtype
        assert np.asarray(ours).tobytes() == np.asarray(theirs).tobytes()


def test_what_isnt_a_number_or_isnt_there_makes_none() -> None:
    assert np.isnan(median([1.0, np.nan, 3.0]))
    assert np.isnan(median([]))
    columns = median(np.array([[1.0, np.nan], [2.0, 2.0], [3.0, 0.0]]), 0)
    assert columns[0] == 2.0
    assert np.isnan(columns[1])


@pytest.mark.parametrize("kind", [np.float64, np.float32, np.uint8])
@pytest.mark.parametrize("count", [1, 2, 3, 1728])
def test_quantiles_are_numpys(kind: type, count: int) -> None:
    values: NDArray[Any] = (250 * np.random.default_rng(0).random(count)).astype(kind)
    for share in (0.0, 0.15, 0.9, 0.98, 1.0):
        assert quantile(values, share) == pytest.approx(float(np.quantile(values, share)), rel=1e-6)


def test_masked_arrays_stay_unimported() -> None:
    program = (
        "import sys; from contactread.arrays import median, quantile; median([2, 1]); quantile([2, 1], 0.3); "
        "print('numpy.ma' in sys.modules)"
    )
    told = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "False"
