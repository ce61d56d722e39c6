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
_NUDGES = np.vstack([np.zeros(3), _TURN * np.eye(3)])
# Which way each point of the gear goes as it turns about its axis.
_QUARTER = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 0]])
# The gear's numbers that shape the flank; and in what order points move by which of all.
_SHAPE = CAMERA + np.array([which for which in Gear if which != Gear.TOOTH_PITCH])
_BY_SWING, _BY_SHAPE = slice(0, 3), slice(3, 3 + len(_SHAPE))
_MOVED = np.array([*range(TURN.start, TURN.stop), *_SHAPE, CAMERA + Gear.TOOTH_PITCH])


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
    step = 1e-3 * spread[_SHAPE]
    sets = np.tile(parameters, (len(_SHAPE) + 1, 1))
    sets[np.arange(len(_SHAPE)) + 1, _SHAPE] += step
    points = flank_points(sets, u, v, view.advance, view.flank)
    shape = np.ascontiguousarray(((points[1:] - points[0]) / step[:, None, None]).transpose(2, 1, 0))
    angles = view.teeth * parameters[CAMERA + Gear.TOOTH_PITCH]
    turn = np.zeros((len(angles), 3, 3))
    turn[:, 0, 0] = turn[:, 1, 1] = np.cos(angles)
    turn[:, 1, 0] = np.sin(angles)
    turn[:, 0, 1], turn[:, 2, 2] = -turn[:, 1, 0], 1
    nudged = rotations(parameters[TURN] + _NUDGES)
    held, swings = nudged[0], (nudged[1:] - nudged[0]) / _TURN
    turned = points[0] @ turn.swapaxes(1, 2)  # (teeth, points, 3)
    seen = turned @ held.T + parameters[PLACE]
    depth = np.maximum(seen[..., 2:], NEAREST)
    focal = np.exp(parameters[FOCAL])
    flat = seen[..., :2] / depth
    # How each point moves, (teeth, x y z, points, by): as the gear swings about each axis, takes another
    # shape, and turns by a tooth pitch.
    moves = np.empty((len(angles), 3, len(u), _BY_SHAPE.stop + 1))
    moves[..., _BY_SWING] = (turned @ swings.reshape(9, 3).T).reshape(*turned.shape, 3).transpose(0, 3, 1, 2)
    by_shape = held @ turn @ shape.reshape(3, -1)
    moves[..., _BY_SHAPE] = by_shape.reshape(len(angles), 3, len(u), len(_SHAPE))
    moves[..., -1] = (turned @ (held @ _QUARTER).T).swapaxes(1, 2) * view.teeth[:, None, None]
    lens = (focal / depth)[..., None]
    away = flat[..., None]
    slopes = np.empty((*flat.shape, len(parameters)))
    slopes[..., FOCAL] = focal * flat
    slopes[..., PLACE] = 0
    slopes[..., 0, PLACE.start] = slopes[..., 1, PLACE.start + 1] = lens[..., 0, 0]
    slopes[..., PLACE.stop - 1] = -flat * lens[..., 0]
    slopes[..., _MOVED] = lens * (moves[:, :2].swapaxes(1, 2) - away * moves[:, 2:].swapaxes(1, 2))
    return focal * flat + np.array(view.centre_px), slopes
