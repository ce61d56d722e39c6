"""The teeth that a finder sees, held together as one rigid ring gear under one camera."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, median
from contactread.axle import FlankName
from contactread.flank.corners import areas, corner_shares, flanks_of_view, tooth_orders
from contactread.flank.flank import Flank, FlankMap
from contactread.flank.gear_fit import CORNER_U, CORNER_V, Marks, Prior, alike, fit_views, numbered, sharpen
from contactread.flank.gear_view import GearView

_U, _V = (a.ravel() for a in np.meshgrid([0.04, 0.27, 0.5, 0.73, 0.96], [0.06, 0.5, 0.94]))
ALONG, UP = np.array([0.1, 0.3, 0.5, 0.7, 0.9]), np.array([0.2, 0.5, 0.8])
# Points of the edges, in order: root, top, toe, heel.
EDGE_U = np.concatenate([ALONG, ALONG, 0 * UP, 0 * UP + 1])
EDGE_V = np.concatenate([0 * ALONG, 0 * ALONG + 1, UP, UP])
# Where the network sees the flank end: about where it does, but a little above the soft fillet of the root.
# How much above depends on who drew the fillet: 0.00 on pictures of our own (see calibration.closeup.edges),
# 0.06 on another renderer's; this lies between.
_SEEN_V = np.concatenate([0 * ALONG + 0.04, 0 * ALONG + 1.005, UP, UP])
# Errors of neighbouring cells are alike: so many count as one.
ALIKE = 12.0
LEAST_SIGMA = 0.012  # of the flank's length
BESIDE_EDGES = 0.08  # the same where edges are seen, which place a flank better than its inside
GRAIN_SHARE = 0.4  # of a grain: how unsteady a place is that was seen with grains of that size
FAR_BETTER = 2.0  # times the best view's cost up to which one that shows the expected flank is taken
OUTLIER, LIMIT = 3.0, 1.5  # median misfits of a tooth that is left out; sigmas from which a mark counts less
ROUNDS, STILL = 3, 0.1  # fits, each with new weights; none more once marks move less, in standard deviations
# How far off, in u and v, the middle of found flanks lies: chosen so that the errors of centres are about as
# large as stated; `calibration.finder.accuracy` prints their ratio.
MAP_SIGMA = (0.02, 0.045)
# What is left open at the middle where an edge isn't seen on any tooth, in u and v: half of what ring gears
# differ by in face width and in height (see gear_fit). And how well an edge is placed at best, in pixels.
UNSEEN_END, UNSEEN_ROOT, PLACED_PX = 0.045, 0.06, 0.7
OWN_SHAPE = 0.03  # of the length
FIT_TEETH = 6  # the gear is fitted to so many of the best seen teeth


@dataclass(frozen=True, eq=False)
class Seen:
    """What is seen of one tooth: points of known place on its flank.

    map: the smooth map fitted to them. uv, place: (points, 2). weight: (points,). error: typical misfit
    of the map in pixels. grain: size in pixels of what the points were seen with.
    """

    map: FlankMap
    uv: Floats
    place: Floats
    weight: Floats
    error: float
    grain: float


@dataclass(frozen=True, eq=False)
class Edges:
    """Where the edges of a flank are seen, at EDGE_U, EDGE_V.

    places: (points, 2) pixels. normals: (points, 2), across the edge, over the standard deviation in
    pixels; zero where the edge isn't seen.
    """

    places: Floats
    normals: Floats


def marks_of(teeth: Sequence[Seen], least: float = LEAST_SIGMA) -> Marks:
    """Marks on a grid of each flank, each as sure as the points round it make it.

    least: standard deviation that they share at best, as a share of the flank's length.
    """
    places, sigmas = [], []
    grid = FlankMap.basis(_U, _V, 3, 2)
    u, v = np.concatenate([_U, [0, 1]]), np.concatenate([_V, [0.5, 0.5]])
    for tooth in teeth:
        *at, toe, heel = tooth.map(u, v)
        points = FlankMap.basis(tooth.uv[:, 0], tooth.uv[:, 1], 3, 2)
        normal = points.T @ (points * tooth.weight[:, None]) / ALIKE + 1e-3 * np.eye(6)
        spread = (grid * np.linalg.solve(normal, grid.T).T).sum(axis=1)
        floor = (least * np.hypot(*(heel - toe))) ** 2 + (GRAIN_SHARE * tooth.grain) ** 2
        places.append(at)
        sigmas.append(np.sqrt(spread * max(tooth.error, 0.5) ** 2 + floor))
    return Marks(_U, _V, np.array(places), alike(np.minimum(np.stack(sigmas), 1e4)))


def with_edges(marks: Marks, edges: Sequence[Edges]) -> Marks:
    """The marks, and where each tooth's edges are seen; those count across the edge only."""
    places = np.stack([e.places for e in edges])
    weigh = np.stack([e.normals[:, :, None] * np.array([1.0, 0.0]) for e in edges]).swapaxes(-1, -2)
    return Marks(
        np.concatenate([marks.u, EDGE_U]),
        np.concatenate([marks.v, _SEEN_V]),
        np.concatenate([marks.places, places], axis=1),
        np.concatenate([marks.weigh, weigh], axis=1),
    )


