"""A ring gear with known flanks under a known camera, for tests of the corners."""

from __future__ import annotations

import numpy as np

from contactread.axle import FlankName
from contactread.flank.gear_fit import CORNER_U, CORNER_V, USUAL
from contactread.flank.gear_view import GearView

SIZE = (1600, 1200)


def scene(
    teeth: tuple[float, ...] = (0, 1, 2, 3),
    flank: FlankName = "convex",
    advance: int = 1,
    **gear: float,
) -> GearView:
    """A view of some teeth; gear: changes to the usual gear, by the names of `Gear`."""
    from contactread.flank.gear_view import Gear, rotations

    numbers = USUAL.copy()
    for name, value in gear.items():
        numbers[Gear[name.upper()]] = value
    # Stand off the side that the flank faces, look back at the teeth from the pinion's side.
    facing = advance if flank == "concave" else -advance
    spot = np.array([np.sin(numbers[0]), 0.0, -np.cos(numbers[0])])
    eye = spot + np.array([0.25, 1.1 * facing, 1.0])
    forward = (spot - eye) / np.linalg.norm(spot - eye)
    right = np.cross(forward, [0.1, 0.2, 1.0])
    right /= np.linalg.norm(right)
    matrix = np.stack([right, np.cross(forward, right), forward])
    turn = _vector(matrix)
    assert np.allclose(rotations(turn[None])[0], matrix, atol=1e-9)
    camera = [np.log(1500.0), *turn, *(-matrix @ eye)]
    places = np.array(teeth, float)
    centre = ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2)
    return GearView(np.concatenate([camera, numbers]), advance, flank, centre, places - places.mean(), 0.0)


def marks(view: GearView) -> np.ndarray:
    """The true corners, (teeth, 4, 2)."""
    return view.project(CORNER_U, CORNER_V)


def _vector(matrix: np.ndarray) -> np.ndarray:
    import cv2

    return np.asarray(cv2.Rodrigues(matrix)[0]).ravel()
