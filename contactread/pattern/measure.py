"""Measure the contact map of one tooth."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from contactread.axle import Interval
from contactread.pattern.measures import Edge, Point, ToothPattern

Map = NDArray[np.float32]

EDGES: tuple[Edge, ...] = ("toe", "heel", "top", "root")
# Least uncertainty of a centre whatever the evidence: the flank's map, the photo's sharpness and the
# ragged edge of a rubbed patch. Shares of length and height.
FLOOR = (0.010, 0.018)
_OFF_DEPTH = 0.04  # how near an edge, as a share of length or height, counts as over it
# Share of the edge that the patch must cover to run off it; the ends are short, so that less of one is noise.
_OFF_SHARE: dict[Edge, float] = {"toe": 0.10, "heel": 0.10, "top": 0.15, "root": 0.15}
_HARD_DEPTH, _HARD_INNER = 0.10, 0.30  # a hard line lies in the outer tenth and fades by three tenths


def measure_tooth(
    inside: Map,
    judged: Map,
    aspect: float,
    mm_size: tuple[float, float] | None,
    evidence_sigma: Point = (0.0, 0.0),
) -> ToothPattern:
    """The patch of one tooth.

    inside: (rows, columns), 0..1, as in ContactMaps; must hold some contact. judged: (rows, columns), 0..1.
    aspect: true height over length of the flank, for the tilt. mm_size: (length, height) in mm, if known.
    """
    rows, columns = inside.shape
    u, v = (np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows
    along, up = inside.sum(axis=0, dtype=float), inside.sum(axis=1, dtype=float)
    total = along.sum()
    centre = float(along @ u / total), float(up @ v / total)
    length, height = _interval(along), _interval(up)
    margins: dict[Edge, float] | None = None
    if mm_size is not None:
        margins = {
            "toe": length[0] * mm_size[0],
            "heel": (1 - length[1]) * mm_size[0],
            "root": height[0] * mm_size[1],
            "top": (1 - height[1]) * mm_size[1],
        }
    off = frozenset(edge for edge in EDGES if _runs_off(inside, edge))
    return ToothPattern(
        centre=centre,
        length=length,
        height=height,
        area_fraction=float(total / inside.size),
        tilt_deg=_tilt(inside, u, v * aspect),
        runs_off=off,
        hard_edges=frozenset(edge for edge in off if _is_hard(inside, edge)),
        margins_mm=margins,
        sigma=(
            float(np.hypot(evidence_sigma[0], FLOOR[0])),
            float(np.hypot(evidence_sigma[1], FLOOR[1])),
        ),
        unsure_fraction=float(1 - judged.mean()),
    )


def _interval(amount: NDArray[np.float64]) -> Interval:
    """5 and 95 % points of an amount spread over equal cells of [0, 1]."""
    share = np.concatenate([[0.0], np.cumsum(amount) / amount.sum()])
    low, high = np.interp((0.05, 0.95), share, np.linspace(0, 1, len(share)))
    return float(low), float(high)


def _tilt(inside: Map, x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """Angle of the long axis from the second moments, degrees in (-90, 90]; x and y in equal units."""
    total = inside.sum(dtype=float)
    along, up = inside.sum(axis=0, dtype=float) / total, inside.sum(axis=1, dtype=float) / total
    dx, dy = x - along @ x, y - up @ y
    xx, yy = along @ dx**2, up @ dy**2
    xy = dy @ inside.astype(float) @ dx / total
    return float(np.degrees(0.5 * np.arctan2(2 * xy, xx - yy)))


def _covered(inside: Map, edge: Edge, start: float, end: float) -> NDArray[np.float64]:
    """Mean cover of a strip along an edge, from `start` to `end` inward, at each place along the edge."""
    turned = {"toe": inside, "heel": inside[:, ::-1], "root": inside.T, "top": inside.T[:, ::-1]}[edge]
    depth = turned.shape[1]
    first, last = round(start * depth), max(round(start * depth) + 1, round(end * depth))
    strip: NDArray[np.float64] = turned[:, first:last].mean(axis=1, dtype=float)
    return strip


def _runs_off(inside: Map, edge: Edge) -> bool:
    return bool((_covered(inside, edge, 0, _OFF_DEPTH) > 0.5).mean() > _OFF_SHARE[edge])


def _is_hard(inside: Map, edge: Edge) -> bool:
    """A narrow line along an edge that fades within a few tenths: the edge itself carries."""
    outer = _covered(inside, edge, 0, _HARD_DEPTH)
    inner = _covered(inside, edge, _HARD_DEPTH, _HARD_INNER)
    along = outer > 0.5
    return bool(along.mean() > 0.2 and inner[along].mean() < 0.35)
