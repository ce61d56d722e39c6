"""How one drawn gear set answers to small moves, by finite differences of its mesh."""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import MeshModel

STEP_MM = 0.08  # of the finite differences, for a ring gear of 200 mm
STEP_RAD = 0.0004


def answer_of(model: MeshModel, scale: float, housing: bool) -> tuple[Floats, Floats, Floats] | None:
    """Features (6,), Jacobian (5, 4), nominal centres (4,) of one model; None where a flank doesn't touch.

    housing: whether to work out the answer to offset and shaft angle; NaN else.
    """
    step = STEP_MM * scale
    places = [
        Displacement(),
        Displacement(pinion=step),
        Displacement(pinion=-step),
        Displacement(ring=step),
        Displacement(ring=-step),
    ]
    if housing:
        places += [Displacement(offset=step / 2), Displacement(shaft_angle=STEP_RAD)]
    here, *moved = model.predictions(places)
    if here.convex is None or here.concave is None:
        return None
    away, toward, ring_away, ring_toward, *bores = (each.measures for each in moved)
    middle = here.measures
    columns = [(away - toward) / (2 * step), (ring_away - ring_toward) / (2 * step)]
    if bores:
        columns += [(bores[0] - middle) / (step / 2), (bores[1] - middle) / (STEP_RAD * 180 / pi)]
    jacobian = np.stack(columns, axis=1)
    if not np.isfinite(jacobian).all():
        return None
    jacobian = np.pad(jacobian, ((0, 0), (0, 4 - len(columns))), constant_values=np.nan)
    sides = (here.convex, here.concave)
    extents = [np.log(p[1] - p[0]) for side in sides for p in (side.length, side.height)]
    return np.array([*extents, *(side.tilt_deg / 10 for side in sides)]), jacobian, middle[:4]


def with_housing(jacobian: Floats, hobbed: NDArray[np.bool_]) -> Floats:
    """The Jacobians (n, 5, 4) whose last two columns are NaN, given the mean ones of their cutting method."""
    known = np.isfinite(jacobian[:, 0, 2])
    for method in (False, True):
        alike = known & (hobbed == method)
        mean = jacobian[alike if alike.any() else known][:, :, 2:].mean(axis=0)
        jacobian[~known & (hobbed == method), :, 2:] = mean
    return jacobian
