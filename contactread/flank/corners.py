"""From four marked corners of several teeth to the true curved flanks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.axle import Axle, FlankName
from contactread.errors import CornersError
from contactread.flank.bow_doubt import height_sigma
from contactread.flank.corners_file import read_corners
from contactread.flank.flank import Flank, FlankMap
from contactread.flank.gear_fit import CORNER_U, CORNER_V, Marks, Prior, fit_views, numbered, sharpen
from contactread.flank.gear_view import Gear, GearView
from contactread.photo.photo import Photo

# A careful hand marks a corner to about 1.5 pixels, or 0.4 % of the flank's length on a large picture.
MARK_PX, MARK_SHARE = 1.5, 0.004
STEADIEST_PX = 0.3
_ONE_TOOTH_SURE = 0.7  # four corners alone leave two ways to hold the tooth
_CLEAR_AREA = 0.3  # of the largest tooth's area
# Marks that miss the best rigid gear by more than this share of the flank's length are wrongly named.
WORST_MISFIT = 0.12
NU, NV = 6, 3  # terms of a flank's map: bow along the length, slight bow up the height


def flanks_from_corners(
    photo: Photo,
    corners: Path | str | Mapping[str, Any],
    axle: Axle | None = None,
    name: FlankName | None = None,
) -> list[Flank]:
    """The curved flanks of the marked teeth, in the order of the file, in pixels of `photo.pixels`.

    corners: a corners file, or its content, in pixels of the whole picture. Which side of the tooth is
    seen follows from the way the teeth curve, unless `name` or the file says it. Raises CornersError as
    `read_corners` does, and corners-disagree where the marks can't belong to one ring gear.
    """
    marked = read_corners(corners, photo.size_px)
    points = (marked.corners + 0.5) / photo.reduced - 0.5
    return flanks_from_points(points, (photo.width, photo.height), axle, name or marked.flank)


def flanks_from_points(
    corners: Floats, size: tuple[int, int], axle: Axle | None = None, name: FlankName | None = None
) -> list[Flank]:
    """As `flanks_from_corners`, from an array (teeth, 4, 2) of pixels in the order of CORNER_UV."""
    length = _lengths(corners)
    view, sure, doubt = _best_view(corners, length, size, Prior.of(axle), name)
    misfit = corners - view.project(CORNER_U, CORNER_V)
    off = np.sqrt(2 * np.mean(misfit**2, axis=(1, 2)))
    if (off > WORST_MISFIT * length).any():
        worst = int(np.argmax(off / length)) + 1
        raise _disagree(f"The marked corners don't belong to one ring gear; tooth {worst} fits worst.")
    # The fitted gear averages an unsteady hand out of the marks. Where they miss it by more than a hand
    # explains, the gear isn't the expected one and the marks count instead.
    sigma = _mark_sigma(length)
    trust = off**2 / (off**2 + (4 * sigma) ** 2)
    moves = trust[:, None, None] * misfit
    return [
        replace(
            flank,
            name=name or view.flank,
            confidence=float(np.exp(-((off[k] / length[k] / 0.06) ** 2))),
            residual=float(off[k] / length[k]),
            name_confidence=1.0 if name else sure,
            height_sigma=float(doubt[k]),
        )
        for k, flank in enumerate(flanks_of_view(view, moves))
    ]


def flanks_of_view(view: GearView, moves: Floats | None = None, hidden: bool = True) -> list[Flank]:
    """The flanks of a view's teeth. moves: (teeth, 4, 2) pixels by which to shift each one's corners. hidden:
    with what stands in front of them.
    """
    points = _nodes()
    shape = view.project(points[:, 0], points[:, 1])
    if moves is not None:
        shape = shape + corner_shares(*points.T) @ moves
    coefficients = (_solver() @ shape).reshape(len(shape), NU, NV, 2)
    return [
        Flank(
            map=FlankMap(coefficients[k]),
            name=view.flank,
            confidence=1.0,
            residual=0.0,
            source="corners",
            aspect=view.aspect,
            covered_by=faces,
            turn_rad=float(view.teeth[k] * view.number(Gear.TOOTH_PITCH)),
        )
        for k, faces in enumerate(view.neighbour_in_front() if hidden else [()] * len(shape))
    ]


def tooth_orders(corners: Floats) -> list[Floats]:
    """Possible numbers of the teeth along the gear: neighbours without gaps, and with gaps as seen."""
    centres = corners.mean(axis=1)
    chain = _chain(centres)
    steps = np.linalg.norm(np.diff(centres[chain], axis=0), axis=1)
    counts = [np.ones(len(steps))]
    if len(steps) > 1:
        # A tooth left out doubles a step, while perspective changes the steps only gradually.
        near = np.array([steps[max(0, i - 1) : i + 2].min() for i in range(len(steps))])
        counts.append(np.maximum(1, np.round(steps / near)))
    elif len(steps) == 1:
        counts += [np.array([2.0]), np.array([3.0])]
    orders: list[Floats] = []
    for count in counts:
        number = np.empty(len(chain))
        number[chain] = np.concatenate([[0.0], np.cumsum(count)])
        if not any(np.array_equal(number, other) for other in orders):
            orders.append(number)
    return orders


def _best_view(
    corners: Floats, length: Floats, size: tuple[int, int], prior: Prior, name: FlankName | None
) -> tuple[GearView, float, Floats]:
    """The best view (of the named side, if given), how sure its side is, 0..1, and `height_sigma`."""
    sigma = _mark_sigma(length)
    clear = _clearly_seen(corners)
    marks = Marks.at_corners(corners, sigma)
    views = fit_views(marks.of(clear), tooth_orders(corners[clear]), size, prior)
    if not views:
        raise _disagree("No ring gear can be seen with such corners.")
    view = next((v for v in views if v.flank == name), views[0])
    rival = min((v.cost for v in views if v.flank != view.flank), default=view.cost + 20)
    sure = 1 / (1 + float(np.exp(np.clip(view.cost - rival, -20, 20))))
    if len(corners) == 1 and len(prior.advances) > 1:
        sure = min(sure, _ONE_TOOTH_SURE)
    if not clear.all():
        view = sharpen(numbered(view, marks), marks, prior)
    # Steadier marks than expected deserve more weight against what gears usually are.
    misfit = marks.misfit(view)
    free = max(1.0, misfit.size - len(view.parameters))
    steady = np.sqrt(np.sum((misfit / sigma[:, None, None]) ** 2) / free)
    if steady < 0.7:
        marks = Marks.at_corners(corners, np.maximum(sigma * steady, STEADIEST_PX))
        view = sharpen(view, marks, prior)
    return view, sure, height_sigma(view, marks, prior)


def _clearly_seen(corners: Floats) -> NDArray[np.bool_]:
    """Teeth large enough in the picture to say how they are numbered; slivers are numbered by the fit."""
    area = np.abs(areas(corners))
    return np.asarray(area >= _CLEAR_AREA * area.max())


def areas(corners: Floats) -> Floats:
    """Area of each four-sided figure (teeth, 4, 2) in square pixels, (teeth,): above 0 where its corners go
    round clockwise in the picture."""
    x, y = corners[..., 0], corners[..., 1]
    return np.asarray((x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1)).sum(axis=1) / 2)


def _chain(centres: Floats) -> list[int]:
    """The teeth in their order along the gear: the longest path through the shortest links (Prim)."""
    count = len(centres)
    if count == 1:
        return [0]
    apart = np.linalg.norm(centres[:, None] - centres[None], axis=2)
    links: list[list[int]] = [[] for _ in range(count)]
    inside, nearest, gap = {0}, np.zeros(count, int), apart[0].copy()
    while len(inside) < count:
        new = min((i for i in range(count) if i not in inside), key=lambda i: gap[i])
        links[new].append(int(nearest[new]))
        links[nearest[new]].append(new)
        inside.add(new)
        closer = apart[new] < gap
        nearest[closer], gap[closer] = new, apart[new][closer]

    def walk(start: int) -> list[int]:
        """Teeth by their distance along the links from `start`."""
        far, open_ = {start: 0.0}, [start]
        for at in open_:
            for to in links[at]:
                if to not in far:
                    far[to] = far[at] + apart[at, to]
                    open_.append(to)
        return sorted(far, key=lambda i: far[i])

    return walk(walk(0)[-1])


def _lengths(corners: Floats) -> Floats:
    """Straight length of each flank in the picture, (teeth,)."""
    root = np.linalg.norm(corners[:, 3] - corners[:, 0], axis=1)
    top = np.linalg.norm(corners[:, 2] - corners[:, 1], axis=1)
    return np.asarray(np.maximum((root + top) / 2, 1.0))


def _mark_sigma(length: Floats) -> Floats:
    return np.asarray(np.maximum(MARK_PX, MARK_SHARE * length))


def _disagree(message: str) -> CornersError:
    return CornersError(
        "corners-disagree",
        message,
        "Toe is the inner end of the tooth and heel the outer, root the bottom and top the tip. "
        "Check the names of the corners, and mark all teeth on the same side.",
    )


@cache
def _nodes() -> Floats:
    u, v = np.meshgrid(np.linspace(0, 1, 11), np.linspace(0, 1, 5))
    return np.stack([u.ravel(), v.ravel()], axis=1)


def corner_shares(u: Floats, v: Floats) -> Floats:
    """Bilinear share of each corner, in the order of CORNER_UV, at points (n,): (n, 4)."""
    return np.stack([(1 - u) * (1 - v), (1 - u) * v, u * v, u * (1 - v)], axis=1)


@cache
def _solver() -> Floats:
    """Least squares from the nodes to the terms of a FlankMap, (terms, nodes)."""
    u, v = _nodes().T
    return np.asarray(np.linalg.pinv(FlankMap.basis(u, v, NU, NV)))
