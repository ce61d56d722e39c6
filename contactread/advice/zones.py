"""Where the measures of a set-up are wanted: zones of centres and of backlash, as readings leave them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from contactread.advice.backlash import COMMON_MM
from contactread.arrays import Floats
from contactread.axle import FLANKS, Axle, FlankName, Interval
from contactread.belief import Belief
from contactread.belief.believe import in_flank_order
from contactread.belief.targets import Target
from contactread.belief.tries import DIAL_SIGMA_MM, swing_of
from contactread.patch import ELLIPSE_5_95
from contactread.pattern.measures import Setup, Side

CLEAR = 0.02  # of the height: nearer to an edge, contact is taken to run off it
# Of the height: a contact that leaves less play than this between root and top is as tall as the tooth, and
# is wanted so near to the middle.
LEAST_PLAY = 0.15
MIDDLE = LEAST_PLAY / 2
SIZES_MISS = 0.06  # of the height: by so much less may a patch be believed to reach than it does
NEAR_MIDDLE = 0.1  # so near it stays where it is, once the axle has been opened for it
HARDLY_MM = 0.005  # a miss that two places of a millimetre don't show
CLEAR_SWING_MM = 2 * DIAL_SIGMA_MM  # of four readings of a gear that runs true, 2 in 100 swing more
UNLIMITED = 10.0  # no fraction and no backlash in mm comes near it


@dataclass(frozen=True, eq=False)
class Zones:
    """Where the five measures (convex u, v, concave u, v, backlash) are wanted: low and high, each (5,).
    Unlimited where not judged."""

    low: Floats
    high: Floats


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
    clear of both: a move that takes it off the one may drive it off the other. No narrower than the middle
    where a contact is wanted that is as tall as the tooth.
    """
    low, high = zones.low.copy(), zones.high.copy()
    for k, flank in enumerate(FLANKS):
        side, v = _of(setup, flank), 2 * k + 1
        reach = min(reach_of(belief, side), 0.5 - MIDDLE)
        if len(side.runs_off & {"root", "top"}) == 1 and low[v] < 1 - reach and reach < high[v]:
            low[v], high[v] = max(low[v], reach), min(high[v], 1 - reach)
    return Zones(low, high)


def reach_of(belief: Belief, side: Side) -> float:
    """How far from an edge the centre of this flank's patch must lie for it to come clear, shares of height.

    A line parallel to the edge of an ellipse of half height a counts as contact up to 0.954 a from its middle
    (`contactread.patch.measure`), and its 5 and 95 % points lie at 0.805 a. Where it was seen to run off an
    edge it reaches as far as that edge, but by no more than SIZES_MISS.
    """
    reach = CLEAR + 0.954 / (2 * ELLIPSE_5_95) * belief.whole_height(side.flank)
    cut = side.runs_off & {"root", "top"}
    if len(cut) != 1:
        return reach
    mean, _ = belief.posterior.expected((0.0, 0.0))
    height = float(mean[2 * FLANKS.index(side.flank) + 1])
    return max(reach, min(1 - height if "top" in cut else height, reach + SIZES_MISS))


def _of(setup: Setup, flank: FlankName) -> Side:
    return setup.drive if setup.drive.flank == flank else setup.coast
