"""From corners to curved flanks, on gears whose flanks are known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

import numpy as np
import pytest
from flank_corner_scenes import SIZE, marks, scene

from contactread.arrays import Floats
from contactread.axle import Axle, FlankName, GearSet, Hand
from contactread.errors import CornersError
from contactread.flank.corners import flanks_from_points, tooth_orders
from contactread.flank.flank import Flank
from contactread.flank.gear_view import GearView

U, V = (a.ravel() for a in np.meshgrid(np.linspace(0, 1, 21), np.linspace(0, 1, 9)))


def misfit(view: GearView, flanks: Sequence[Flank]) -> Floats:
    """Distance of the flanks from the truth, (teeth, points), in shares of each flank's height."""
    true = view.project(U, V)
    read = np.array([flank.map(U, V) for flank in flanks])
    height = np.array([flank.height_px for flank in flanks])
    return np.asarray(np.linalg.norm(read - true, axis=2) / height[:, None])


@pytest.mark.parametrize("flank", ["convex", "concave"])
@pytest.mark.parametrize("advance", [1, -1])
def test_usual_gear_is_recovered_and_its_side_told(flank: FlankName, advance: int) -> None:
    view = scene(flank=flank, advance=advance)
    flanks = flanks_from_points(marks(view), SIZE)
    assert [f.name for f in flanks] == [flank] * 4
    assert min(f.name_confidence for f in flanks) > 0.95
    assert misfit(view, flanks).max() < 0.02


def test_the_edges_bow_where_a_flat_four_sided_figure_would_not() -> None:
    view = scene()
    flanks = flanks_from_points(marks(view), SIZE)
    corner = marks(view)
    straight = (1 - U)[:, None] * corner[:, None, 0] + U[:, None] * corner[:, None, 3]
    bow = np.linalg.norm(view.project(U, 0 * U) - straight, axis=2).max(axis=1)
    heights = np.array([f.height_px for f in flanks])
    assert (bow / heights).max() > 0.1  # the test would be empty on a straight edge
    read = np.array([f.map(U, 0 * U) for f in flanks])
    assert np.abs(read - view.project(U, 0 * U)).max() < 0.15 * bow.max()


@pytest.mark.parametrize(
    "gear",
    [
        {"cutter_radius": 0.95, "spiral": np.radians(30)},
        {"cutter_radius": 1.35, "tooth_pitch": 2 * np.pi / 37},
        {"pitch_angle": np.radians(70), "face_width": 0.32, "heel_height": 0.11},
        {"tooth_pitch": 2 * np.pi / 46, "spiral": np.radians(37)},
    ],
)
def test_gears_that_are_not_quite_usual(gear: dict[str, Any]) -> None:
    view = scene(**gear)
    assert misfit(view, flanks_from_points(marks(view), SIZE)).mean() < 0.02


def test_axle_file_narrows_the_cutter() -> None:
    view = scene(cutter_radius=0.8)
    cone = 100.0
    gears = GearSet(
        pinion_teeth=11,
        ring_teeth=41,
        ring_diameter_mm=2 * cone * (1 + 0.345 / 2) * np.sin(np.radians(73)),
        face_width_mm=0.345 * cone,
        cutter_radius_mm=0.8 * cone,
        spiral_deg=33,
    )
    told = misfit(view, flanks_from_points(marks(view), SIZE, Axle(gears)))
    guessed = misfit(view, flanks_from_points(marks(view), SIZE))
    assert told.mean() < 0.5 * guessed.mean()


def test_unsteady_marks_are_averaged_over_the_teeth() -> None:
    view = scene(teeth=(0, 1, 2, 3, 4, 5))
    noise = np.random.default_rng(3).normal(scale=2.0, size=(6, 4, 2))
    flanks = flanks_from_points(marks(view) + noise, SIZE)
    read = np.array([f.map(*np.array([[0, 0, 1, 1], [0, 1, 1, 0]], float)) for f in flanks])
    assert np.abs(read - marks(view)).mean() < 0.7 * np.abs(noise).mean()


