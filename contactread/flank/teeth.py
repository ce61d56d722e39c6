"""From the network's cells to teeth: which cells belong together, and the smooth map of each tooth."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.flank.flank import FlankMap
from contactread.flank.gear_fit import CORNER_U, CORNER_V
from contactread.flank.rigid import Seen
from contactread.flank.sight import Sight

NU, NV = 4, 3  # terms of a flank's map along u and v
LEAST_CELLS = 14
OVERLAP, ONE_FLANK = 0.3, 0.05  # outlines that overlap so much are one flank if one map fits so well
SAME = 0.3  # groups whose maps differ by less than this share of the height are one flank
_DEGREE = np.array([[i + j + 0.5 * (j == 2) + (i == 3) for j in range(NV)] for i in range(NU)]).ravel()
# How strongly a term is held to its expected value, in cells of evidence; a place and a slope are free.
_STIFFNESS = np.select([_DEGREE <= 1, _DEGREE <= 2, _DEGREE <= 3], [0.0, 3.0, 20.0], 120.0)


@dataclass(frozen=True, eq=False)
class CellTooth:
    """The cells of one flank and the map fitted to them.

    place, uv: (cells, 2). weight: (cells,). coefficients: see FlankMap, flattened to (12, 2). residual:
    weighted RMS misfit in pixels. cells: flat indices into the grid, whose cells are `cell_px` wide.
    """

    cells: NDArray[np.int64]
    place: NDArray[np.float64]
    uv: NDArray[np.float64]
    weight: NDArray[np.float64]
    coefficients: NDArray[np.float64]
    residual: float
    cell_px: float

    @property
    def map(self) -> FlankMap:
        return FlankMap(self.coefficients.reshape(NU, NV, 2))

    @property
    def seen(self) -> Seen:
        return Seen(self.map, self.uv, self.place, self.weight, self.residual, self.cell_px)


def gather(sight: Sight, chance: NDArray[np.float32]) -> list[CellTooth]:
    """The teeth whose flank of one kind is seen.

    chance: (rows, columns), of being on that kind of flank. Teeth come in no particular order.
    """
    cells = np.flatnonzero(chance.ravel() > 0.5)
    if cells.size < LEAST_CELLS:
        return []
    place = sight.place.reshape(-1, 2)[cells].astype(np.float64)
    vote = sight.vote.reshape(-1, 2)[cells].astype(np.float64)
    uv = np.stack((sight.u.ravel()[cells], sight.v.ravel()[cells]), 1).astype(np.float64)
    spread = sight.spread.ravel()[cells].astype(np.float64)
    weight = chance.ravel()[cells] / (1 + (spread / 0.03) ** 2)
    seeds = _seeds(sight, vote, weight)
    if not len(seeds):
        return []
    distance = np.linalg.norm(vote[:, None] - seeds[None], axis=2)
    owner = np.where(distance.min(1) < 6 * sight.cell_px, distance.argmin(1), -1)
    owner = _merge(cells, place, uv, weight, owner, sight.cell_px)
    teeth: list[CellTooth] = []
    for _ in range(3):
        teeth = _fit_all(cells, place, uv, weight, owner, sight.cell_px)
        if not teeth:
            return []
        # A cell belongs to the tooth whose map puts its (u, v) nearest to where the cell is.
        misfit = np.stack([np.linalg.norm(t.map(uv[:, 0], uv[:, 1]) - place, axis=1) for t in teeth])
        size = np.array([max(_length(t), 1e-9) for t in teeth])
        near = misfit.argmin(0)
        owner = np.where(misfit.min(0) < np.maximum(0.1 * size[near], 2 * sight.cell_px), near, -1)
    return _fit_all(cells, place, uv, weight, owner, sight.cell_px)


def _seeds(sight: Sight, vote: NDArray[np.float64], weight: NDArray[np.float64]) -> NDArray[np.float64]:
    """Places where many cells expect the middle of their flank, (n, 2)."""
    low = sight.place.reshape(-1, 2).min(0)
    shape = np.ceil((sight.place.reshape(-1, 2).max(0) - low) / sight.cell_px).astype(int) + 2
    at = np.floor((vote - low) / sight.cell_px).astype(int)
    inside = ((at >= 0) & (at < shape)).all(1)
    density = np.zeros((shape[1], shape[0]), np.float32)
    np.add.at(density, (at[inside, 1], at[inside, 0]), weight[inside].astype(np.float32))
    density = cv2.GaussianBlur(density, (0, 0), 1.2, borderType=cv2.BORDER_CONSTANT)
    peak = (density == cv2.dilate(density, np.ones((5, 5), np.uint8))) & (density > 0.35)
    ys, xs = np.nonzero(peak)
    return np.asarray(np.stack((xs, ys), 1) * sight.cell_px + low + sight.cell_px / 2, np.float64)


def _merge(
    cells: NDArray[np.int64],
    place: NDArray[np.float64],
    uv: NDArray[np.float64],
    weight: NDArray[np.float64],
    owner: NDArray[np.int64],
    cell_px: float,
) -> NDArray[np.int64]:
    """Owners with the groups joined that lie on one flank: one map explains the cells of both."""
    for _ in range(4):
        groups = [g for g in range(owner.max() + 1) if np.count_nonzero(owner == g) >= LEAST_CELLS]

        def fit(chosen: NDArray[np.bool_]) -> CellTooth:
            return _fit(cells[chosen], place[chosen], uv[chosen], weight[chosen], cell_px, None)

        fits = {g: fit(owner == g) for g in groups}
        joined = False
        for n, i in enumerate(groups):
            for j in groups[n + 1 :]:
                one, other = fits[i], fits[j]
                if not ((owner == i).any() and (owner == j).any()):
                    continue
                same = min(_gap(one, other), _gap(other, one)) < SAME * max(_height(one), _height(other))
                if not same and _overlap(one, other) > OVERLAP:
                    both = fit((owner == i) | (owner == j))
                    same = both.residual < ONE_FLANK * max(_length(both), 1e-9)
                if same:
                    owner = np.where(owner == j, i, owner)
                    joined = True
        if not joined:
            break
    return owner


def _height(tooth: CellTooth) -> float:
    root, top = tooth.map(np.array([0.5, 0.5]), np.array([0.0, 1.0]))
    return float(np.linalg.norm(top - root))


def _overlap(one: CellTooth, other: CellTooth) -> float:
    """Common area of the two flanks' outlines over the smaller one's."""
    first, second = (cv2.convexHull(t.map(CORNER_U, CORNER_V).astype(np.float32)) for t in (one, other))
    common, _ = cv2.intersectConvexConvex(first, second)
    return float(common / max(min(cv2.contourArea(first), cv2.contourArea(second)), 1e-6))


def _gap(one: CellTooth, other: CellTooth) -> float:
    """Median distance between where `one` puts the other's cells and where they are, pixels."""
    return float(np.median(np.linalg.norm(one.map(*other.uv.T) - other.place, axis=1)))


