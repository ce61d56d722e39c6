"""From the patches of the teeth to the side that they share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from contactread.arrays import Floats, median
from contactread.axle import FlankName, Interval, Role
from contactread.patch import EDGES, Clear, Edge, Point
from contactread.pattern.compound import Polarity
from contactread.pattern.measures import Side, ToothPattern

_HALF_TURN = np.pi
_WAVE_TEETH = 8  # a swing has three unknowns; fewer teeth would only draw their own scatter
# Error that all teeth of a photo share, so that more teeth don't cure it: the gear's fitted shape (the bow
# of the flank is the least known), and compound that shows a little more or less than the contact. Shares of
# length and height.
COMMON = (0.010, 0.018)


def side_of(
    teeth: Sequence[ToothPattern],
    flank: FlankName,
    role: Role,
    polarity: Polarity,
    compound: str,
    turns_rad: Sequence[float | None] = (),
    common_sigma: Point = (0.0, 0.0),
) -> Side:
    """What the measured teeth share; at least one tooth.

    turns_rad: place of each tooth round the gear. common_sigma: uncertainty in u and v that more teeth
    don't cure.
    """
    centres = np.array([tooth.centre for tooth in teeth])
    sigmas = np.array([tooth.sigma for tooth in teeth])
    spread = _spread(centres, sigmas)
    weights = _weights(centres, sigmas)
    centre = _mean(centres, weights)
    sigma = np.sqrt(
        1 / np.sum(1 / (sigmas**2 + spread**2), axis=0) + np.array(COMMON) ** 2 + np.square(common_sigma)
    )
    shares = weights.mean(axis=1)
    return Side(
        flank=flank,
        role=role,
        centre=centre,
        sigma=(float(sigma[0]), float(sigma[1])),
        length=_interval([tooth.length for tooth in teeth], weights[:, 0]),
        height=_interval([tooth.height for tooth in teeth], weights[:, 1]),
        area_fraction=_average([tooth.area_fraction for tooth in teeth], shares),
        tilt_deg=_tilt([tooth.tilt_deg for tooth in teeth], shares),
        clear=_clear(teeth, shares),
        hard_edges=_hard_edges(teeth, shares),
        size_mm=_size([tooth.size_mm for tooth in teeth]),
        spread=(float(spread[0]), float(spread[1])),
        wave=_wave(centres, turns_rad),
        polarity=polarity,
        compound=compound,
        teeth=tuple(teeth),
    )


def _spread(centres: Floats, sigmas: Floats) -> Floats:
    """Tooth-to-tooth standard deviation beyond what the measuring itself scatters, (2,)."""
    if len(centres) < 2:
        return np.zeros(2)
    seen = centres.var(axis=0, ddof=1)
    spread: Floats = np.sqrt(np.maximum(seen - 0.5 * (sigmas**2).mean(axis=0), 0.25 * seen))
    return spread


def _weights(centres: Floats, sigmas: Floats) -> Floats:
    """Weight of each tooth in u and v, (teeth, 2): by its uncertainty, and less for a stray (Huber)."""
    middle = median(centres, axis=0)
    usual = 1.483 * median(np.abs(centres - middle), axis=0)  # a standard deviation, were all normal
    width = np.sqrt(sigmas**2 + usual**2)
    weights = 1 / width**2
    for _ in range(5):
        centre = (weights * centres).sum(axis=0) / weights.sum(axis=0)
        off = np.abs(centres - centre) / width
        weights = np.minimum(1, 1.5 / np.maximum(off, 1e-9)) / width**2
    normal: Floats = weights / weights.sum(axis=0)
    return normal


def _mean(centres: Floats, weights: Floats) -> Point:
    u, v = (centres * weights).sum(axis=0)
    return float(u), float(v)


def _average(values: Sequence[float], weights: Floats) -> float:
    return float(np.average(values, weights=weights))


def _interval(intervals: Sequence[Interval], weights: Floats) -> Interval:
    low, high = np.average(np.array(intervals), axis=0, weights=weights)
    return float(low), float(high)


def _tilt(degrees: Sequence[float], weights: Floats) -> float:
    """Mean of axes, which repeat every half turn."""
    angles = 2 * np.radians(degrees)
    return float(np.degrees(0.5 * np.arctan2(weights @ np.sin(angles), weights @ np.cos(angles))))


def _clear(teeth: Sequence[ToothPattern], weights: Floats) -> Clear:
    """The weighted median of each distance: 0 where at least half of the teeth run off, by weight."""

    def median(values: Floats) -> float:
        order = np.argsort(values)
        half = np.searchsorted(np.cumsum(weights[order]), 0.5 - 1e-9)
        return float(values[order][half])

    return Clear(*(median(column) for column in np.array([tooth.clear for tooth in teeth]).T))


def _hard_edges(teeth: Sequence[ToothPattern], weights: Floats) -> frozenset[Edge]:
    """Edges that are hard on at least half of the teeth, by weight."""
    return frozenset(e for e in EDGES if weights @ np.array([e in t.hard_edges for t in teeth]) >= 0.5)


def _size(sizes: Sequence[Point | None]) -> Point | None:
    """The teeth's common size; they are of one gear."""
    known = [size for size in sizes if size is not None]
    if len(known) < len(sizes):
        return None
    length, height = np.mean(known, axis=0)
    return float(length), float(height)


def _wave(centres: Floats, turns_rad: Sequence[float | None]) -> Point | None:
    """Amplitude of a once-per-turn swing in u and v; None unless the teeth span half a turn or more."""
    known = [(turn, centre) for turn, centre in zip(turns_rad, centres, strict=False) if turn is not None]
    if len(known) < _WAVE_TEETH:
        return None
    turns = np.array([turn for turn, _ in known])
    if turns.max() - turns.min() < _HALF_TURN:
        return None
    swing = np.stack([np.ones_like(turns), np.cos(turns), np.sin(turns)], axis=1)
    terms, *_ = np.linalg.lstsq(swing, np.array([centre for _, centre in known]), rcond=None)
    u, v = np.hypot(terms[1], terms[2])
    return float(u), float(v)