def test_teeth_in_any_order_with_one_left_out() -> None:
    view = scene(teeth=(0, 1, 2, 4, 5))
    mixed = [3, 0, 4, 2, 1]
    flanks = flanks_from_points(marks(view)[mixed], SIZE)
    true = view.project(U, V)[mixed]
    read = np.array([flank.map(U, V) for flank in flanks])
    assert np.abs(read - true).max() < 0.03 * flanks[0].height_px + 1
    assert any(np.ptp(order) == 5 for order in tooth_orders(marks(view)[mixed]))


def test_two_teeth_are_enough() -> None:
    view = scene(teeth=(0, 1))
    assert misfit(view, flanks_from_points(marks(view), SIZE)).max() < 0.02


@pytest.mark.parametrize("flank", ["convex", "concave"])
@pytest.mark.parametrize("advance", [1, -1])
def test_one_tooth_gets_a_bow_of_sensible_size_and_an_unsure_side(flank: FlankName, advance: int) -> None:
    view = scene(teeth=(0,), flank=flank, advance=advance)
    (read,) = flanks_from_points(marks(view), SIZE)
    assert read.name_confidence <= 0.7
    assert misfit(view, [read]).max() < 0.6
    assert np.allclose(list(read.corners.values()), marks(view)[0], atol=2)


def test_ends_swapped_on_one_tooth_is_refused() -> None:
    corners = marks(scene())
    corners[2] = corners[2][[3, 2, 1, 0]]
    with pytest.raises(CornersError) as caught:
        flanks_from_points(corners, SIZE)
    assert caught.value.code == "corners-disagree"
    assert "tooth 3" in str(caught.value)


def test_the_users_word_on_the_side_is_kept() -> None:
    flanks = flanks_from_points(marks(scene(flank="convex")), SIZE, name="concave")
    assert {f.name for f in flanks} == {"concave"}
    assert {f.name_confidence for f in flanks} == {1.0}


def test_the_tooth_in_front_covers_what_lies_behind_it() -> None:
    view = scene()
    flank = flanks_from_points(marks(view), SIZE)[0]
    assert flank.turn_rad is not None
    assert len(flank.covered_by) == 4
    assert all(np.isfinite(polygon).all() for polygon in flank.covered_by)


def test_face_hobbed_curvature_is_that_of_the_blank_calculation() -> None:
    """The mesh room computes the same radius from the full blank (ISO 23509); both must agree."""
    from types import SimpleNamespace

    from contactread.flank.gear_fit import _lengthwise_radius
    from contactread.mesh.pitch_cones import PitchCones, PitchProblem, lengthwise_radius

    cone, pitch, spiral, teeth = 96.0, np.radians(66), np.radians(32), 43
    gears = GearSet(12, teeth, 205.0, cutter_radius_mm=76.0, cutter_groups=13, cutting="face_hobbed")
    numbers = np.array([pitch, 0, 0, 0, 0, spiral, 0, 0, 0, 0, 0])
    module = 2 * cone * np.sin(pitch) * np.cos(spiral) / teeth
    blank = SimpleNamespace(distance2=cone, spiral2=spiral, cone2=pitch, module=module)
    problem = SimpleNamespace(groups=13, cutter_radius=76.0, teeth2=teeth)
    assert _lengthwise_radius(gears, cone, numbers) == pytest.approx(
        lengthwise_radius(cast(PitchCones, blank), cast(PitchProblem, problem))
    )


def test_an_unknown_cutter_leaves_the_height_less_sure() -> None:
    view = scene()
    gears = GearSet(11, 41, 216.0, face_width_mm=32.0, cutter_radius_mm=105.0, spiral_deg=33)
    guessed = flanks_from_points(marks(view), SIZE)
    told = flanks_from_points(marks(view), SIZE, Axle(gears))
    assert 0.01 < guessed[1].height_sigma < 0.2
    assert told[1].height_sigma < 0.5 * guessed[1].height_sigma


@pytest.mark.parametrize("flank", ["convex", "concave"])
@pytest.mark.parametrize(("advance", "hand"), [(1, "left"), (-1, "right")])
def test_one_tooth_of_a_gear_of_known_hand(flank: FlankName, advance: int, hand: Hand) -> None:
    view = scene(teeth=(0,), flank=flank, advance=advance)
    axle = Axle(GearSet(11, 41, 216.0, face_width_mm=32.0, spiral_deg=33, hand=hand))
    (read,) = flanks_from_points(marks(view), SIZE, axle)
    assert read.name == flank
    assert misfit(view, [read]).max() < 0.15
