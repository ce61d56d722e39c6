"""Coverage maps to patches: closed forms, edges, smoothness."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from contactread.mesh.coverage import coverage
from contactread.patch import measure

CELLS = (96, 32)


def field(function) -> np.ndarray:  # type: ignore[no-untyped-def]
    u, v = ((np.arange(n) + 0.5) / n for n in CELLS)
    return np.asarray(function(u[:, None], v[None]) * np.ones(CELLS))


def test_parabola_covers_what_published_arithmetic_says() -> None:
    """E3: relief C at both ends, film t: covered share of the length sqrt(t / C)."""
    film = 0.00635
    for relief, share in ((0.0127, 0.71), (0.0254, 0.50), (0.0508, 0.35), (0.1016, 0.25)):
        patch = measure(coverage(field(lambda u, v, c=relief: c * (2 * u - 1) ** 2), film).T, 7 / 30)
        assert patch is not None
        assert patch.area_fraction == pytest.approx(sqrt(film / relief), abs=0.004)
        assert patch.area_fraction == pytest.approx(share, abs=0.006)


def test_ellipse_measures() -> None:
    """A filled ellipse: 5 and 95 % points lie 0.8054 of the half axis from the centre."""
    a, b, centre = 0.2, 0.25, (0.41, 0.56)
    room = field(lambda u, v: ((u - centre[0]) / a) ** 2 + ((v - centre[1]) / b) ** 2)
    patch = measure(coverage(room, 1.0).T, 7 / 30)
    assert patch is not None
    assert patch.centre == pytest.approx(centre, abs=1e-3)
    assert patch.length == pytest.approx((centre[0] - 0.8054 * a, centre[0] + 0.8054 * a), abs=2e-3)
    assert patch.height == pytest.approx((centre[1] - 0.8054 * b, centre[1] + 0.8054 * b), abs=3e-3)
    assert patch.area_fraction == pytest.approx(np.pi * a * b, rel=5e-3)
    assert patch.tilt_deg == pytest.approx(0, abs=0.1)
    assert patch.runs_off == frozenset()


def test_tilt_is_in_millimetres_and_positive_where_the_heel_is_higher() -> None:
    length, height, tilt = 30.0, 7.5, np.radians(8)

    def leaning(u: np.ndarray, v: np.ndarray) -> np.ndarray:
        x, y = (u - 0.5) * length, (v - 0.5) * height
        along, across = x * np.cos(tilt) + y * np.sin(tilt), y * np.cos(tilt) - x * np.sin(tilt)
        return np.asarray((along / 8) ** 2 + (across / 1.5) ** 2)

    patch = measure(coverage(field(leaning), 1.0).T, height / length)
    assert patch is not None
    assert patch.tilt_deg == pytest.approx(8, abs=0.2)


@pytest.mark.parametrize(
    ("edge", "function"),
    [
        ("toe", lambda u, v: (u - 0.02) ** 2 * 30 + (v - 0.5) ** 2 * 20),
        ("heel", lambda u, v: (u - 0.98) ** 2 * 30 + (v - 0.5) ** 2 * 20),
        ("root", lambda u, v: (u - 0.5) ** 2 * 30 + (v - 0.02) ** 2 * 20),
        ("top", lambda u, v: (u - 0.5) ** 2 * 30 + (v - 0.98) ** 2 * 20),
    ],
)
def test_runs_off(edge: str, function) -> None:  # type: ignore[no-untyped-def]
    patch = measure(coverage(field(function), 1.0).T, 7 / 30)
    assert patch is not None
    assert patch.runs_off == {edge}


def test_nothing_covered_is_none() -> None:
    assert measure(coverage(field(lambda u, v: 1.0 + u), 0.006).T, 7 / 30) is None


def test_measures_move_smoothly() -> None:
    """Moved by a tenth of a cell, the centre follows by a tenth of a cell."""
    centres = []
    for k in range(11):
        room = field(lambda u, v, k=k: ((u - 0.5 - k / 960) / 0.2) ** 2 + ((v - 0.5) / 0.3) ** 2)
        patch = measure(coverage(room, 1.0).T, 7 / 30)
        assert patch is not None
        centres.append(patch.centre[0])
    assert np.diff(centres) == pytest.approx(1 / 960, rel=0.1)
