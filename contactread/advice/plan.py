"""The solver: the smallest moves that the shop can make and that put everything where it should be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from contactread.advice.answer import Expectation
from contactread.advice.belief import Array, Belief
from contactread.advice.shims import carrier_step, pinion_travels
from contactread.advice.targets import Target
from contactread.axle import Axle

# A set-up is called right when it is right with this chance; below it a move or a further look pays.
ACCEPT_CHANCE = 0.83
# A further member moved, or a longer way, must earn this much chance: the smallest practical move wins.
CHANCE_PER_MEMBER = 0.01
CHANCE_PER_MM = 0.02
# A pinion shim costs a dismantling, and a wrong way costs trust: doubt about its direction counts this much.
CHANCE_PER_DOUBT = 0.5
WINDOW = 6  # steps to each side of the smooth optimum that are tried
FIRST_STEP_MM = 0.025  # finer steps are tried around the best of the coarser ones only
LARGEST_MOVE_MM = 0.8
COMMON_BACKLASH_MM = (0.1524, 0.254)  # 6 to 10 thousandths of an inch: common practice
UNLIMITED = 10.0  # no fraction and no backlash in mm comes near it


@dataclass(frozen=True, eq=False)
class Zones:
    """Where the five measures are wanted: aim, low and high, each (5,). Unlimited where not judged."""

    aim: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class Plan:
    """The best next move and what is expected. P and G in mm; 0 where a member stays.

    now, after_pinion, after: expectations as the set-up stands, after the pinion move, after both moves.
    """

    pinion_mm: float
    ring_mm: float
    now: Expectation
    after_pinion: Expectation
    after: Expectation

    @property
    def stays(self) -> bool:
        return self.pinion_mm == 0 and self.ring_mm == 0


def zones_for(target: Target, axle: Axle, measured_mm: float | None = None) -> Zones:
    """The zones of the axle's target and its backlash limits.

    Where the axle file has no limits, backlash is kept between what was measured and what is common
    practice, so that no plan takes it away; unlimited where nothing was measured either.
    """
    backlash = axle.limits.backlash_mm
    if backlash is None and measured_mm is not None:
        backlash = min(measured_mm, COMMON_BACKLASH_MM[0]), max(measured_mm, COMMON_BACKLASH_MM[1])
    aim: list[float] = []
    low: list[float] = []
    high: list[float] = []
    for zone in (target.drive, target.coast):
        aim += zone.aim
        low += [zone.u[0], zone.v[0]] if zone.judged else [-UNLIMITED, -UNLIMITED]
        high += [zone.u[1], zone.v[1]] if zone.judged else [UNLIMITED, UNLIMITED]
    middle = 0.2 if backlash is None else sum(backlash) / 2
    low.append(-UNLIMITED if backlash is None else backlash[0])
    high.append(UNLIMITED if backlash is None else backlash[1])
    return Zones(np.array([*aim, middle]), np.array(low), np.array(high))


def plan(belief: Belief, zones: Zones, axle: Axle, *, pinion_may_move: bool = True) -> Plan:
    """The move on the shop's grid of shims that most likely puts all in their zones."""
    best = _best(belief, zones, _moves_to_try(belief, zones, axle, pinion_may_move))
    pinion, ring = map(float, _best(belief, zones, _moves_beside(best, axle)))
    return Plan(
        pinion,
        ring,
        expectation(belief, zones, (0.0, 0.0)),
        expectation(belief, zones, (pinion, 0.0)),
        expectation(belief, zones, (pinion, ring)),
    )


def _best(belief: Belief, zones: Zones, moves: Array) -> Array:
    """The move (2,) of these (m, 2) that earns most."""
    chance = belief.chances(moves, zones.low, zones.high)
    cost = CHANCE_PER_MEMBER * np.count_nonzero(moves, axis=1) + CHANCE_PER_MM * np.abs(moves).sum(axis=1)
    away = belief.chance_pinion_away()
    doubt = np.where(moves[:, 0] > 0, away, np.where(moves[:, 0] < 0, 1 - away, 0.0))
    best: Array = moves[int(np.argmax(chance - cost - CHANCE_PER_DOUBT * doubt))]
    return best


