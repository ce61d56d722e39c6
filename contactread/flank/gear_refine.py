"""Levenberg-Marquardt over the eighteen numbers of a gear under a camera."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from contactread.arrays import Floats
from contactread.flank.gear_view import CAMERA, FOCAL, PLACE, TURN, Gear, GearView, flank_points, rotations

NEAREST = 1e-3  # least depth before the camera, mean cone distances
_SETTLED = 1e-3  # share of the cost that one more step must promise to win
_TRIES = 6  # stronger dampings before a step is given up
_TURN = 1e-6  # rad, for slopes of the rotation


def refined(
    view: GearView,
    u: Floats,
    v: Floats,
    places: Floats,
    weigh: Floats,
    mean: Floats,
    spread: Floats,
    steps: int,
) -> GearView:
    """The view that explains marks best, with a prior as further observations; at most so many steps.

    u, v: (points,). places: (teeth, points, 2) pixels. weigh: (teeth, points, 2, 2), see Marks. mean, spread:
    (18,) of the view's parameters; an infinite spread leaves a number free.
    """

    def squares(parameters: Floats) -> tuple[float, Floats, Floats]:
        """Sum of squared residuals, half its slope and half its curvature (Gauss-Newton)."""
        there, slopes = places_and_slopes(replace(view, parameters=parameters), u, v, spread)
        off = (weigh @ (there - places)[..., None]).ravel()
        jacobian = (weigh @ slopes).reshape(len(off), -1)
        beside = (parameters - mean) / spread
        slope = jacobian.T @ off + beside / spread
        return float(off @ off + beside @ beside), slope, jacobian.T @ jacobian + np.diag(spread**-2.0)

    now, damping = view.parameters, 1e-3
    cost, slope, curvature = squares(now)
    for _ in range(steps):
        for _ in range(_TRIES):
            step = np.linalg.solve(curvature + damping * np.diag(np.diag(curvature) + 1e-12), -slope)
            # What the step would win, were the residuals as straight as their slopes.
            if -step @ (2 * slope + curvature @ step) < _SETTLED * (1 + cost):
                return replace(view, parameters=now, cost=cost / 2)
            there = squares(now + step)
            if there[0] < cost:  # also False for NaN
                break
            damping *= 10
        else:
            break
        now, damping = now + step, max(damping / 10, 1e-9)
        cost, slope, curvature = there
    return replace(view, parameters=now, cost=cost / 2)


def places_and_slopes(view: GearView, u: Floats, v: Floats, spread: Floats) -> tuple[Floats, Floats]:
    """Pixels of flank points (u, v), (teeth, points, 2), and their slopes by each parameter,
    (teeth, points, 2, 18); spread: (18,), scale of the gear's numbers for the steps of their slopes.
    """
    parameters = view.parameters
    gear = CAMERA + np.array([which for which in Gear if which != Gear.TOOTH_PITCH])  # they shape the flank
    step = 1e-3 * spread[gear]
    sets = np.tile(parameters, (len(gear) + 1, 1))
    sets[np.arange(len(gear)) + 1, gear] += step
    points = flank_points(sets, u, v, view.advance, view.flank)
    shape = np.ascontiguousarray(((points[1:] - points[0]) / step[:, None, None]).transpose(1, 2, 0))
    angles = view.teeth * parameters[CAMERA + Gear.TOOTH_PITCH]
    cos, sin, zero, one = np.cos(angles), np.sin(angles), np.zeros_like(angles), np.ones_like(angles)
    turn = np.stack([cos, -sin, zero, sin, cos, zero, zero, zero, one], axis=1).reshape(-1, 3, 3)
    turned = points[0] @ turn.swapaxes(1, 2)  # (teeth, points, 3)
    nudged = rotations(parameters[TURN] + np.vstack([np.zeros(3), _TURN * np.eye(3)]))
    held = nudged[0]
    seen = turned @ held.T + parameters[PLACE]
    depth = np.maximum(seen[..., 2:], NEAREST)
    focal = np.exp(parameters[FOCAL])
    flat = seen[..., :2] / depth
    lens = np.zeros((*flat.shape, 3))
    lens[..., 0, 0] = lens[..., 1, 1] = (focal / depth)[..., 0]
    lens[..., 2] = -flat * focal / depth
    slopes = np.empty((*flat.shape, len(parameters)))
    slopes[..., FOCAL] = focal * flat
    for axis in range(3):
        swung = turned @ ((nudged[1 + axis] - held).T / _TURN)
        slopes[..., TURN.start + axis] = (lens @ swung[..., None])[..., 0]
    slopes[..., PLACE] = lens
    slopes[..., gear] = lens @ (held @ turn)[:, None] @ shape
    along = np.stack([-turned[..., 1], turned[..., 0], np.zeros_like(turned[..., 0])], axis=-1) @ held.T
    slopes[..., CAMERA + Gear.TOOTH_PITCH] = (lens @ along[..., None])[..., 0] * view.teeth[:, None, None]
    return focal * flat + np.array(view.centre_px), slopes
