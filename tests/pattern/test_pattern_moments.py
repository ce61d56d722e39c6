"""The sums that the vote goes by, against sums over the cells themselves."""

import numpy as np
from pattern_flats import flat_of

from contactread.pattern.cells import cells_of
from contactread.pattern.ellipse import cover
from contactread.pattern.moments import Moments


def test_sums_inside_a_patch_are_those_of_its_cells() -> None:
    draw = np.random.default_rng(0)
    flats = [flat_of(draw.integers(40, 200, (96, 288, 3), np.uint8)) for _ in range(3)]
    cells = cells_of(flats)
    moments = Moments.of(cells)
    patches = np.array(
        [[0.45, 0.5, np.log(0.3), np.log(0.4), 0.2], [0.8, 0.2, np.log(0.2), np.log(0.3), 0.0]]
    )
    covers = cover(patches, 2)
    inside = moments.inside(covers)
    weight, features = cells.halves
    np.testing.assert_allclose(inside[..., 0], covers @ weight.T, rtol=1e-4)
    sums = np.einsum("nc,tc,tcf->ntf", covers, weight, features)
    np.testing.assert_allclose(inside[..., 1:], sums, rtol=1e-3, atol=1e-3)
    np.testing.assert_allclose(moments.first, np.einsum("tc,tcf->tf", weight, features), atol=1e-3)
    square = np.einsum("tc,tcf,tcg->tfg", weight, features, features)
    np.testing.assert_allclose(moments.second, square, rtol=1e-3, atol=1e-3)


def test_half_as_many_cells_carry_the_same_weight() -> None:
    pixels = np.random.default_rng(1).integers(40, 200, (96, 288, 3), np.uint8)
    cells = cells_of([flat_of(pixels)])
    weight, features = cells.halves
    np.testing.assert_allclose(4 * weight.sum(), cells.weight.sum(), rtol=1e-4)
    whole = (cells.features * cells.weight[..., None]).sum(axis=1)
    np.testing.assert_allclose(4 * (features * weight[..., None]).sum(axis=1), whole, atol=0.05)
