"""Large photos are read at half their size, and every place is told in pixels of the whole one."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from contactread import read
from contactread.flank.flank import Flank, FlankMap
from contactread.photo.load import load_photo
from contactread.photo.photo import LARGE

SAMPLE = Path(__file__).parents[2] / "sample_images" / "birch_good" / "coast.jpg"


@pytest.fixture(scope="module")
def large() -> tuple[bytes, float]:
    """The sample enlarged past the limit, an odd number of pixels wide, and the factor."""
    small = np.asarray(cv2.imread(str(SAMPLE)), np.uint8)
    width = LARGE + 601
    factor = width / max(small.shape[:2])
    size = (round(small.shape[1] * factor), round(small.shape[0] * factor))
    return cv2.imencode(".jpg", cv2.resize(small, size, interpolation=cv2.INTER_CUBIC))[1].tobytes(), factor


def test_a_large_photo_reads_as_the_small_one(large: tuple[bytes, float]) -> None:
    data, factor = large
    small, big = read(SAMPLE), read(data)
    assert big.side.centre == pytest.approx(small.side.centre, abs=0.02)
    assert len(big.teeth) == len(small.teeth)
    for one, other in zip(small.teeth, big.teeth, strict=True):
        expected = (np.array(list(one.flank.corners.values())) + 0.5) * factor - 0.5
        off = np.array(list(other.flank.corners.values())) - expected
        assert np.linalg.norm(off, axis=1).max() < 0.03 * other.flank.length_px


def test_loaded_whole_or_reduced_it_reads_the_same(large: tuple[bytes, float]) -> None:
    whole, reduced = load_photo(large[0]), load_photo(large[0], reduce=True)
    assert whole.reduced == 1
    assert reduced.reduced == 2
    assert reduced.size_px == whole.size_px == whole.at_reading_size().size_px == (whole.width, whole.height)
    first, second = read(whole), read(reduced)
    assert first.size_px == second.size_px == whole.size_px
    assert first.side.centre == pytest.approx(second.side.centre, abs=0.01)


def test_corners_marked_on_a_large_photo_are_of_the_whole_one(large: tuple[bytes, float]) -> None:
    data, _ = large
    found = read(data)
    marks = {"teeth": [{n: list(p) for n, p in t.flank.corners.items()} for t in found.teeth if t.pattern]}
    by_hand = read(data, corners=marks)
    for mark, tooth in zip(marks["teeth"], by_hand.teeth, strict=True):
        off = np.array(list(tooth.flank.corners.values())) - np.array(list(mark.values()))
        assert np.linalg.norm(off, axis=1).max() < 0.03 * tooth.flank.length_px


def test_an_enlarged_flank_lies_where_it_lay() -> None:
    """Every pixel's centre goes to the middle of the pixels that it becomes."""
    coefficients = np.random.default_rng(3).normal(scale=30, size=(4, 3, 2))
    square = np.array([[0.0, 0], [9, 0], [9, 9]])
    flank = Flank(FlankMap(coefficients), "convex", 1.0, 0.0, "finder", covered_by=(square + 4,))
    larger = flank.enlarged(2)
    u, v = np.linspace(0, 1, 5), np.linspace(0, 1, 5)
    assert larger.map(u, v) == pytest.approx((flank.map(u, v) + 0.5) * 2 - 0.5)
    assert larger.covered_by[0] == pytest.approx((square + 4.5) * 2 - 0.5)
    assert flank.enlarged(1) is flank