@dataclass(frozen=True, eq=False)
class Rigid:
    """The gear that the teeth make. view: gear and camera, its teeth those asked for, in that order.
    misfit: (teeth,) RMS of each tooth's marks over their sigmas."""

    view: GearView
    misfit: Floats


def fit_rigid(teeth: Sequence[Seen], size: tuple[int, int], prior: Prior, name: FlankName) -> Rigid | None:
    """One gear for all teeth; None where they make none. Teeth that don't fit are left out of the fit.

    name: the flank that is seen; a gear that shows that one is taken, unless it fits badly and another far
    better.
    """
    marks = marks_of(teeth)
    sure = np.linalg.norm(marks.weigh, axis=(-2, -1))
    order = np.sort(np.argsort(-median(sure, axis=1))[:FIT_TEETH])
    best = marks.of(order)
    corners = np.stack([teeth[i].map(CORNER_U, CORNER_V) for i in order])
    views = fit_views(best, tooth_orders(corners), size, prior, name)
    if not views:
        return None
    likely = next((v for v in views if v.flank == name and v.cost < FAR_BETTER * views[0].cost), views[0])
    view = numbered(_settled(likely, best, prior)[0], marks)
    return Rigid(view, _misfit(marks.weighed(view), marks))


def refit_rigid(view: GearView, teeth: Sequence[Seen], edges: Sequence[Edges], prior: Prior) -> Rigid:
    """The same gear, fitted again to better marks on its teeth and to their edges."""
    inner = marks_of(teeth, BESIDE_EDGES)
    view, off = _settled(view, with_edges(inner, edges), prior)
    return Rigid(view, _misfit(off[:, : len(_U)], inner))


def _settled(view: GearView, marks: Marks, prior: Prior) -> tuple[GearView, Floats]:
    """The view fitted with marks and whole teeth that miss it counting less, until that settles; and by how
    many standard deviations each mark then misses it, (teeth, points, 2)."""
    teeth = view.teeth
    off = marks.weighed(view)
    for _ in range(ROUNDS):
        missed = _misfit(off, marks)
        fine = missed < max(OUTLIER * float(median(missed)), 2.0)
        if np.count_nonzero(fine) < 2:
            fine = np.ones(len(teeth), bool)
        some = marks.of(fine).tempered(off[fine], LIMIT)
        view = replace(sharpen(replace(view, teeth=teeth[fine]), some, prior), teeth=teeth)
        before, off = off, marks.weighed(view)
        if float(np.sqrt(np.mean((off - before) ** 2))) < STILL:
            break
    return view, off


def _misfit(off: Floats, marks: Marks) -> Floats:
    """RMS of each tooth's seen marks in standard deviations, (teeth,); off: as `Marks.weighed` gives it."""
    seen = np.linalg.norm(marks.weigh, axis=(-2, -1)) > 0
    return np.asarray(np.sqrt((off**2).sum((1, 2)) / np.maximum(1, 2 * seen.sum(1))))


