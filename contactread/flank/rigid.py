"""The teeth that a finder sees, held together as one rigid ring gear under one camera."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from contactread.axle import FlankName
from contactread.flank.corners import flanks_of_view, tooth_orders
from contactread.flank.flank import Flank, FlankMap
from contactread.flank.gear_fit import CORNER_U, CORNER_V, Marks, Prior, fit_views, numbered, sharpen
from contactread.flank.gear_view import Floats, GearView

_U, _V = (a.ravel() for a in np.meshgrid([0.04, 0.27, 0.5, 0.73, 0.96], [0.06, 0.5, 0.94]))
# Errors of neighbouring cells are alike: so many count as one.
ALIKE = 12.0
LEAST_SIGMA = 0.012  # of the flank's length
GRAIN_SHARE = 0.4
OUTLIER = 3.0
FIT_TEETH = 10  # the gear is fitted to so many of the best seen teeth


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


def marks_of(teeth: Sequence[Seen]) -> Marks:
    """Marks on a grid of each flank, each as sure as the points round it make it."""
    places, sigmas = [], []
    for tooth in teeth:
        at = tooth.map(_U, _V)
        points = FlankMap.basis(tooth.uv[:, 0], tooth.uv[:, 1], 3, 2)
        grid = FlankMap.basis(_U, _V, 3, 2)
        normal = points.T @ (points * tooth.weight[:, None]) / ALIKE + 1e-3 * np.eye(6)
        spread = np.einsum("pi,ij,pj->p", grid, np.linalg.inv(normal), grid)
        length = float(np.linalg.norm(np.diff(tooth.map(np.array([0.0, 1.0]), np.array([0.5, 0.5])), axis=0)))
        floor = (LEAST_SIGMA * length) ** 2 + (GRAIN_SHARE * tooth.grain) ** 2
        places.append(at)
        sigmas.append(np.sqrt(spread * max(tooth.error, 0.5) ** 2 + floor))
    return Marks(_U, _V, np.stack(places), np.minimum(np.stack(sigmas), 1e4))


@dataclass(frozen=True, eq=False)
class Rigid:
    """The gear that the teeth make. view: gear and camera, its teeth those asked for, in that order.
    misfit: (teeth,) RMS of each tooth's marks over their sigmas. cost: {flank: cost of the best view}."""

    view: GearView
    misfit: Floats
    costs: dict[FlankName, float]


def fit_rigid(teeth: Sequence[Seen], size: tuple[int, int], prior: Prior) -> Rigid | None:
    """One gear for all teeth; None where they make none. Teeth that don't fit are left out of the fit."""
    marks = marks_of(teeth)
    order = np.argsort(np.median(marks.sigma, axis=1))[:FIT_TEETH]
    order = np.sort(order)
    best = marks.of(order)
    corners = np.stack([teeth[i].map(CORNER_U, CORNER_V) for i in order])
    views = fit_views(best, tooth_orders(corners), size, prior)
    if not views:
        return None
    view = views[0]
    for _ in range(2):
        off = _misfit(view, best)
        fine = off < max(OUTLIER * float(np.median(off)), 1.5)
        if fine.all() or np.count_nonzero(fine) < 2:
            break
        best = best.of(fine)
        view = sharpen(replace(view, teeth=view.teeth[fine]), best, prior)
    costs = {v.flank: v.cost for v in views}
    view = numbered(view, marks)
    return Rigid(view, _misfit(view, marks), costs)


def refit_rigid(view: GearView, teeth: Sequence[Seen], prior: Prior) -> Rigid:
    """The same gear, fitted again to better marks on its teeth."""
    marks = marks_of(teeth)
    off = _misfit(view, marks)
    fine = off < max(OUTLIER * float(np.median(off)), 2.5)
    fitted = sharpen(replace(view, teeth=view.teeth[fine]), marks.of(fine), prior)
    view = replace(fitted, teeth=view.teeth)
    return Rigid(view, _misfit(view, marks), {})


def _misfit(view: GearView, marks: Marks) -> Floats:
    return np.asarray(np.sqrt(np.mean(np.sum(marks.misfit(view) ** 2, -1) / marks.sigma**2 / 2, axis=1)))


def neighbours(view: GearView, size: tuple[int, int], reach: int) -> NDArray[Any]:
    """Numbers of further teeth of the gear, up to `reach` beyond those seen, whose middle is in the picture
    and that turn the same face to the camera."""
    seen = view.teeth
    first = seen[0] % 1
    numbers = first + np.arange(np.floor(seen.min() - first) - reach, np.ceil(seen.max() - first) + reach + 1)
    new = numbers[np.abs(numbers[:, None] - seen[None]).min(axis=1) > 0.5]
    if not len(new):
        return new
    corners = replace(view, teeth=new).project(CORNER_U, CORNER_V)
    known = view.project(CORNER_U, CORNER_V)
    area, usual = _area(corners), _area(known)
    sign = np.sign(np.median(usual))
    middle = corners.mean(axis=1)
    inside = ((middle > 0) & (middle < np.array(size))).all(axis=1)
    return new[inside & (area * sign > 0.2 * np.median(np.abs(usual)))]


def _area(corners: Floats) -> Floats:
    x, y = corners[..., 0], corners[..., 1]
    return np.asarray((x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1)).sum(axis=1) / 2)


def flanks_of(view: GearView, confidence: Floats, name: FlankName) -> list[Flank]:
    """The flanks of the view's teeth, as the finder's own."""
    return [
        replace(flank, name=name, confidence=float(sure), source="finder")
        for flank, sure in zip(flanks_of_view(view), confidence, strict=True)
    ]
