"""The one measure of a patch, against scikit-image's own sums and against patches that are known."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.measure import moments_central, points_in_poly, regionprops

from contactread.patch import EDGES, TOUCHING, Edge, Patch, ellipse, measure, outlines, told_clear

Field = NDArray[np.float64]
GRIDS = ((24, 72), (32, 96), (96, 288))  # of readings, of the mesh, a fine one: (rows, columns)


def grid(rows: int, columns: int) -> tuple[Field, Field]:
    u, v = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
    return u, v


def oval(
    size: tuple[int, int], centre: tuple[float, float], half: tuple[float, float], lean: float = 0.0
) -> Field:
    """An ellipse with the share of each cell that it covers."""
    fine = 8
    u, v = grid(size[0] * fine, size[1] * fine)
    inside = np.hypot((u - centre[0]) / half[0], (v - centre[1] - lean * (u - centre[0])) / half[1]) < 1
    return np.asarray(inside.reshape(size[0], fine, size[1], fine).mean(axis=(1, 3)))


def measured(field: Field, aspect: float = 0.25, shared: Field | None = None) -> Patch:
    patch = measure(field, aspect, shared, outlined=True)
    assert patch is not None
    return patch


@pytest.mark.parametrize("seed", range(5))
def test_centre_area_and_tilt_agree_with_scikit_image(seed: int) -> None:
    """Any field of weights: its central moments, and its regionprops where every cell is 0 or 1."""
    draw = np.random.default_rng(seed)
    centre = (float(draw.uniform(0.2, 0.8)), float(draw.uniform(0.2, 0.8)))
    half = (float(draw.uniform(0.15, 0.4)), float(draw.uniform(0.1, 0.4)))
    field = oval((32, 96), centre, half, float(draw.normal(0, 0.5)))
    field *= draw.uniform(0.5, 1, field.shape)
    patch = measured(field, 1 / 3)  # cells are 1/96 x 1/32 of the flank: square with this aspect
    (m,) = regionprops(np.ones(field.shape, int), intensity_image=field)
    row, column = m.centroid_weighted
    assert patch.centre == pytest.approx(((column + 0.5) / 96, (row + 0.5) / 32), abs=1e-12)
    assert patch.area_fraction == pytest.approx(m.intensity_mean)
    mu = moments_central(field, order=2)
    assert np.tan(2 * np.radians(patch.tilt_deg)) == pytest.approx(2 * mu[1, 1] / (mu[0, 2] - mu[2, 0]))
    (region,) = regionprops((field > 0.4).astype(int))
    whole = measured((field > 0.4).astype(float), 1 / 3)
    assert whole.area_fraction == pytest.approx(region.area / field.size)
    # Its orientation is measured from the row axis; ours from the length, upward.
    theirs = 90 - np.degrees(region.orientation)
    assert (whole.tilt_deg - theirs + 90) % 180 - 90 == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("size", GRIDS)
def test_the_same_patch_measures_the_same_on_every_grid(size: tuple[int, int]) -> None:
    """A filled ellipse: 5 and 95 % points lie 0.8054 of the half axis from the centre."""
    patch = measured(oval(size, (0.42, 0.55), (0.25, 0.3)))
    assert patch.centre == pytest.approx((0.42, 0.55), abs=1e-3)
    assert patch.length == pytest.approx((0.42 - 0.2013, 0.42 + 0.2013), abs=3e-3)
    assert patch.height == pytest.approx((0.55 - 0.2416, 0.55 + 0.2416), abs=5e-3)
    assert patch.area_fraction == pytest.approx(np.pi * 0.25 * 0.3, rel=2e-3)
    # To where it is three tenths as wide as at most: 4.6 % of the half axis short of the tip.
    assert patch.clear == pytest.approx((0.182, 0.342, 0.164, 0.264), abs=0.006)
    assert patch.runs_off == frozenset()


@pytest.mark.parametrize("size", GRIDS)
@pytest.mark.parametrize("edge", EDGES)
def test_runs_off_where_the_edge_cuts_the_patch(edge: Edge, size: tuple[int, int]) -> None:
    """An ellipse pushed toward an edge: well cut off it runs off, ending before it it doesn't."""

    def pushed(gap: float) -> Patch:
        u, v = {
            "toe": (gap + 0.25, 0.5),
            "heel": (0.75 - gap, 0.5),
            "top": (0.45, 0.7 - gap),
            "root": (0.45, 0.3 + gap),
        }[edge]
        return measured(oval(size, (u, v), (0.25, 0.3)))

    assert pushed(-0.1).runs_off == pushed(-0.03).runs_off == {edge}
    assert pushed(0.03).runs_off == pushed(0.1).runs_off == frozenset()


