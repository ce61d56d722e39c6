"""The solver: the smallest moves that the shop can make and that put everything where it should be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from contactread.advice.answer import Expectation
from contactread.advice.shims import carrier_step, pinion_travels
from contactread.advice.zones import Zones
from contactread.arrays import Floats
from contactread.axle import FLANKS, Axle
from contactread.belief import Belief, Outlook
from contactread.belief.linear import Posterior

# A set-up is called right when it is right with this chance: of those accepted wrongly in the set-up loop
# most were said at 84 to 87 %. Below it a look or a move pays, or it is left without an all-clear.
ACCEPT_CHANCE = 0.9
# A further member moved, or a longer way, must earn this much chance: the smallest practical move wins.
CHANCE_PER_MEMBER = 0.01
CHANCE_PER_MM = 0.02
# A pinion shim costs a dismantling, and a wrong way costs trust: doubt about its direction counts this much.
CHANCE_PER_DOUBT = 0.5
WINDOW = 6  # steps to each side of the smooth optimum that are tried
FIRST_STEP_MM = 0.025  # finer steps are tried around the best of the coarser ones only
COARSE_STEP_MM = 0.1
SMALL_CHANCE = 0.2  # below it the search goes everywhere
LARGEST_MOVE_MM = 0.8  # our choice: past it a wrong part is likelier than a wrong shim
# Chance that a move must earn, else what stands stays: a pinion comes out with its bearings, a ring gear
# moves sideways. Our own suppositions of what their work is worth.
WORTH_A_PINION, WORTH_A_RING_GEAR = 0.25, 0.15


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


def plan(
    belief: Belief,
    zones: Zones,
    axle: Axle,
    *,
    pinion_may_move: bool = True,
    must_move: bool = False,
    aim: Zones | None = None,
) -> Plan:
    """The move on the shop's grid of shims that most likely puts all in their zones.

    must_move: staying is no choice, since the set-up can't be accepted as it stands. aim: zones inside them
    that it had better be brought to; they choose among the moves, with as much weight as the zones.
    """
    posterior = belief.posterior
    wanted: Sequence[Zones] = (zones,) if aim is None else (zones, aim)

    def allowed(moves: Floats) -> Floats:
        return moves[moves.any(axis=1)] if must_move else moves

    moves = allowed(_moves_to_try(posterior, wanted[-1], axle, pinion_may_move))
    if posterior.chances(moves, zones.low, zones.high).max() < SMALL_CHANCE:
        everywhere = allowed(_moves_everywhere(axle, pinion_may_move))
        wanted = _wide_enough(posterior, wanted, everywhere)
        near = _moves_near(_best(posterior, wanted, everywhere), axle)
        moves = np.concatenate([moves, allowed(near if pinion_may_move else near * [0.0, 1.0])])
    best = _best(posterior, wanted, moves)
    pinion, ring = map(float, _best(posterior, wanted, allowed(_moves_beside(best, axle))))
    places = [(0.0, 0.0), (pinion, 0.0), (pinion, ring)]
    seen = dict(zip(dict.fromkeys(places), belief.outlooks(list(dict.fromkeys(places))), strict=True))
    now, after_pinion, after = (expectation(seen[place], zones, axle) for place in places)
    return Plan(pinion, ring, now, after_pinion, after)


def _best(posterior: Posterior, wanted: Sequence[Zones], moves: Floats) -> Floats:
    """The move (2,) of these (m, 2) that earns most, by the mean chance of the zones."""
    chance = np.mean([posterior.chances(moves, zones.low, zones.high) for zones in wanted], axis=0)
    cost = CHANCE_PER_MEMBER * np.count_nonzero(moves, axis=1) + CHANCE_PER_MM * np.abs(moves).sum(axis=1)
    away = posterior.chance_pinion_away()
    doubt = np.where(moves[:, 0] > 0, away, np.where(moves[:, 0] < 0, 1 - away, 0.0))
    best: Floats = moves[int(np.argmax(chance - cost - CHANCE_PER_DOUBT * doubt))]
    return best


def _wide_enough(posterior: Posterior, wanted: Sequence[Zones], moves: Floats) -> Sequence[Zones]:
    """The zones, doubled about their middles until one of the moves has some chance in each: where none will
    set all right, the move that brings it nearest is wanted, not the one that costs least.
    """
    for _ in range(4):
        if all(posterior.chances(moves, zones.low, zones.high).max() >= SMALL_CHANCE for zones in wanted):
            break
        wanted = [Zones(1.5 * z.low - 0.5 * z.high, 1.5 * z.high - 0.5 * z.low) for z in wanted]
    return wanted


def expectation(seen: Outlook, zones: Zones, axle: Axle) -> Expectation:
    """What is expected after a move, in words of the advice."""
    known = seen.backlash_sigma_mm < 0.08  # a backlash that was never measured stays as wide as its prior
    drive, coast = FLANKS if axle.role("convex") == "drive" else FLANKS[::-1]
    centres, sigmas = seen.centre, seen.sigma
    return Expectation(
        centres[drive],
        sigmas[drive],
        centres[coast],
        sigmas[coast],
        seen.backlash_mm if known else None,
        seen.backlash_sigma_mm if known else None,
        seen.chance(zones.low, zones.high),
    )


def _moves_to_try(posterior: Posterior, zones: Zones, axle: Axle, pinion_may_move: bool) -> Floats:
    """Moves (m, 2) that the shop's shims make: around the smooth optimum, on both axes, and no move."""
    ring_only = _smooth_optimum(posterior, zones, (False, True))
    ring = _ring_travels(float(ring_only[1]), axle)
    grids = [np.zeros((1, 2)), np.stack([np.zeros_like(ring), ring], axis=1)]
    if pinion_may_move:
        both = _smooth_optimum(posterior, zones, (True, True))
        pinion_only = _smooth_optimum(posterior, zones, (True, False))
        pinion = _pinion_travels(float(pinion_only[0]), axle)
        grids.append(np.stack([pinion, np.zeros_like(pinion)], axis=1))
        grids.append(_moves_near(both, axle))
    grid: Floats = np.concatenate(grids)
    near: Floats = grid[np.all(np.abs(grid) <= LARGEST_MOVE_MM, axis=1)]
    return near


