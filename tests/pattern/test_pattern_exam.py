"""The bars of the exam photos, with the true corners given: the same figures as calibration/accuracy.py."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calibration import accuracy
from contactread import read
from contactread.arrays import Floats
from contactread.photo.load import load_photo

ROOT = Path(__file__).parents[2]
PHOTOS = ROOT.parent / "shared" / "photos"
Figures = tuple[dict[str, Floats], list[bool]]  # errors by name, whether each side was right
pytestmark = pytest.mark.skipif(not PHOTOS.is_dir(), reason="the exam photos aren't beside the checkout")


@pytest.fixture(scope="module")
def figures() -> Figures:
    errors, sides = accuracy.Errors(), []
    for path, truth in accuracy.truths(PHOTOS):
        asked = accuracy.asked_teeth(truth)
        reading = read(load_photo(path), corners=accuracy.corners_of(asked))
        errors.add(reading, asked)
        sides.append(reading.side.role == truth["side"])
    return {name: np.abs(values) for name, values in errors.all.items()}, sides


def test_side_is_right(figures: Figures) -> None:
    assert all(figures[1])


@pytest.mark.parametrize(
    ("name", "bar"),
    [("centre length", 0.02), ("centre height", 0.04), ("extent length", 0.04), ("extent height", 0.08)],
)
def test_median_bars(figures: Figures, name: str, bar: float) -> None:
    assert np.median(figures[0][name]) <= bar