def _fit_all(
    cells: NDArray[np.int64],
    place: NDArray[np.float64],
    uv: NDArray[np.float64],
    weight: NDArray[np.float64],
    owner: NDArray[np.int64],
    cell_px: float,
) -> list[CellTooth]:
    teeth = []
    for index in range(owner.max() + 1):
        mine = owner == index
        if np.count_nonzero(mine) < LEAST_CELLS:
            continue
        if np.ptp(uv[mine, 0]) < 0.25 or np.ptp(uv[mine, 1]) < 0.25:
            continue
        teeth.append(_fit(cells[mine], place[mine], uv[mine], weight[mine], cell_px, None))
    return teeth


def _fit(
    cells: NDArray[np.int64],
    place: NDArray[np.float64],
    uv: NDArray[np.float64],
    weight: NDArray[np.float64],
    cell_px: float,
    expected: NDArray[np.float64] | None,
    stiffness: float = 1.0,
) -> CellTooth:
    """Fit a map to cells, robustly; `expected` coefficients (12, 2) hold what the cells leave open."""
    basis = FlankMap.basis(uv[:, 0], uv[:, 1], NU, NV)
    stiff = _STIFFNESS * stiffness
    goal = np.zeros((NU * NV, 2))
    if expected is not None:
        goal = expected
        stiff = np.maximum(stiff, 2.0 * stiffness)
        stiff[0] = 0.0
    # The unit of evidence is one cell of full weight on this flank.
    robust = weight
    for _ in range(4):
        normal = basis.T @ (basis * robust[:, None]) + np.diag(stiff + 1e-6)
        right = basis.T @ (place * robust[:, None]) + stiff[:, None] * goal
        coefficients = np.asarray(np.linalg.solve(normal, right), np.float64)
        error = np.linalg.norm(basis @ coefficients - place, axis=1)
        scale = 1.5 * np.median(error) + 1e-6
        robust = weight / np.maximum(1, error / scale)
    residual = float(np.sqrt(np.average(error**2, weights=robust)))
    return CellTooth(cells, place, uv, weight, coefficients, residual, cell_px)


def _length(tooth: CellTooth) -> float:
    toe, heel = tooth.map(np.array([0.0, 1.0]), np.array([0.5, 0.5]))
    return float(np.linalg.norm(heel - toe))


def agree(teeth: list[CellTooth]) -> list[CellTooth]:
    """Let the teeth of one gear agree: each map's shape changes smoothly from tooth to tooth.

    Returns the teeth in their order round the gear, refitted toward what their neighbours say. With
    fewer than three teeth there is nothing to agree on, and they come back as they are.
    """
    if len(teeth) < 3:
        return teeth
    middles = np.array([t.map(np.array(0.5), np.array(0.5)) for t in teeth])
    axis = np.linalg.svd(middles - middles.mean(0))[2][0]
    order = np.argsort((middles - middles.mean(0)) @ axis)
    teeth = [teeth[i] for i in order]
    along = (middles[order] - middles.mean(0)) @ axis
    along = along / max(float(np.abs(along).max()), 1e-9)
    shapes = np.stack([t.coefficients for t in teeth])
    evidence = np.array([t.weight.sum() for t in teeth]) / np.array([1 + t.residual**2 for t in teeth])
    degree = 2 if len(teeth) >= 6 else 1
    design = np.vander(along, degree + 1)
    result = []
    trust = evidence.copy()
    flat = shapes.reshape(len(teeth), -1)
    for _ in range(4):
        weighted = design * trust[:, None]
        smooth = np.linalg.lstsq(
            weighted.T @ design + 1e-9 * np.eye(degree + 1), weighted.T @ flat, rcond=None
        )[0]
        error = np.linalg.norm((design @ smooth - flat).reshape(len(teeth), -1, 2)[:, 1:], axis=(1, 2))
        trust = evidence / np.maximum(1, error / (1.5 * np.median(error) + 1e-9)) ** 2
    expected = (design @ smooth).reshape(shapes.shape)
    for tooth, goal in zip(teeth, expected, strict=True):
        result.append(
            replace(
                _fit(tooth.cells, tooth.place, tooth.uv, tooth.weight, tooth.cell_px, goal, stiffness=4.0)
            )
        )
    return result
