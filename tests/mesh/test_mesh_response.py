"""MeshModel: signs that always hold, symmetry, roles, spreads, forecast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.mechanics.directions import ALWAYS, ISO_SAMPLES, answer, answers, share, turning_cutter
from contactread.axle import FLANKS, Axle, EaseOff, GearSet
from contactread.belief.draws import draws_of
from contactread.errors import MechanicsError
from contactread.mesh.blank import blank_of
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import CELLS, MeshModel

GEARS = GearSet(11, 41, 210.0, 32.0, 30.0, 31.0, 20.0, 100.0, hand="right", cutting="face_milled")
RELIEF = EaseOff(0.03, 0.02, 0.0)
AXLE = Axle(GEARS, ease_off=RELIEF)


def test_undisturbed_patches_are_centred() -> None:
    seen = MeshModel(AXLE).predict()
    for flank in FLANKS:
        patch = seen.patch(flank)
        assert patch is not None
        assert patch.centre == pytest.approx((0.5, 0.5), abs=0.015)
        assert not patch.runs_off
    assert seen.backlash_change_mm == 0


def test_places_predicted_together_are_as_one_by_one() -> None:
    places = [Displacement(0.1, -0.05), Displacement(), Displacement(-0.2, 0.1, 0.05, 0.001)]
    together = MeshModel(AXLE).predictions(places)
    model = MeshModel(AXLE)
    for at, found in zip(places, together, strict=True):
        alone = model.predict(at.pinion, at.ring, at.offset, at.shaft_angle)
        assert found.backlash_change_mm == pytest.approx(alone.backlash_change_mm, abs=1e-9)
        for flank in FLANKS:
            one, other = found.patch(flank), alone.patch(flank)
            assert one is not None and other is not None
            assert one.centre == pytest.approx(other.centre, abs=1e-9)
            assert (*one.length, *one.height) == pytest.approx((*other.length, *other.height), abs=1e-9)
            assert one.runs_off == other.runs_off


def test_each_flank_may_have_its_own_relief() -> None:
    other = EaseOff(0.06, 0.03, 0.004)
    both = MeshModel(replace(AXLE, ease_off_concave=other)).predict(0.05, 0.02)
    assert both.convex == MeshModel(AXLE).predict(0.05, 0.02).convex
    alone = MeshModel(replace(AXLE, ease_off=other)).predict(0.05, 0.02).concave
    assert both.concave is not None and alone is not None
    assert (*both.concave.centre, *both.concave.height) == pytest.approx((*alone.centre, *alone.height))
    drawn = draws_of(GEARS, RELIEF, other)
    convex, concave = (np.exp(drawn.features[:, k]).mean() for k in (0, 2))
    assert concave < 0.9 * convex


def test_measured_tooth_heights_and_addendum_shape_the_blank() -> None:
    usual = blank_of(GEARS)
    depth = usual.working_depth + usual.clearance
    same = blank_of(replace(GEARS, depth_heel_mm=depth, depth_toe_mm=depth, addendum_mm=usual.addendum2))
    assert same.working_depth == pytest.approx(usual.working_depth)
    assert same.addendum2 == pytest.approx(usual.addendum2)
    lower = blank_of(replace(GEARS, depth_heel_mm=0.9 * depth, depth_toe_mm=0.8 * depth, addendum_mm=2.0))
    assert 0.8 * usual.working_depth < lower.working_depth < 0.9 * usual.working_depth
    assert lower.addendum2 == pytest.approx(2.0)
    with pytest.raises(MechanicsError, match="tooth heights"):
        blank_of(replace(GEARS, depth_heel_mm=3 * depth, depth_toe_mm=3 * depth))
    with pytest.raises(MechanicsError, match="addendum"):
        blank_of(replace(GEARS, addendum_mm=usual.working_depth))


def test_always_signs_on_a_few_sets() -> None:
    """The whole table is printed by `python -m calibration.mechanics.directions`."""
    found = answers(18, seed=7)
    assert len(found) >= 50
    for move, measure, sign in ALWAYS:
        assert share(found, move, measure, sign) >= 0.99


def test_coast_length_turns_over_at_the_known_cutter_radius() -> None:
    """An independent study of 1,269 sets found 1.06 to 1.09 times the mean cone distance."""
    turn = turning_cutter(0.15, 0.0)
    assert turn is not None and 1.05 < turn < 1.12


def test_hand_and_place_of_the_gears_do_not_matter_to_the_mesh() -> None:
    left = MeshModel(replace(AXLE, gears=replace(GEARS, hand="left"))).predict(0.1, -0.05)
    right = MeshModel(AXLE).predict(0.1, -0.05)
    assert left == right


def test_with_ease_off_is_the_same_as_building_anew() -> None:
    other = EaseOff(0.05, 0.015, 0.008)
    a = MeshModel(AXLE).with_ease_off(other).predict(0.05, 0.05)
    b = MeshModel(replace(AXLE, ease_off=other)).predict(0.05, 0.05)
    assert a == b


def test_more_relief_makes_smaller_patches() -> None:
    model = MeshModel(AXLE)
    small = model.with_ease_off(EaseOff(0.08, 0.02, 0.0)).predict().convex
    large = model.with_ease_off(EaseOff(0.015, 0.02, 0.0)).predict().convex
    assert small is not None and large is not None
    assert small.length[1] - small.length[0] < large.length[1] - large.length[0]


def test_bias_leans_the_patch_as_documented() -> None:
    """Positive bias takes metal away at heel-top and toe-root: the heel end lies lower."""
    model = MeshModel(AXLE)
    tilts = []
    for bias in (-0.015, 0.0, 0.015):
        patch = model.with_ease_off(EaseOff(0.03, 0.02, bias)).predict().convex
        assert patch is not None
        tilts.append(patch.tilt_deg)
    assert tilts[0] > tilts[1] > tilts[2]


def test_far_out_of_mesh_never_breaks() -> None:
    model = MeshModel(AXLE)
    for pinion in (-1.0, 1.0):
        for ring in (-1.0, 1.0):
            seen = model.predict(pinion, ring)
            for flank in FLANKS:
                patch = seen.patch(flank)
                assert patch is None or all(0 <= x <= 1 for x in (*patch.length, *patch.height))


def test_coverage_is_what_is_measured() -> None:
    model = MeshModel(AXLE)
    covered = model.coverage("convex", Displacement(0.1, 0.0))
    patch = model.predict(0.1).convex
    assert covered.shape == CELLS and patch is not None
    assert covered.mean() == pytest.approx(patch.area_fraction)


def test_backlash_both_ways() -> None:
    """Moving away opens, moving toward closes, and the dial reads more than the normal."""
    for name in ISO_SAMPLES:
        here = answer(MeshModel(Axle(ISO_SAMPLES[name][0]), proportions=ISO_SAMPLES[name][1]), 0.0)
        assert here is not None and here.dial > here.normal > 0
    model = MeshModel(AXLE)
    assert model.predict(pinion=0.1).backlash_change_mm > 0 > model.predict(pinion=-0.1).backlash_change_mm


def test_nothing_touches_where_the_pinion_is_undercut() -> None:
    """However thick the compound: a corner of a pinion of few teeth isn't there."""
    gears = GearSet(5, 37, 220.0, offset_mm=0.0, spiral_deg=20.0, cutting="face_milled")
    model = MeshModel(Axle(gears), film_mm=5.0)
    covered, there = model.coverage("convex", Displacement()), model._readers["convex"]._whole
    assert 0 < (~there).mean() < 0.2
    assert covered[there].mean() > 0.9 and not covered[~there].any()
