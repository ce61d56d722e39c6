"""Blanks: estimates and their spread, impossible numbers, geometry that must close."""

from __future__ import annotations

from math import cos, sin

import pytest

from calibration.mechanics.directions import ISO_SAMPLES
from contactread.axle import GearSet
from contactread.errors import MechanicsError
from contactread.mesh.blank import blank_of
from contactread.mesh.estimate import gear_inputs


def test_what_is_given_is_kept_and_the_rest_is_estimated() -> None:
    inputs = gear_inputs(GearSet(11, 41, 210.0, offset_mm=30.0, cutting="face_milled"))
    assert inputs.offset_mm.given and inputs.offset_mm.value == 30.0 and inputs.offset_mm.spread == 0
    assert set(inputs.estimated()) == {
        "face_width_mm", "spiral_deg", "pressure_angle_deg", "cutter_radius_mm"
    }  # fmt: skip
    assert all(e.spread > 0 for e in inputs.estimated().values())


def test_unknown_cutting_is_said() -> None:
    assert not gear_inputs(GearSet(11, 41, 210.0)).cutting_given
    assert gear_inputs(GearSet(11, 41, 210.0, cutting="face_hobbed")).face_hobbed


@pytest.mark.parametrize("cutting", ["face_milled", "face_hobbed", "unknown"])
@pytest.mark.parametrize(("z1", "z2"), [(6, 37), (8, 39), (9, 41), (11, 41), (13, 42), (15, 46), (17, 44)])
def test_three_numbers_are_enough(cutting: str, z1: int, z2: int) -> None:
    for diameter in (120.0, 200.0, 400.0):
        blank = blank_of(GearSet(z1, z2, diameter, cutting=cutting))  # type: ignore[arg-type]
        assert 2 * blank.heel_distance * sin(blank.cones.cone2) == pytest.approx(diameter, rel=1e-9)


@pytest.mark.parametrize("name", list(ISO_SAMPLES))
def test_pitch_cones_touch(name: str) -> None:
    """Offset closes, normal pitches agree, and the spirals differ by the offset angle."""
    gears, proportions = ISO_SAMPLES[name]
    b = blank_of(gears, proportions)
    c = b.cones
    assert c.radius2 * sin(c.ring_azimuth) + c.radius1 * sin(c.pinion_azimuth) == pytest.approx(b.offset)
    assert 2 * c.radius1 * cos(c.spiral1) / b.teeth1 == pytest.approx(c.module)
    assert c.spiral1 - c.spiral2 == pytest.approx(c.offset_angle)


def test_a_small_offset_is_nearly_no_offset() -> None:
    """Where the cutter's condition can't be met, the cones go over into the bevel cones."""
    bevel = blank_of(GearSet(13, 44, 200.0, 30.0, 0.0, 33.0, 20.0, 114.0, cutting="face_milled"))
    hypoid = blank_of(GearSet(13, 44, 200.0, 30.0, 0.5, 33.0, 20.0, 114.0, cutting="face_milled"))
    assert hypoid.cones.cone2 == pytest.approx(bevel.cones.cone2, abs=0.01)
    assert hypoid.cones.distance1 == pytest.approx(bevel.cones.distance1, rel=0.02)
    assert hypoid.cones.limit_pressure == pytest.approx(0, abs=0.02)


@pytest.mark.parametrize(
    "gears",
    [
        GearSet(3, 41, 210.0),
        GearSet(41, 11, 210.0),
        GearSet(11, 41, -5.0),
        GearSet(11, 41, 210.0, face_width_mm=90.0),
        GearSet(11, 41, 210.0, offset_mm=100.0),
        GearSet(11, 41, 210.0, spiral_deg=75.0),
        GearSet(11, 41, 210.0, pressure_angle_deg=45.0),
        GearSet(11, 41, 210.0, cutter_radius_mm=10.0),
        GearSet(8, 31, 300.0, cutting="face_hobbed", cutter_radius_mm=90.0, cutter_groups=36),
    ],
)
def test_impossible_numbers_are_named(gears: GearSet) -> None:
    with pytest.raises(MechanicsError) as caught:
        blank_of(gears)
    assert caught.value.code == "gear-set-impossible"
    assert caught.value.next_step
