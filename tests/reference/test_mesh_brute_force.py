"""`predict` against the brute-force intersection of the two moved surfaces (mesh_brute_force)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from mesh_brute_force import Place, nominal_pinion, pattern

from calibration.mechanics.directions import ISO_SAMPLES
from contactread.axle import Axle, EaseOff, FlankName
from contactread.mesh.kinematics import Displacement, assembly
from contactread.mesh.response import FILM_MM, MeshModel

CASES = [
    ("D1", "convex", Place(pinion=0.2)),
    ("D1", "concave", Place(ring=0.25)),
    ("D3", "convex", Place(ring=0.2, offset=0.05, shaft_angle=3e-4)),
]


@pytest.mark.parametrize(("sample", "flank", "place"), CASES)
def test_predict_against_moved_surfaces(sample: str, flank: FlankName, place: Place) -> None:
    """Centre within 0.003 of length and height; extents within 0.004, of which the brute force's own grid
    takes half (with a grid twice as fine they agree within 0.002)."""
    gears, proportions = ISO_SAMPLES[sample]
    model = MeshModel(Axle(gears), EaseOff(0.03, 0.02, 0.005), proportions=proportions)
    blank = replace(model.blank, hand="left")
    pinion = nominal_pinion(blank, flank, model.ease_off, assembly(blank).roll)
    pair = model._readers[flank].pair
    rolls = pair.gap(model.ease_off, Displacement()).roll
    seen = pattern(blank, flank, pinion, place, (float(rolls.min()), float(rolls.max())), FILM_MM)
    found = model.predict(place.pinion, place.ring, place.offset, place.shaft_angle).patch(flank)
    assert found is not None
    assert found.centre == pytest.approx(seen.centroid, abs=0.003)
    assert found.length == pytest.approx(seen.length, abs=0.004)
    assert found.height == pytest.approx(seen.height, abs=0.004)
    at = Displacement(place.pinion, place.ring, place.offset, place.shaft_angle)
    closed = model._look(flank, at).closed
    assert closed * blank.cones.radius2 == pytest.approx(seen.mean_closing * blank.cones.radius2, abs=4e-4)
