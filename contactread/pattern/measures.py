"""What is measured: the patch of one tooth, the side, the pair of sides."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from contactread.axle import FlankName, Interval, Role

Edge = Literal["toe", "heel", "top", "root"]
Point = tuple[float, float]


@dataclass(frozen=True)
class ToothPattern:
    """The contact patch of one tooth, in flank coordinates (u toe to heel, v root to top, 0..1).

    centre: area centroid. length, height: 5 and 95 % points of the contact area along u and v.
    area_fraction: contact area over flank area. tilt_deg: angle of the patch's long axis against the
    flank's length, in the flank's own mm proportions, positive where the heel end lies higher.
    runs_off: edges the patch runs over. hard_edges: edges with a narrow hard line. margins_mm: distance
    to each edge, mm (None where the size is unknown). sigma: standard uncertainty of the centre.
    unsure_fraction: share of the flank that could not be judged.
    """

    centre: Point
    length: Interval
    height: Interval
    area_fraction: float
    tilt_deg: float
    runs_off: frozenset[Edge]
    hard_edges: frozenset[Edge]
    margins_mm: dict[Edge, float] | None
    sigma: Point
    unsure_fraction: float


@dataclass(frozen=True)
class Side:
    """One side of the set-up: what the painted teeth share.

    flank and role: see `contactread.axle.role_of`. centre: robust mean of the teeth. sigma: its standard
    uncertainty. length, height, area_fraction, tilt_deg, runs_off, hard_edges, margins_mm: as in
    ToothPattern, from the teeth's common pattern. spread: tooth-to-tooth standard deviation of the
    centre. wave: amplitude in (u, v) of a once-per-turn swing, None where too few teeth show it.
    polarity: whether compound was pressed away to metal, or printed onto bare metal. compound: colour
    name. teeth: the teeth that were measured.
    """

    flank: FlankName
    role: Role
    centre: Point
    sigma: Point
    length: Interval
    height: Interval
    area_fraction: float
    tilt_deg: float
    runs_off: frozenset[Edge]
    hard_edges: frozenset[Edge]
    margins_mm: dict[Edge, float] | None
    spread: Point
    wave: Point | None
    polarity: Literal["pressed_away", "printed"]
    compound: str
    teeth: tuple[ToothPattern, ...]


@dataclass(frozen=True)
class Setup:
    """The pair of sides of one set-up, with what else was measured.

    backlash_mm: readings of the dial at several points of the ring gear; empty where none was taken.
    """

    drive: Side
    coast: Side
    backlash_mm: tuple[float, ...] = ()
