"""What gear sets show where they stand and after moves: patches and backlash, with the doubt of both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from contactread.arrays import Floats
from contactread.axle import FLANKS, FlankName, Interval
from contactread.belief.linear import normal_cdf
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import MeshModel
from contactread.patch import EDGES, Clear, Patch, Point


def _places(count: int = 7) -> tuple[Floats, Floats]:
    """Two standard normal numbers (count^2, 2), and how likely each pair is."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(count)
    one, other = np.meshgrid(nodes, nodes)
    return np.stack([one.ravel(), other.ravel()], axis=1), np.outer(
        weights, weights
    ).ravel() / weights.sum() ** 2


_PLACES = _places()


@dataclass(frozen=True, eq=False)
class Start:
    """One gear set that could be the axle's, and where it stands now.

    own: (4,) where its patches' centres lie beyond where its mesh puts them (convex u, v, concave u, v).
    backlash_mm: now. sigma: (5,) standard deviation of the centres and of the backlash now. common: (5, 2)
    what of it comes from where pinion and ring gear stand, by two standard normal numbers; the rest is each
    measure's own.
    """

    model: MeshModel
    weight: float
    at: Displacement
    own: Floats
    backlash_mm: float
    sigma: Floats
    common: Floats


@dataclass(frozen=True, eq=False)
class Outlook:
    """What the gears show in one place of theirs.

    place: of the gears against the mesh's nominal place, mm. convex, concave: the patch expected on that
    flank; None where it is likelier that nothing touches. sigma: standard deviation of each centre (u, v).
    backlash_mm: at the dial. measures, sigmas, doubts: (n, 5) of each gear set of weight (n,): convex u, v,
    concave u, v, backlash; NaN where a flank doesn't touch; what stays open of its place; what stays open of
    its answer to the move. commons: (n, 5, 2) as in Start.
    """

    place: Displacement
    convex: Patch | None
    concave: Patch | None
    backlash_mm: float
    weight: Floats
    measures: Floats
    sigmas: Floats
    doubts: Floats
    commons: Floats

    def patch(self, flank: FlankName) -> Patch | None:
        """The patch of one flank."""
        return self.convex if flank == "convex" else self.concave

    @property
    def centre(self) -> dict[FlankName, Point]:
        """Where each patch's centre (u, v) is expected."""
        there = self.weight[:, None] * np.isfinite(self.measures)
        mean = np.sum(there * np.nan_to_num(self.measures), axis=0) / np.maximum(there.sum(axis=0), 1e-300)
        return {flank: (float(mean[2 * k]), float(mean[2 * k + 1])) for k, flank in enumerate(FLANKS)}

    @property
    def sigma(self) -> dict[FlankName, Point]:
        """Standard deviation of each flank's centre (u, v)."""
        all_five = self._sigma()
        return {flank: (float(all_five[2 * k]), float(all_five[2 * k + 1])) for k, flank in enumerate(FLANKS)}

    @property
    def backlash_sigma_mm(self) -> float:
        """Standard deviation of the backlash."""
        return float(self._sigma()[4])

    def chance(self, low: Floats, high: Floats) -> float:
        """Chance that all five measures lie between low and high (5,): a sum over where pinion and ring gear
        may stand (Gauss and Hermite's), given which the measures' doubts are each its own.
        """
        own = np.maximum(self.sigmas**2 - np.sum(self.commons**2, axis=2), 0.0) + self.doubts**2
        sigma = np.maximum(np.sqrt(own), 1e-6)
        at, odds = _PLACES
        measures = np.nan_to_num(self.measures, nan=math.inf) + np.einsum("nij,mj->mni", self.commons, at)
        inside = normal_cdf((high - measures) / sigma) - normal_cdf((low - measures) / sigma)
        return float(odds @ np.prod(inside, axis=2) @ self.weight)

    def _sigma(self) -> Floats:
        return deviation(self.weight, self.measures, self.sigmas**2 + self.doubts**2)


