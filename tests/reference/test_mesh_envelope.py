"""The pinion flank against an envelope by brute force, without the equation of meshing.

The ring gear is taken as the tool: it is rolled past the pinion in small steps, and along a straight needle
through the pinion's metal the deepest cut over all steps is noted. That is the conjugate flank.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from mesh_brute_force import Place, SplinePinion, turned

from calibration.mechanics.directions import ISO_SAMPLES
from contactread.arrays import Floats
from contactread.axle import FlankName
from contactread.mesh.blank import Blank, blank_of
from contactread.mesh.ease_off import FlankPair
from contactread.mesh.kinematics import assembly
from contactread.mesh.ring_flank import RingFlank


@pytest.mark.parametrize("sample", ["D1", "D2", "D3", "D4"])
@pytest.mark.parametrize("flank", ["convex", "concave"])
def test_pinion_is_the_envelope_of_the_ring_gear(sample: str, flank: FlankName) -> None:
    """Within 0.1 um and at the roll angle that the equation of meshing gives."""
    gears, proportions = ISO_SAMPLES[sample]
    blank = replace(blank_of(gears, proportions), hand="left")
    ring = RingFlank(blank, flank)
    u, v = np.linspace(-0.08, 1.08, 60), np.linspace(-0.1, 1.1, 40)
    tool = SplinePinion(u, v, ring.points(u[:, None], v[None]))
    at_u, at_v = (g.ravel() for g in np.meshgrid([0.15, 0.5, 0.85], [0.2, 0.5, 0.75], indexing="ij"))
    points, normals = ring.points_and_normals(at_u, at_v)
    nominal = assembly(blank)
    roll = nominal.roll(points, normals)
    foot = nominal.to_pinion(points, roll, nominal.origin)
    needle = nominal.to_pinion(normals, roll)
    steps = np.linspace(-0.03, 0.03, 61)
    cuts = np.full((len(steps), len(points)), np.nan)
    for i, step in enumerate(steps):
        for k in range(len(points)):
            # The needle stands in the pinion; bring it into the ring gear's own frame at this roll.
            angle = roll[k] + step
            start = _into_ring(blank, foot[k], angle)
            tip = _into_ring(blank, foot[k] + needle[k], angle)
            depth, _, _ = tool.pierced(start[None], (tip - start)[None], at_u[k : k + 1], at_v[k : k + 1])
            cuts[i, k] = depth[0]
    # Outward of the ring gear is into the pinion: the deepest cut is the most positive crossing.
    deepest = np.nanmax(cuts, axis=0)
    assert np.abs(deepest).max() < 1e-4
    assert np.abs(steps[np.nanargmax(cuts, axis=0)]).max() <= 0.001 + 1e-9
    assert np.nanmin(cuts) < -1e-3  # the needle is indeed left alone at other roll angles


def _into_ring(blank: Blank, point: Floats, angle: float) -> Floats:
    """From the turning frame of the pinion to the turning frame of the ring gear, nominal place."""
    space = turned(np.asarray(point, float), blank.ratio * angle, 0) + np.array([0, blank.offset, 0])
    back = Place().into_pinion(blank, space, blank.ratio * angle)
    assert np.allclose(back, point)
    return turned(space, -angle, 2)


def test_no_interference_and_no_gap_on_the_line_of_contact() -> None:
    """Each ring-gear point stays outside the pinion at every roll angle, and touches at its own."""
    for gears, proportions in ISO_SAMPLES.values():
        for flank in ("convex", "concave"):
            pair = FlankPair(blank_of(gears, proportions), flank)
            place = assembly(pair.blank)
            roll = place.roll(pair._points, pair._normals)
            sound = pair._sound
            touch = pair._foot(place.to_pinion(pair._points, roll, place.origin))[2]
            assert np.abs(touch[sound]).max() < 2e-5
            for step in (-0.02, -0.01, -0.003, 0.003, 0.01, 0.02):
                u, v, gap = pair._foot(place.to_pinion(pair._points, roll + step, place.origin))
                inside = sound & (u > 0) & (u < 1) & (v > 0) & (v < 1)
                assert gap[inside].min() > 0


def test_bend_of_the_gap_against_finite_differences() -> None:
    """The gap grows as bend x² / 2 with the roll angle x."""
    gears, proportions = ISO_SAMPLES["D1"]
    pair = FlankPair(blank_of(gears, proportions), "convex")
    place = assembly(pair.blank)
    roll = place.roll(pair._points, pair._normals)
    step = 0.008
    gaps = [pair._foot(place.to_pinion(pair._points, roll + s, place.origin))[2] for s in (step, -step)]
    inner = slice(2, -2)
    numeric = ((gaps[0] + gaps[1]) / step**2).reshape(pair.lever.shape)[inner, inner]
    assert numeric == pytest.approx(pair._sliding[2][inner, inner], rel=0.03)
