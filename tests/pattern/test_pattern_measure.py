"""Measuring a contact map whose figures are known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from contactread.pattern.measure import measure_tooth

ROWS, COLUMNS = 48, 144
U, V = np.meshgrid((np.arange(COLUMNS) + 0.5) / COLUMNS, (np.arange(ROWS) + 0.5) / ROWS)
SEEN = np.ones((ROWS, COLUMNS), np.float32)


def box(u0: float, u1: float, v0: float, v1: float) -> NDArray[np.float32]:
    return ((u0 < U) & (u1 > U) & (v0 < V) & (v1 > V)).astype(np.float32)


def test_box() -> None:
    read = measure_tooth(box(0.25, 0.75, 0.25, 0.75), SEEN, 0.25, (32.0, 8.0))
    assert read.centre == pytest.approx((0.5, 0.5))
    assert read.length == pytest.approx((0.275, 0.725))
    assert read.height == pytest.approx((0.275, 0.725))
    assert read.area_fraction == pytest.approx(0.25)
    assert read.tilt_deg == pytest.approx(0)
    assert read.margins_mm == pytest.approx({"toe": 8, "heel": 8, "root": 2, "top": 2}, abs=0.15)
    assert read.runs_off == read.hard_edges == frozenset()
    assert read.unsure_fraction == 0


@pytest.mark.parametrize("slope", [-0.6, -0.2, 0.1, 0.5])
def test_tilt_is_the_angle_in_mm_and_positive_where_the_heel_is_higher(slope: float) -> None:
    """A thin slanted band on a flank of 32 x 8 mm: rise of slope x 8 mm over 32 mm."""
    band = (np.abs(V - 0.5 - slope * (U - 0.5)) < 0.03).astype(np.float32)
    read = measure_tooth(band, SEEN, 8 / 32, None)
    assert read.tilt_deg == pytest.approx(np.degrees(np.arctan(slope * 8 / 32)), abs=0.7)


@pytest.mark.parametrize(
    ("edge", "patch"),
    [
        ("toe", box(-1, 0.3, 0.3, 0.7)),
        ("heel", box(0.6, 2, 0.3, 0.7)),
        ("top", box(0.3, 0.7, 0.6, 2)),
        ("root", box(0.3, 0.7, -1, 0.4)),
    ],
)
def test_running_off_an_edge(edge: str, patch: NDArray[np.float32]) -> None:
    read = measure_tooth(patch, SEEN, 0.25, None)
    assert read.runs_off == {edge}
    assert read.hard_edges == frozenset()


def test_hard_line_along_the_top() -> None:
    read = measure_tooth(box(0.2, 0.8, 0.88, 2), SEEN, 0.25, None)
    assert read.hard_edges == {"top"}


def test_what_is_hidden_is_unsure() -> None:
    judged = SEEN.copy()
    judged[:12] = 0
    assert measure_tooth(box(0.25, 0.75, 0.25, 0.75), judged, 0.25, None).unsure_fraction == 0.25


def test_sigma_never_below_what_any_photo_allows() -> None:
    read = measure_tooth(box(0.25, 0.75, 0.25, 0.75), SEEN, 0.25, None, (0.03, 0.0))
    assert read.sigma[0] > 0.03
    assert read.sigma[1] > 0.01
