"""The solver: the smallest moves that the shop can make and that put everything where it should be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from contactread.advice.answer import Expectation
from contactread.advice.backlash import COMMON_MM
from contactread.advice.shims import carrier_step, pinion_travels
from contactread.arrays import Floats
from contactread.axle import FLANKS, Axle, FlankName, Interval
from contactread.belief import Belief, Outlook
from contactread.belief.believe import in_flank_order
from contactread.belief.linear import Posterior
from contactread.belief.targets import Target
from contactread.belief.tries import DIAL_SIGMA_MM, swing_of
from contactread.pattern.measures import Setup, Side

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
CLEAR = 0.02  # of the height: nearer to an edge, contact is taken to run off it
# Of the height: a contact that leaves less play than this between root and top is as tall as the tooth, and
# is wanted so near to the middle.
LEAST_PLAY = 0.15
MIDDLE = LEAST_PLAY / 2
SIZES_MISS = 0.06  # of the height: by so much less may a patch be believed to reach than it does
NEAR_MIDDLE = 0.1  # so near it stays where it is, once the axle has been opened for it
# Chance that a move must earn, else what stands stays: a pinion comes out with its bearings, a ring gear
# moves sideways. Our own suppositions of what their work is worth.
WORTH_A_PINION, WORTH_A_RING_GEAR = 0.25, 0.15
HARDLY_MM = 0.005  # a miss that two places of a millimetre don't show
CLEAR_SWING_MM = 2 * DIAL_SIGMA_MM  # of four readings of a gear that runs true, 2 in 100 swing more
UNLIMITED = 10.0  # no fraction and no backlash in mm comes near it


@dataclass(frozen=True, eq=False)
class Zones:
    """Where the five measures (convex u, v, concave u, v, backlash) are wanted: low and high, each (5,).
    Unlimited where not judged."""

    low: Floats
    high: Floats


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


def zones_for(target: Target, axle: Axle) -> Zones:
    """The zones of the axle's target and its backlash limits: where the axle file gives none, what is common
    practice; for a used set, whose backlash has its own history, none.
    """
    backlash = axle.limits.backlash_mm
    if backlash is None:
        used = target.name.startswith("used")
        backlash = (-UNLIMITED, UNLIMITED) if used else COMMON_MM
    low: list[float] = []
    high: list[float] = []
    for zone in in_flank_order(target, axle):
        low += [zone.u[0], zone.v[0]] if zone.judged else [-UNLIMITED, -UNLIMITED]
        high += [zone.u[1], zone.v[1]] if zone.judged else [UNLIMITED, UNLIMITED]
    return Zones(np.array([*low, backlash[0]]), np.array([*high, backlash[1]]))


def at_every_place(zones: Zones, backlash_mm: tuple[float, ...], *, as_read: bool = True) -> Zones:
    """The zones, that of the mean backlash as `band_of_mean` leaves it."""
    low, high = zones.low.copy(), zones.high.copy()
    low[4], high[4] = band_of_mean((low[4], high[4]), backlash_mm, as_read=as_read)
    return Zones(low, high)


def band_of_mean(limits: Interval, backlash_mm: tuple[float, ...], *, as_read: bool = True) -> Interval:
    """What limits of backlash leave of themselves for its mean, by how far single places lie from it. The
    lower end is the greater where no mean brings every place inside.

    Where every place is inside as read, only what the places differ by beyond what a dial repeats to counts:
    the rest isn't the ring gear's; but a swing that no dial shows by itself counts whole. as_read: False
    where so much is forgiven a place that was read outside too, and twice as much, which four readings of one
    place seldom exceed.
    """
    if len(backlash_mm) < 2:
        return limits
    low, high = limits
    mean, least, most = float(np.mean(backlash_mm)), min(backlash_mm), max(backlash_mm)
    share, swing = 1.0, swing_of(backlash_mm)
    inside = low - HARDLY_MM <= least and most <= high + HARDLY_MM and swing < CLEAR_SWING_MM
    if not as_read or inside:
        repeats = DIAL_SIGMA_MM**2 * (1 if as_read else 2)
        share = max(1 - repeats / max(float(np.var(backlash_mm, ddof=1)), 1e-12), 0.0) ** 0.5
    return low + share * max(mean - least, swing), high - share * max(most - mean, swing)


def centred_in_height(zones: Zones, setup: Setup, belief: Belief, middle: float = MIDDLE) -> Zones:
    """The zones, with every contact that is as tall as the tooth wanted in the middle of the height: as far
    from the root as from the top is the best that shims can do for it. middle: half width of that zone.
    """
    low, high = zones.low.copy(), zones.high.copy()
    for k, flank in enumerate(FLANKS):
        if is_tall(belief, _of(setup, flank)):
            low[2 * k + 1] = max(low[2 * k + 1], 0.5 - middle)
            high[2 * k + 1] = min(high[2 * k + 1], 0.5 + middle)
    return Zones(low, high)


def clear_of_both(zones: Zones, setup: Setup, belief: Belief) -> Zones:
    """The zones where a move should bring the centres, so that it doesn't drive a tall contact from one edge
    off the other: as far from root and top as the whole patch reaches, and no narrower than CLEAR each way.
    """
    low, high = zones.low.copy(), zones.high.copy()
    for k, flank in enumerate(FLANKS):
        reach, v = min(reach_of(belief, _of(setup, flank)), 0.5 - CLEAR), 2 * k + 1
        if low[v] < 1 - reach and reach < high[v]:
            low[v], high[v] = max(low[v], reach), min(high[v], 1 - reach)
    return Zones(low, high)


def is_tall(belief: Belief, side: Side) -> bool:
    """Whether the contact of this flank is nearly as tall as the tooth: no reading is fine enough to set it
    clear of root and top both.
    """
    return 1 - 2 * reach_of(belief, side) < LEAST_PLAY


def clear_of_edges(zones: Zones, setup: Setup, belief: Belief) -> Zones:
    """The zones, made narrower where a pattern runs off the root or the top, so that the whole patch comes
    clear of that edge.
    """
    low, high = zones.low.copy(), zones.high.copy()
    for k, flank in enumerate(FLANKS):
        side = _of(setup, flank)
        reach = reach_of(belief, side)
        cut, v = side.runs_off & {"root", "top"}, 2 * k + 1
        if len(cut) == 2 or 1 - 2 * reach <= 0:
            continue
        if "top" in cut and 1 - reach > low[v]:
            high[v] = min(high[v], 1 - reach)
        if "root" in cut and reach < high[v]:
            low[v] = max(low[v], reach)
    return Zones(low, high)


def reach_of(belief: Belief, side: Side) -> float:
    """How far from an edge the centre of this flank's patch must lie for it to come clear, shares of height.

    A line parallel to the edge of an ellipse of half height a counts as contact up to 0.954 a from its middle
    (`contactread.patch.measure`), and its 5 and 95 % points lie at 0.805 a. Where it was seen to run off an
    edge it reaches as far as that edge, but by no more than SIZES_MISS.
    """
    reach = CLEAR + 0.954 / (2 * 0.805) * belief.whole_height(side.flank)
    cut = side.runs_off & {"root", "top"}
    if len(cut) != 1:
        return reach
    mean, _ = belief.posterior.expected((0.0, 0.0))
    height = float(mean[2 * FLANKS.index(side.flank) + 1])
    return max(reach, min(1 - height if "top" in cut else height, reach + SIZES_MISS))


def _of(setup: Setup, flank: FlankName) -> Side:
    return setup.drive if setup.drive.flank == flank else setup.coast


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
    mean, _ = posterior.after((0.0, 0.0))
    jacobian = posterior.candidates.jacobian[:, :, :2] / half[:, None]
    miss = (mean - (zones.high + zones.low) / 2) / half
    normal = np.einsum("n,nij,nik->jk", posterior.weight, jacobian, jacobian)
    right = -np.einsum("n,nij,ni->j", posterior.weight, jacobian, miss)
    move = np.zeros(2)
    index = np.flatnonzero(free)
    block = normal[np.ix_(index, index)] + 1e-6 * np.eye(len(index))
    move[index] = np.linalg.solve(block, right[index])
    limited: Floats = np.clip(move, -LARGEST_MOVE_MM, LARGEST_MOVE_MM)
    return limited
