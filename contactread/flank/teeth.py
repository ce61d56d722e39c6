"""From the network's cells to teeth: which cells belong together, and the smooth map of each tooth."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, Singles, median
from contactread.flank.flank import FlankMap
from contactread.flank.gear_fit import CORNER_U, CORNER_V
from contactread.flank.map_fit import fit_maps
from contactread.flank.rigid import Seen
from contactread.flank.sight import Sight

Indices = NDArray[np.int64]

NU, NV = 4, 3  # terms of a flank's map along u and v
LEAST_CELLS = 14
ENOUGH_CELLS = 2000  # of one kind of flank
LEAST_SPAN = 0.25  # of the length, and of the height
OVERLAP, ONE_FLANK = 0.3, 0.05  # outlines that overlap so much are one flank if one map fits so well
SAME = 0.3  # groups whose maps differ by less than this share of the height are one flank
_DEGREE = np.array([[i + j + 0.5 * (j == 2) + (i == 3) for j in range(NV)] for i in range(NU)]).ravel()
# How strongly a term is held to its expected value, in cells of evidence; a place and a slope are free.
_STIFFNESS = np.select([_DEGREE <= 1, _DEGREE <= 2, _DEGREE <= 3], [0.0, 3.0, 20.0], 120.0)
_ROUGH, _ROUNDS = 2, 4  # rounds of the robust fit: to tell which groups lie on one flank, and in the end


@dataclass(frozen=True, eq=False)
class CellTooth:
    """The cells of one flank and the map fitted to them.

    place, uv: (cells, 2). weight: (cells,). coefficients: see FlankMap, flattened to (12, 2). residual:
    weighted RMS misfit in pixels. cells: flat indices into the grid, whose cells are `cell_px` wide.
    """

    cells: NDArray[np.int64]
    place: Floats
    uv: Floats
    weight: Floats
    coefficients: Floats
    residual: float
    cell_px: float

    @property
    def map(self) -> FlankMap:
        return FlankMap(self.coefficients.reshape(NU, NV, 2))

    @property
    def seen(self) -> Seen:
        return Seen(self.map, self.uv, self.place, self.weight, self.residual, self.cell_px)

    @cached_property
    def length(self) -> float:
        """Straight length from toe to heel at half height, pixels."""
        toe, heel = self.map(np.array([0.0, 1.0]), np.array([0.5, 0.5]))
        return max(float(np.hypot(*(heel - toe))), 1e-9)

    @cached_property
    def height(self) -> float:
        """Straight height from root to top at half length, pixels."""
        root, top = self.map(np.array([0.5, 0.5]), np.array([0.0, 1.0]))
        return float(np.hypot(*(top - root)))

    @cached_property
    def hull(self) -> Singles:
        """Convex outline of the corners, (corners, 1, 2)."""
        return np.asarray(cv2.convexHull(self.map(CORNER_U, CORNER_V).astype(np.float32)), np.float32)


@dataclass(frozen=True, eq=False)
class _Cells:
    """The cells that may belong to flanks, one row each; names as in CellTooth."""

    cells: NDArray[np.int64]
    place: Floats
    uv: Floats
    weight: Floats
    cell_px: float

    @cached_property
    def basis(self) -> Floats:
        return FlankMap.basis(self.uv[:, 0], self.uv[:, 1], NU, NV)

    def misfit(self, teeth: list[CellTooth]) -> Floats:
        """How far from each cell's place each tooth's map puts it, (teeth, cells) pixels."""
        coefficients = np.concatenate([tooth.coefficients for tooth in teeth], axis=1)
        off = (self.basis @ coefficients).reshape(len(self.cells), len(teeth), 2) - self.place[:, None]
        off *= off
        return np.ascontiguousarray(np.sqrt(off[..., 0] + off[..., 1]).T)

    def groups(self, owner: Indices) -> list[Indices]:
        """Indices of the cells of each owner; empty for one that has too few for a map."""
        order = np.argsort(owner, kind="stable")
        ends = np.searchsorted(owner[order], np.arange(owner.max() + 2))
        groups = [order[start:end] for start, end in itertools.pairwise(ends)]
        return [group if len(group) >= LEAST_CELLS else group[:0] for group in groups]

    def spans(self, group: Indices) -> bool:
        """Whether cells cover enough of a flank for a map of it."""
        uv = self.uv[group]
        return len(uv) > 0 and bool((uv.max(axis=0) - uv.min(axis=0) >= LEAST_SPAN).all())

    def fit(
        self,
        groups: list[Indices],
        expected: Floats | None = None,
        stiffness: float = 1.0,
        rounds: int = _ROUNDS,
    ) -> list[CellTooth]:
        """A tooth for each group of cells; expected: (groups, 12, 2), coefficients that hold it."""
        if not groups:
            return []
        # The unit of evidence is one cell of full weight on this flank.
        stiff = _STIFFNESS * stiffness
        if expected is not None:
            stiff = np.maximum(stiff, 2.0 * stiffness)
            stiff[0] = 0.0
        at = np.zeros((len(groups), max(len(group) for group in groups)), int)
        weight = np.zeros(at.shape)
        for k, group in enumerate(groups):
            at[k, : len(group)] = group
            weight[k, : len(group)] = self.weight[group]
        fits = fit_maps(self.basis[at], self.place[at], weight, stiff + 1e-6, expected, rounds)
        return [
            CellTooth(
                self.cells[group],
                self.place[group],
                self.uv[group],
                self.weight[group],
                fits.coefficients[k],
                float(fits.residual[k]),
                self.cell_px,
            )
            for k, group in enumerate(groups)
        ]


def gather(sight: Sight, chance: Singles) -> list[CellTooth]:
    """The teeth whose flank of one kind is seen.

    chance: (rows, columns), of being on that kind of flank. Teeth come in no particular order.
    """
    chosen = np.flatnonzero(chance.ravel() > 0.5)
    if chosen.size < LEAST_CELLS:
        return []
    # Neighbouring cells are alike: of very many, every second or third says the same, and counts for those.
    every = 1 + chosen.size // ENOUGH_CELLS
    chosen = chosen[::every]
    vote = sight.vote.reshape(-1, 2)[chosen].astype(np.float64)
    spread = sight.spread.ravel()[chosen].astype(np.float64)
    cells = _Cells(
        chosen,
        sight.place.reshape(-1, 2)[chosen].astype(np.float64),
        np.stack((sight.u.ravel()[chosen], sight.v.ravel()[chosen]), 1).astype(np.float64),
        every * chance.ravel()[chosen] / (1 + (spread / 0.03) ** 2),
        sight.cell_px,
    )
    seeds = _seeds(sight, vote, cells.weight)
    if not len(seeds):
        return []
    apart = vote[:, None] - seeds[None]
    distance = np.sqrt(apart[..., 0] ** 2 + apart[..., 1] ** 2)
    owner = np.where(distance.min(1) < 6 * sight.cell_px, distance.argmin(1), -1)
    owner = _merge(cells, owner)
    teeth = cells.fit([group for group in cells.groups(owner) if cells.spans(group)])
    for _ in range(3):
        if not teeth:
            return []
        # A cell belongs to the tooth whose map puts its (u, v) nearest to where the cell is.
        misfit = cells.misfit(teeth)
        near = misfit.argmin(0)
        size = np.array([tooth.length for tooth in teeth])
        before = owner
        owner = np.where(misfit.min(0) < np.maximum(0.1 * size[near], 2 * sight.cell_px), near, -1)
        if np.array_equal(owner, before):
            break
        teeth = cells.fit([group for group in cells.groups(owner) if cells.spans(group)])
    return teeth


def _seeds(sight: Sight, vote: Floats, weight: Floats) -> Floats:
    """Places where many cells expect the middle of their flank, (n, 2)."""
    ends = sight.place[[0, -1], [0, -1]]
    low = ends.min(axis=0)
    shape = np.ceil((ends.max(axis=0) - low) / sight.cell_px).astype(int) + 2
    at = np.floor((vote - low) / sight.cell_px).astype(int)
    inside = ((at >= 0) & (at < shape)).all(1)
    columns, rows = shape.tolist()
    place = at[inside, 1] * columns + at[inside, 0]
    votes = np.bincount(place, weight[inside], rows * columns).reshape(rows, columns).astype(np.float32)
    density = cv2.GaussianBlur(votes, (0, 0), 1.2, borderType=cv2.BORDER_CONSTANT)
    peak = (density == cv2.dilate(density, np.ones((5, 5), np.uint8))) & (density > 0.35)
    ys, xs = np.nonzero(peak)
    return np.asarray(np.stack((xs, ys), 1) * sight.cell_px + low + sight.cell_px / 2, np.float64)


def _merge(cells: _Cells, owner: Indices) -> Indices:
    """Owners with the groups joined that lie on one flank: one map explains the cells of both."""
    for _ in range(4):
        groups = {number: group for number, group in enumerate(cells.groups(owner)) if len(group)}
        numbers = list(groups)
        teeth = cells.fit(list(groups.values()), rounds=_ROUGH)
        if len(teeth) < 2:
            break
        misfit = cells.misfit(teeth)
        # Where one tooth's map puts the other's cells, against where they are: median, (one, other).
        gap = np.stack([median(misfit[:, groups[number]], axis=1) for number in numbers], axis=1)
        joined: set[int] = set()
        for (i, one), (j, other) in itertools.combinations(enumerate(teeth), 2):
            if i in joined or j in joined:
                continue
            same = min(gap[i, j], gap[j, i]) < SAME * max(one.height, other.height)
            if not same and _overlap(one, other) > OVERLAP:
                both = cells.fit([np.flatnonzero((owner == numbers[i]) | (owner == numbers[j]))])[0]
                same = both.residual < ONE_FLANK * both.length
            if same:
                owner = np.where(owner == numbers[j], numbers[i], owner)
                joined.add(j)
        if not joined:
            break
    return owner


def _overlap(one: CellTooth, other: CellTooth) -> float:
    """Common area of the two flanks' outlines over the smaller one's."""
    common, _ = cv2.intersectConvexConvex(one.hull, other.hull)
    if common <= 0:
        return 0.0
    return float(common / max(min(cv2.contourArea(one.hull), cv2.contourArea(other.hull)), 1e-6))


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
    trust = evidence.copy()
    flat = shapes.reshape(len(teeth), -1)
    for _ in range(4):
        weighted = design * trust[:, None]
        smooth = np.linalg.lstsq(
            weighted.T @ design + 1e-9 * np.eye(degree + 1), weighted.T @ flat, rcond=None
        )[0]
        error = np.linalg.norm((design @ smooth - flat).reshape(len(teeth), -1, 2)[:, 1:], axis=(1, 2))
        trust = evidence / np.maximum(1, error / (1.5 * median(error) + 1e-9)) ** 2
    expected = (design @ smooth).reshape(shapes.shape)
    cells = _Cells(
        np.concatenate([t.cells for t in teeth]),
        np.concatenate([t.place for t in teeth]),
        np.concatenate([t.uv for t in teeth]),
        np.concatenate([t.weight for t in teeth]),
        teeth[0].cell_px,
    )
    ends = np.cumsum([0] + [len(t.cells) for t in teeth])
    groups = [np.arange(start, end) for start, end in itertools.pairwise(ends)]
    return cells.fit(groups, expected, stiffness=4.0)
