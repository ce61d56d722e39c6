"""How far a flank's bow is left open by marks at its corners.

Corners hardly tell the cutter's radius, and with it the bow of the flank between its ends. Two more fits,
with the radius held a standard deviation smaller and larger, show what that does to the middle.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from contactread.flank.gear_fit import Marks, Prior, sharpen
from contactread.flank.gear_view import CAMERA, GEAR, Floats, GearView

_CUTTER = GEAR.index("cutter_radius")
_HELD = 1e-3  # of the mean cone distance: as good as fixed


def height_sigma(view: GearView, marks: Marks, prior: Prior) -> Floats:
    """Standard uncertainty of v at the middle of each flank from the open bow, (teeth,).

    view: fitted to marks under prior.
    """
    spread = float(prior.spread[_CUTTER])
    radius = float(view.parameters[CAMERA + _CUTTER])
    fits = [_held(view, marks, prior, radius + way * spread) for way in (-1, 1)]
    without_prior = view.cost - 0.5 * ((radius - prior.mean[_CUTTER]) / spread) ** 2
    # The marks' own say on the radius, as a curvature of the cost over one standard deviation of the prior.
    say = max(0.0, fits[0].cost + fits[1].cost - 2 * without_prior)
    moved = (_middle(fits[1]) - _middle(fits[0]))[:, 1] / 2 / np.sqrt(1 + say)
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