def expectation(belief: Belief, zones: Zones, move_mm: tuple[float, float]) -> Expectation:
    """What is expected after a move, in words of the advice."""
    mean, sigma = belief.expected(move_mm)
    chance = float(belief.chances(np.array([move_mm]), zones.low, zones.high)[0])
    known = sigma[4] < 0.08  # a backlash that was never measured stays as wide as its prior
    return Expectation(
        (float(mean[0]), float(mean[1])),
        (float(sigma[0]), float(sigma[1])),
        (float(mean[2]), float(mean[3])),
        (float(sigma[2]), float(sigma[3])),
        float(mean[4]) if known else None,
        float(sigma[4]) if known else None,
        chance,
    )


def _moves_to_try(belief: Belief, zones: Zones, axle: Axle, pinion_may_move: bool) -> Array:
    """Moves (m, 2) that the shop's shims make: around the smooth optimum, on both axes, and no move."""
    ring_only = _smooth_optimum(belief, zones, (False, True))
    ring = _ring_travels(float(ring_only[1]), axle)
    grids = [np.zeros((1, 2)), np.stack([np.zeros_like(ring), ring], axis=1)]
    if pinion_may_move:
        both = _smooth_optimum(belief, zones, (True, True))
        pinion_only = _smooth_optimum(belief, zones, (True, False))
        pinion = _pinion_travels(float(pinion_only[0]), axle)
        grids.append(np.stack([pinion, np.zeros_like(pinion)], axis=1))
        p, g = np.meshgrid(_pinion_travels(float(both[0]), axle), _ring_travels(float(both[1]), axle))
        grids.append(np.stack([p.ravel(), g.ravel()], axis=1))
    grid: Array = np.concatenate(grids)
    near: Array = grid[np.all(np.abs(grid) <= LARGEST_MOVE_MM, axis=1)]
    return near


def _moves_beside(move: Array, axle: Axle) -> Array:
    """This move (2,) and, where the shop's steps are finer than the first search, those around it (m, 2)."""
    sides = []
    for travel, step, fixed in (
        (move[0], axle.pinion_shim.step_mm, bool(pinion_travels(axle.pinion_shim))),
        (move[1], carrier_step(axle.carrier), False),
    ):
        reach = 0 if fixed or not travel else _stride(step) - 1
        sides.append((np.round(travel / step) + np.arange(-reach, reach + 1)) * step if reach else [travel])
    p, g = np.meshgrid(*sides)
    return np.stack([p.ravel(), g.ravel()], axis=1)


def _pinion_travels(near_mm: float, axle: Axle) -> Array:
    """Pinion travels that the shop can make, around this one."""
    made = np.array(pinion_travels(axle.pinion_shim))
    if made.size:
        return np.asarray(made[np.argsort(np.abs(made - near_mm))[: 2 * WINDOW + 1]])
    return _around(near_mm, axle.pinion_shim.step_mm)


def _ring_travels(near_mm: float, axle: Axle) -> Array:
    return _around(near_mm, carrier_step(axle.carrier))


def _around(near_mm: float, step_mm: float) -> Array:
    """Multiples of the step, WINDOW to each side, no closer than FIRST_STEP_MM asks."""
    return np.asarray(
        (np.round(near_mm / step_mm) + _stride(step_mm) * np.arange(-WINDOW, WINDOW + 1)) * step_mm
    )


def _stride(step_mm: float) -> int:
    return max(1, round(FIRST_STEP_MM / step_mm))


def _smooth_optimum(belief: Belief, zones: Zones, free: tuple[bool, bool]) -> Array:
    """The move (2,) of least expected squared miss, each measure in units of its zone's half width."""
    half = (zones.high - zones.low) / 2
    mean, _ = belief.after((0.0, 0.0))
    jacobian = belief.candidates.jacobian[:, :, :2] / half[:, None]
    miss = (mean - (zones.high + zones.low) / 2) / half
    normal = np.einsum("n,nij,nik->jk", belief.weight, jacobian, jacobian)
    right = -np.einsum("n,nij,ni->j", belief.weight, jacobian, miss)
    move = np.zeros(2)
    index = np.flatnonzero(free)
    block = normal[np.ix_(index, index)] + 1e-6 * np.eye(len(index))
    move[index] = np.linalg.solve(block, right[index])
    limited: Array = np.clip(move, -LARGEST_MOVE_MM, LARGEST_MOVE_MM)
    return limited
