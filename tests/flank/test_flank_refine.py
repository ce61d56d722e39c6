"""The slopes that the fit of a gear goes by, against differences of the projection itself."""

from dataclasses import replace

import numpy as np
import pytest

from contactread.axle import FlankName
from contactread.flank.gear_fit import SPREAD, USUAL
from contactread.flank.gear_refine import places_and_slopes
from contactread.flank.gear_view import CAMERA, Gear, GearView


@pytest.mark.parametrize(
    ("advance", "flank"), [(1, "concave"), (-1, "concave"), (1, "convex"), (-1, "convex")]
)
def test_slopes_are_those_of_the_projection(advance: int, flank: FlankName) -> None:
    numbers = np.concatenate([[np.log(3000)], [2.1, 0.4, -0.3], [0.1, -0.2, 3.0], USUAL])
    view = GearView(numbers, advance, flank, (1000, 700), np.arange(-3, 4.0), 0.0)
    u, v = np.random.default_rng(0).random((2, 20))
    spread = np.concatenate([np.ones(CAMERA), SPREAD])
    places, slopes = places_and_slopes(view, u, v, spread)
    np.testing.assert_allclose(places, view.project(u, v), rtol=1e-12)
    for k in range(CAMERA + len(Gear)):
        nudge = 1e-6 * np.eye(len(numbers))[k]
        more, less = (replace(view, parameters=numbers + sign * nudge).project(u, v) for sign in (1, -1))
        expected = (more - less) / 2e-6
        np.testing.assert_allclose(slopes[..., k], expected, atol=5e-4 * np.abs(expected).max())