def _moves_near(move: Floats, axle: Axle) -> Floats:
    """Moves (m, 2) of both members that the shop's shims make, around this one (2,)."""
    p, g = np.meshgrid(_pinion_travels(float(move[0]), axle), _ring_travels(float(move[1]), axle))
    return np.stack([p.ravel(), g.ravel()], axis=1)


def _moves_everywhere(axle: Axle, pinion_may_move: bool) -> Floats:
    """Moves (m, 2) that the shop's shims make, as far as any is advised, COARSE_STEP_MM apart. Where sets
    that could be this one differ widely, the best may lie far from the mean of their optima.
    """
    reach = np.arange(-LARGEST_MOVE_MM, LARGEST_MOVE_MM + 1e-9, COARSE_STEP_MM)
    made = np.array(pinion_travels(axle.pinion_shim))
    pinion = made if made.size else np.round(reach / axle.pinion_shim.step_mm) * axle.pinion_shim.step_mm
    ring = np.round(reach / carrier_step(axle.carrier)) * carrier_step(axle.carrier)
    p, g = np.meshgrid(pinion if pinion_may_move else [0.0], ring)
    return np.stack([p.ravel(), g.ravel()], axis=1)


def _moves_beside(move: Floats, axle: Axle) -> Floats:
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


def _pinion_travels(near_mm: float, axle: Axle) -> Floats:
    """Pinion travels that the shop can make, around this one."""
    made = np.array(pinion_travels(axle.pinion_shim))
    if made.size:
        return np.asarray(made[np.argsort(np.abs(made - near_mm))[: 2 * WINDOW + 1]])
    return _around(near_mm, axle.pinion_shim.step_mm)


def _ring_travels(near_mm: float, axle: Axle) -> Floats:
    return _around(near_mm, carrier_step(axle.carrier))


def _around(near_mm: float, step_mm: float) -> Floats:
    """Multiples of the step, WINDOW to each side, no closer than FIRST_STEP_MM asks."""
    return np.asarray(
        (np.round(near_mm / step_mm) + _stride(step_mm) * np.arange(-WINDOW, WINDOW + 1)) * step_mm
    )


def _stride(step_mm: float) -> int:
    return max(1, round(FIRST_STEP_MM / step_mm))


def _smooth_optimum(posterior: Posterior, zones: Zones, free: tuple[bool, bool]) -> Floats:
    """The move (2,) of least expected squared miss, each measure in units of its zone's half width."""
    half = (zones.high - zones.low) / 2
    mean, _ = posterior.now
    jacobian = (posterior.candidates.jacobian[:, :, :2] + posterior.learned) / half[:, None]
    miss = (mean - (zones.high + zones.low) / 2) / half
    normal = np.einsum("n,nij,nik->jk", posterior.weight, jacobian, jacobian)
    right = -np.einsum("n,nij,ni->j", posterior.weight, jacobian, miss)
    move = np.zeros(2)
    index = np.flatnonzero(free)
    block = normal[np.ix_(index, index)] + 1e-6 * np.eye(len(index))
    move[index] = np.linalg.solve(block, right[index])
    limited: Floats = np.clip(move, -LARGEST_MOVE_MM, LARGEST_MOVE_MM)
    return limited