@pytest.mark.parametrize("seed", range(20))
def test_clear_and_runs_off_never_contradict(seed: int) -> None:
    draw = np.random.default_rng(seed)
    for _ in range(50):
        size = GRIDS[int(draw.integers(2))]
        form = draw.uniform(-0.1, 1.1, 2), draw.uniform(0.05, 0.5, 2), float(draw.normal(0, 0.6))
        patch = measure(oval(size, tuple(form[0]), tuple(form[1]), form[2]), 0.22, outlined=True)
        if patch is None:
            continue
        for edge in EDGES:
            gap = getattr(patch.clear, edge)
            assert (gap == 0) == (edge in patch.runs_off) and (gap == 0 or gap > TOUCHING[edge])
        points = np.array([point for outline in patch.outlines for point in outline])
        if len(points):  # the picture says the same: the tip that doesn't count is short
            reach = dict(zip(EDGES, (*points.min(0)[:1], 1 - points.max(0)[0], 1 - points.max(0)[1],
                                     points.min(0)[1]), strict=True))  # fmt: skip
            assert all(reach[edge] < 0.06 for edge in patch.runs_off)


def test_a_patch_that_the_pinions_tip_cuts_runs_off_at_the_root() -> None:
    """The flank that both teeth have ends above the ring gear's own root: the distance counts from there."""
    size = (32, 96)
    _, v = grid(*size)
    shared = (v > 0.05).astype(float)
    whole = oval(size, (0.5, 0.3), (0.3, 0.32))
    assert measured(whole * shared, shared=shared).runs_off == {"root"}
    high = measured(oval(size, (0.5, 0.5), (0.3, 0.3)), shared=shared)
    assert high.runs_off == frozenset() and high.clear.root == pytest.approx(0.214 - 0.05, abs=0.01)


def test_what_is_bare_is_no_patch() -> None:
    assert measure(np.zeros((24, 72)), 0.2) is None


def test_outlines_hold_what_is_covered() -> None:
    """Against the cells themselves, by scikit-image's point in polygon; specks and holes are left out."""
    u, v = grid(24, 72)
    field = oval((24, 72), (0.3, 0.6), (0.2, 0.3), 0.5)
    field[:3, 60:66] = 1.0  # a second part, cut off by the root
    field[12, 20] = 0.0  # a hole
    field[20, 70] = 1.0  # a speck
    first, second = outlines(field)
    inside = points_in_poly(np.stack([u.ravel(), v.ravel()], axis=1), np.array(first)).reshape(field.shape)
    differ = (inside != (field > 0.5)) & (u < 0.6)
    assert differ.sum() <= 5  # the hole, and cells that stick out by a corner
    assert min(v for _, v in second) == 0  # it ends on the flank's edge
    assert max(v for _, v in second) == pytest.approx(3 / 24, abs=0.001)
    assert outlines(np.zeros((24, 72))) == ()


def test_a_patch_known_by_numbers_is_drawn_as_an_ellipse_through_its_extents() -> None:
    length, height = (0.3, 0.6), (0.2, 0.7)
    patch = Patch((0.45, 0.45), length, height, 0.2, 0.0, told_clear(length, height))
    (outline,) = patch.shape()
    assert outline == ellipse((0.45, 0.45), length, height)
    again = measured(oval((96, 288), (0.45, 0.45), tuple(np.ptp(np.array(outline), axis=0) / 2)))
    assert again.length == pytest.approx(length, abs=0.004) and again.height == pytest.approx(
        height, abs=0.006
    )


def test_told_clear_says_what_was_told() -> None:
    clear = told_clear((0.1, 0.8), (0.0, 0.9), {"heel"})
    assert clear == pytest.approx((0.1, 0.0, 0.1, 0.0))


def test_outlines_cost_no_scipy() -> None:
    code = (
        "import sys, numpy; from contactread.patch import outlines; outlines(numpy.eye(8)); "
        "assert not any(m.split('.')[0] == 'scipy' for m in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_holes_are_left_out_of_the_outlines() -> None:
    """A ring of contact has one outline, the outer one."""
    v, u = np.mgrid[0:48, 0:144] / [[[48]], [[144]]]
    away = np.hypot((u - 0.5) * 3, v - 0.5)
    (curve,) = outlines(((away < 0.4) & (away > 0.25)).astype(np.float32))
    assert max(x for x, _ in curve) - min(x for x, _ in curve) > 0.25