def neighbours(view: GearView, size: tuple[int, int], reach: int) -> NDArray[Any]:
    """Numbers of further teeth of the gear, up to `reach` beyond those seen, whose middle is in the picture
    and that turn the same face to the camera."""
    seen = view.teeth
    first = seen[0] % 1
    numbers = first + np.arange(np.floor(seen.min() - first) - reach, np.ceil(seen.max() - first) + reach + 1)
    new = numbers[np.abs(numbers[:, None] - seen[None]).min(axis=1) > 0.5]
    if not len(new):
        return np.asarray(new)
    corners = replace(view, teeth=new).project(CORNER_U, CORNER_V)
    known = view.project(CORNER_U, CORNER_V)
    area, usual = areas(corners), areas(known)
    sign = np.sign(median(usual))
    middle = corners.mean(axis=1)
    inside = ((middle > 0) & (middle < np.array(size))).all(axis=1)
    return np.asarray(new[inside & (area * sign > 0.2 * median(np.abs(usual)))])


def corner_moves(view: GearView, edges: Sequence[Edges]) -> Floats:
    """How far each tooth's corners lie from the rigid gear's, judged by its own edges; (teeth, 4, 2) pixels.

    Held toward none, since a rigid gear is nearly always right; edges that ask for far more are doubted.
    """
    model = view.project(EDGE_U, _SEEN_V)
    lengths = np.linalg.norm(
        np.diff(view.project(np.array([0.0, 1.0]), np.array([0.5, 0.5])), axis=1), axis=(1, 2)
    )
    share = corner_shares(EDGE_U, EDGE_V)
    moves = []
    for k, edge in enumerate(edges):
        design = (share[:, :, None] * edge.normals[:, None, :]).reshape(len(share), 8)
        wanted = np.sum((edge.places - model[k]) * edge.normals, axis=1)
        held = np.eye(8) / (OWN_SHAPE * lengths[k]) ** 2
        weight = np.ones(len(wanted))
        for _ in range(4):
            solved = np.linalg.solve(
                design.T @ (design * weight[:, None]) + held, design.T @ (wanted * weight)
            )
            weight = 1 / np.maximum(1, np.abs(design @ solved - wanted) / LIMIT)
        moves.append(solved.reshape(4, 2))
    return np.stack(moves)


def map_doubt(edges: Sequence[Edges], length_px: float, height_px: float) -> tuple[float, float]:
    """Standard uncertainty of u and v at the middle from the map, the same way for all teeth: more where
    edges are hidden, by grease for one, so that the rigid gear alone carries them, and on small flanks."""
    seen = np.stack([np.linalg.norm(each.normals, axis=1) > 0 for each in edges]).mean(axis=0)
    root, top = seen[: len(ALONG)].mean(), seen[len(ALONG) : 2 * len(ALONG)].mean()
    toe, heel = seen[2 * len(ALONG) : -len(UP)].mean(), seen[-len(UP) :].mean()
    ends = UNSEEN_END * np.hypot(1 - toe, 1 - heel)
    sides = UNSEEN_ROOT * np.hypot(1 - root, 1 - top)
    u = np.sqrt(MAP_SIGMA[0] ** 2 + ends**2 + (PLACED_PX / max(length_px, 1.0)) ** 2)
    v = np.sqrt(MAP_SIGMA[1] ** 2 + sides**2 + (PLACED_PX / max(height_px, 1.0)) ** 2)
    return float(u), float(v)


def flanks_of(
    view: GearView, confidence: Floats, name: FlankName, moves: Floats, edges: Sequence[Edges]
) -> list[Flank]:
    """The flanks of the view's teeth, as the finder's own; moves: see `corner_moves`; edges: as seen."""
    flanks = flanks_of_view(view, moves)
    sizes = median([(flank.length_px, flank.height_px) for flank in flanks], axis=0)
    doubt = map_doubt(edges, float(sizes[0]), float(sizes[1]))
    return [
        replace(
            flank,
            name=name,
            confidence=float(sure),
            source="finder",
            length_sigma=doubt[0],
            height_sigma=doubt[1],
        )
        for flank, sure in zip(flanks, confidence, strict=True)
    ]
