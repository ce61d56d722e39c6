"""Maps of several flanks fitted at once: what is known comes back, outliers and padding don't count."""

import numpy as np

from contactread.flank.flank import FlankMap
from contactread.flank.map_fit import fit_maps

NU, NV = 4, 3


def flanks(draw: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Coefficients, basis, places and weights of three flanks with 90, 60 and 30 points of 90."""
    coefficients = draw.normal(size=(3, NU * NV, 2)) * 20
    uv = draw.random((3, 90, 2))
    basis = np.stack([FlankMap.basis(u, v, NU, NV) for u, v in uv.transpose(0, 2, 1)])
    weight = (np.arange(90) < np.array([[90], [60], [30]])).astype(float)
    return coefficients, basis, basis @ coefficients, weight


def test_known_maps_come_back_in_spite_of_outliers_and_padding() -> None:
    draw = np.random.default_rng(0)
    coefficients, basis, place, weight = flanks(draw)
    place[:, :4] += 500
    place[weight == 0] = 1e6
    fits = fit_maps(basis, place, weight, np.full(NU * NV, 1e-6), None, 30)
    np.testing.assert_allclose(basis @ fits.coefficients, basis @ coefficients, atol=0.5)
    assert (fits.weight[:, :4] < 0.01).all()
    assert (fits.weight[weight == 0] == 0).all()


def test_together_as_one_by_one() -> None:
    draw = np.random.default_rng(1)
    _, basis, place, weight = flanks(draw)
    place = place + draw.normal(size=place.shape)
    expected = draw.normal(size=(3, NU * NV, 2))
    stiffness = np.linspace(0, 5, NU * NV) + 1e-6
    together = fit_maps(basis, place, weight, stiffness, expected, 4)
    for k in range(3):
        seen = weight[k] > 0
        alone = fit_maps(
            basis[k : k + 1, seen], place[k : k + 1, seen], weight[k : k + 1, seen], stiffness,
            expected[k : k + 1], 4,
        )  # fmt: skip
        np.testing.assert_allclose(together.coefficients[k], alone.coefficients[0], rtol=1e-9)
        np.testing.assert_allclose(together.residual[k], alone.residual[0], rtol=1e-9)


def test_what_points_leave_open_is_as_expected() -> None:
    _, basis, place, weight = flanks(np.random.default_rng(2))
    weight[1] = 0
    expected = np.ones((3, NU * NV, 2))
    fits = fit_maps(basis, place, weight, np.full(NU * NV, 3.0), expected, 3)
    np.testing.assert_allclose(fits.coefficients[1], 1)
