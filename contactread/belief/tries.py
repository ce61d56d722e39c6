"""What was seen of a set-up, and the moves made since: what a belief is made from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from contactread.axle import FlankName
from contactread.pattern.measures import Setup, Side

# A reading is never surer than this: two photos of one set-up, rolled twice, differ by about as much.
# Common practice, no source; in flank fractions (u, v).
SIGMA_FLOOR = (0.01, 0.015)
# What a dial in a workshop repeats to. Common practice, no source.
DIAL_SIGMA_MM = 0.01
# Readings of backlash that are wanted, equally spaced round the ring gear (B15, B24).
PLACES = 4


@dataclass(frozen=True)
class Seen:
    """One try as far as it was seen: like a Setup, but a side may be missing. At least one is there.

    drive, coast: in their roles for this axle. backlash_mm: readings of the dial; empty where none was taken.
    """

    drive: Side | None
    coast: Side | None
    backlash_mm: tuple[float, ...] = ()


@dataclass(frozen=True)
class EarlierTry:
    """An earlier try of the same set-up: what was read, and which move was made after it.

    pinion_mm, ring_mm: the moves P and G that were made after this reading. checked: the move was looked at
    again and is as told, so no mix-up is suspected in it any more.
    """

    setup: Setup
    pinion_mm: float = 0.0
    ring_mm: float = 0.0
    checked: bool = False


def sides_of(seen: Setup | Seen) -> dict[FlankName, Side]:
    """The sides that were seen, by flank."""
    return {side.flank: side for side in (seen.drive, seen.coast) if side is not None}


def sigma_of(side: Side) -> tuple[float, float]:
    """The standard uncertainty of a side's centre, not below what a repeat would show."""
    return max(side.sigma[0], SIGMA_FLOOR[0]), max(side.sigma[1], SIGMA_FLOOR[1])


def swing_of(backlash_mm: Sequence[float]) -> float:
    """How far backlash swings from its mean, where it was read at four places a quarter turn apart, in turn.

    A ring gear that runs out makes it swing once a turn, and its extremes may lie between the places: the
    amplitude of that wave, by Fourier's sum. 0 of another number of places.
    """
    if len(backlash_mm) != PLACES:
        return 0.0
    first, second, third, fourth = backlash_mm
    return math.hypot(first - third, second - fourth) / 2
