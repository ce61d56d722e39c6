"""How far a flank's bow is left open by marks at its corners.

Corners hardly tell the cutter's radius, and with it the bow of the flank between its ends. One more fit,
with the radius held a standard deviation larger, shows what that does to the middle.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from contactread.arrays import Floats
from contactread.flank.gear_fit import Marks, Prior, sharpen
from contactread.flank.gear_view import CAMERA, Gear, GearView

_CUTTER = Gear.CUTTER_RADIUS
_HELD = 1e-3  # of the mean cone distance: as good as fixed


def height_sigma(view: GearView, marks: Marks, prior: Prior) -> Floats:
    """Standard uncertainty of v at the middle of each flank from the open bow, (teeth,).

    view: fitted to marks under prior.
    """
    spread = float(prior.spread[_CUTTER])
    radius = view.number(_CUTTER)
    larger = _held(view, marks, prior, radius + spread)
    # The cost of marks and prior together, a standard deviation of the prior from its least, tells how
    # narrow they leave the radius: half its curvature; the prior alone gives a half.
    cost = larger.cost + 0.5 * ((radius + spread - prior.mean[_CUTTER]) / spread) ** 2
    moved = (_middle(larger) - _middle(view))[:, 1] / np.sqrt(max(1.0, 2 * (cost - view.cost)))
    along, up = _slopes(view)
    across = along[:, 0] * moved[:, 1] - along[:, 1] * moved[:, 0]
    size = along[:, 0] * up[:, 1] - along[:, 1] * up[:, 0]
    return np.asarray(np.abs(across / np.where(size == 0, 1.0, size)))


def _held(view: GearView, marks: Marks, prior: Prior, radius: float) -> GearView:
    mean, spread, parameters = prior.mean.copy(), prior.spread.copy(), view.parameters.copy()
    mean[_CUTTER], spread[_CUTTER], parameters[CAMERA + _CUTTER] = radius, _HELD, radius
    return sharpen(replace(view, parameters=parameters), marks, Prior(mean, spread))


def _middle(view: GearView) -> Floats:
    """Pixels of (u, v) = (0.4, 0.5), (0.5, 0.5), (0.6, 0.5) on each tooth: (teeth, 3, 2)."""
    return view.project(np.array([0.4, 0.5, 0.6]), np.full(3, 0.5))


def _slopes(view: GearView) -> tuple[Floats, Floats]:
    """Pixels per unit u and per unit v at the middle of each tooth, (teeth, 2) each."""
    middle = _middle(view)
    ends = view.project(np.full(2, 0.5), np.array([0.4, 0.6]))
    return (middle[:, 2] - middle[:, 0]) / 0.2, (ends[:, 1] - ends[:, 0]) / 0.2