def outlooks(
    starts: Sequence[Start],
    moves_mm: Sequence[Interval],
    doubts: Floats,
    lines: Floats | None = None,
    learned: Floats | float = 0.0,
) -> list[Outlook]:
    """What the gears show after each of the moves, every one from their starts; the first move is none.

    doubts: (moves, starts, 5) what stays open of the answer to each move. lines: (moves, starts, 4) the
    centres that each start's straight-line answer gives. learned: (moves, starts, 5) what earlier moves
    taught of the answer beyond the mesh. The mesh knows the edges of the flank, the line follows the measured
    sizes more closely: along the length the middle between them errs less than either, in height, where
    patches are cut off most, the mesh does (calibration/forecast_error.py).
    """
    weight = np.array([start.weight for start in starts])
    weight = weight / weight.sum()
    predictions = [
        start.model.predictions([moved(start.at, move) for move in moves_mm], against_first=True)
        for start in starts
    ]
    own = np.array([[*start.own, start.backlash_mm] for start in starts])
    sigmas = np.stack([start.sigma for start in starts])
    commons = np.stack([start.common for start in starts])
    bent = np.zeros((len(starts), 4))
    seen = []
    for j, move in enumerate(moves_mm):
        column = [one[j] for one in predictions]
        measures = np.stack([prediction.measures for prediction in column]) + own
        measures = measures + np.broadcast_to(learned, doubts.shape)[j]
        if lines is not None:
            if j == 0:
                bent = np.nan_to_num(lines[0] - measures[:, :4])
            along = measures[:, [0, 2]] + bent[:, [0, 2]] * _left_of_bend(starts, move)
            measures[:, [0, 2]] = (along + lines[j][:, [0, 2]]) / 2
        measures[:, :4] = np.clip(measures[:, :4], 0.0, 1.0)
        seen.append(
            Outlook(
                Displacement(
                    float(weight @ [s.at.pinion for s in starts]) + move[0],
                    float(weight @ [s.at.ring for s in starts]) + move[1],
                ),
                _expected([p.convex for p in column], measures[:, :2], weight),
                _expected([p.concave for p in column], measures[:, 2:4], weight),
                float(weight @ measures[:, 4]),
                weight,
                measures,
                sigmas,
                doubts[j],
                commons,
            )
        )
    return seen


def _left_of_bend(starts: Sequence[Start], move_mm: Interval) -> Floats:
    """How much of the difference that bent answers make between mesh and line where the gears stand is left
    after a move, (n, 1): 1 where they stand, so that what was read holds there, and less the nearer they come
    to the mesh's nominal place, where the two agree; it grows as the square of the way from there.
    """
    way = np.array([[np.hypot(at.pinion, at.ring) for at in (s.at, moved(s.at, move_mm))] for s in starts])
    return np.asarray(np.minimum((way[:, 1:] / np.maximum(way[:, :1], 1e-9)) ** 2, 1.0))


def moved(at: Displacement, move_mm: Interval) -> Displacement:
    """Where gears stand after a move P, G."""
    return replace(at, pinion=at.pinion + move_mm[0], ring=at.ring + move_mm[1])


def _expected(patches: Sequence[Patch | None], centres: Floats, weight: Floats) -> Patch | None:
    """The mean of the patches of one flank, each moved to its centre (n, 2)."""
    each = zip(patches, centres, weight, strict=True)
    there = [(patch, c, w) for patch, c, w in each if patch is not None]
    share = sum(w for *_, w in there)
    if share < 0.5:
        return None
    if len(there) == 1 and there[0][0].centre == tuple(there[0][1]):
        return there[0][0]
    w = np.array([w for *_, w in there]) / share
    centre = w @ np.array([c for _, c, _ in there])
    shifted = np.array([c - p.centre for p, c, _ in there])
    length = w @ np.clip(np.array([p.length for p, *_ in there]) + shifted[:, :1], 0.0, 1.0)
    height = w @ np.clip(np.array([p.height for p, *_ in there]) + shifted[:, 1:], 0.0, 1.0)
    clear = w @ np.array([p.clear for p, *_ in there])
    off = w @ np.array([[edge in p.runs_off for edge in EDGES] for p, *_ in there]) > 0.5
    return Patch(
        (float(centre[0]), float(centre[1])),
        (float(length[0]), float(length[1])),
        (float(height[0]), float(height[1])),
        float(w @ [p.area_fraction for p, *_ in there]),
        float(w @ [p.tilt_deg for p, *_ in there]),
        Clear(*(0.0 if cut else float(share) for share, cut in zip(clear, off, strict=True))),
    )


def deviation(weight: Floats, values: Floats, variance: Floats) -> Floats:
    """Standard deviation (5,) of values (n, 5), each of its own variance besides; NaN counts for nothing."""
    there = weight[:, None] * np.isfinite(values)
    share = there / np.maximum(there.sum(axis=0), 1e-300)
    filled = np.nan_to_num(values)
    mean = np.sum(share * filled, axis=0)
    return np.asarray(np.sqrt(np.sum(share * (variance + (filled - mean) ** 2), axis=0)))
