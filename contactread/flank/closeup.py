"""A closer look at flanks already found: where exactly each lies, and where its contact patch is.

A second small network sees each flank flattened, with its surroundings, beside the mean of all painted
flanks of the photo, so that what the teeth share counts as pattern and what one has alone as paint.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, Singles, median
from contactread.flank.flank import Flank, FlankMap
from contactread.flank.flatten import NO_MAP, between
from contactread.flank.map_fit import fit_maps
from contactread.flank.networks import answer, chances
from contactread.flank.rigid import ALONG, EDGE_U, EDGE_V, UP, Edges, Seen
from contactread.photo.shrink import shrink

MODEL = "closeup.onnx"
ROWS, COLUMNS = 64, 128
U_RANGE, V_RANGE = (-0.08, 1.08), (-0.3, 1.3)
SHIFT = 0.1
_POINTS = ((ROWS, 8), (COLUMNS, 32))  # so many of the rows and columns are asked where a flank lies
_ROUNDS = 3  # of the robust fit
EVIDENCE = 8.0  # that each of them is, in cells of the finder's first look
LEAST_SEEN = 8  # of them
U_REACH, V_REACH = 0.075, 0.28  # how far from where it is expected an edge is looked for
EDGE_SHARE, ROOT_SHARE = 0.008, 0.03  # of the length: how steady edges are; the root's fillet is soft
_CORNERS_U, _CORNERS_V = np.linspace(0, 1, 9), np.linspace(0, 1, 5)
_CELLS = between(24, 72, (len(_CORNERS_V), len(_CORNERS_U)))
# The part of the photo to be shrunk is a whole number of these long and high, to be halved evenly.
_WHOLE = 8  # pixels
LENGTH_PX = 200  # length to which the flanks are reduced before they are flattened


@dataclass(frozen=True, eq=False)
class CloseUp:
    """What the close-up network says of one flank; float32 arrays of shape (64, 128).

    u, v: where on the flank each pixel of the flat truly lies. visible: chance that the flank is seen
    there. painted: chance that the tooth carries compound. unrolled: chance that, if it does, it was never
    rolled. contact: chance of lying in the patch. place: pixel of the photo, (64, 128, 2), where `map` puts
    it.
    """

    u: Singles
    v: Singles
    visible: Singles
    painted: Singles
    unrolled: Singles
    contact: Singles
    place: Floats
    map: FlankMap

    @property
    def painted_chance(self) -> float:
        """Chance that this tooth carries compound, over all that is seen of it."""
        weight = self.visible.sum()
        return float((self.painted * self.visible).sum() / weight) if weight > 1 else 0.0

    @property
    def rolled_chance(self) -> float:
        """Chance that this tooth was rolled, if it carries compound, over all that is seen of it."""
        weight = self.visible.sum()
        return 1 - float((self.unrolled * self.visible).sum() / weight) if weight > 1 else 0.0

    @property
    def contact_peak(self) -> float:
        """Chance of contact where it is surest, the topmost hundredth or two aside."""
        chance = (self.contact * (self.visible > 0.5)).ravel()
        place = int(0.98 * chance.size)
        return float(np.partition(chance, place)[place])


def _axis(low_high: tuple[float, float], count: int) -> Floats:
    low, high = low_high
    return low + (np.arange(count) + 0.5) / count * (high - low)


def look_closely(pixels: NDArray[np.uint8], flanks: list[Flank], rolled: list[float]) -> list[CloseUp]:
    """See each flank close up; `rolled` is the chance, from farther off, that each was painted and rolled.

    pixels: the photo, (height, width, 3). Returns one CloseUp for each flank, in order.
    """
    if not flanks:
        return []
    scale = min(1.0, LENGTH_PX / max(float(median([f.length_px for f in flanks])), 1.0))
    u, v = _axis(U_RANGE, COLUMNS), _axis(V_RANGE, ROWS)
    places = [flank.map.grid(u, v) for flank in flanks]
    flats, framed = _flats(pixels, places, scale)
    share = np.stack(framed) * np.maximum(np.round(rolled), 0.02).astype(np.float32)[:, None, None]
    every, weight = np.stack(flats), np.maximum(share.sum(0), 1e-3)[..., None]
    mean = np.einsum("trc,trck->rck", share, every) / weight
    spread = np.sqrt(np.einsum("trc,trck->rck", share, (every - mean) ** 2) / weight)
    uu, vv = np.meshgrid(u.astype(np.float32), v.astype(np.float32))
    planes = np.empty((len(flats), 12, ROWS, COLUMNS), np.float32)
    planes[:, :3] = np.moveaxis(every, -1, 1)
    planes[:, 3:6] = np.moveaxis(mean, -1, 0)
    planes[:, 6], planes[:, 7] = uu, vv
    planes[:, 8] = np.stack(framed)
    planes[:, 9:] = np.moveaxis(spread, -1, 0)
    seen = _unfolded(answer(MODEL, planes))
    told = chances(seen[:, [0, 1, 2, 5]])
    return [
        CloseUp(
            uu + SHIFT * shift[0],
            vv + SHIFT * shift[1],
            visible * frame,
            is_painted,
            unrolled,
            contact,
            place,
            flank.map,
        )
        for flank, place, frame, (visible, is_painted, contact, unrolled), shift in zip(
            flanks, places, framed, told, seen[:, 3:5], strict=True
        )
    ]


def _unfolded(told: Singles) -> Singles:
    """The answer pixel by pixel, (teeth, 6, 64, 128); the network gives every two by two together."""
    teeth, _, rows, columns = told.shape
    pairs = told.reshape(teeth, -1, 2, 2, rows, columns).transpose(0, 1, 4, 2, 5, 3)
    return pairs.reshape(teeth, -1, 2 * rows, 2 * columns)


def _flats(
    pixels: NDArray[np.uint8], places: list[Floats], scale: float
) -> tuple[list[Singles], list[Singles]]:
    """The photo, reduced by scale, at places (rows, columns, 2) in its pixels, 0..1; 1 inside it, else 0."""
    # Only the part of the photo that the flanks lie in is reduced.
    size = np.array(pixels.shape[1::-1])
    some = np.stack([place[:: (ROWS - 1) // 7] for place in places]).reshape(-1, 2)
    low = np.clip(np.floor(some.min(axis=0)).astype(int) - 4, 0, size - 2)
    high = np.clip(np.ceil(some.max(axis=0)).astype(int) + 5, low + 2, size)
    span = -(-(high - low) // _WHOLE) * _WHOLE
    high = np.minimum(low + span, size)
    low = np.maximum(high - span, 0)
    width, height = np.maximum(1, np.round((high - low) * scale).astype(int))
    small = shrink(pixels[low[1] : high[1], low[0] : high[0]], int(width), int(height))
    scales = np.array([width, height]) / (high - low)
    first, last = (tuple(((end - low) * scales - 0.5).tolist()) for end in (np.zeros(2), size))
    flats, framed = [], []
    for place in places:
        at = (place * scales + ((0.5 - low) * scales - 0.5)).astype(np.float32)
        flat, inside = cv2.remap(small, at, NO_MAP, cv2.INTER_LINEAR), cv2.inRange(at, first, last)
        flats.append(np.asarray(flat, np.float32) / np.float32(255))
        framed.append(np.asarray(inside, np.float32) / np.float32(255))
    return flats, framed


def seen_of(flanks: list[Flank], closeups: list[CloseUp]) -> list[Seen | None]:
    """What the close-ups saw of the flanks, as points of known place; None where that is too little.

    Each map is the flank's own, corrected by a smooth change held toward none where little is seen.
    """
    nu, nv = flanks[0].map.coefficients.shape[:2]
    rows, columns = (slice(count // points // 2, None, count // points) for count, points in _POINTS)

    def points(parts: list[NDArray[Any]]) -> Floats:
        return np.stack([part[rows, columns] for part in parts]).astype(float).reshape(len(parts), -1)

    u, v, visible = (
        points(list(parts)) for parts in zip(*((c.u, c.v, c.visible) for c in closeups), strict=True)
    )
    place = np.stack([c.place[rows, columns].reshape(-1, 2) for c in closeups])
    weight = np.where(visible > 0.5, EVIDENCE * visible, 0)
    basis = FlankMap.basis(u.ravel(), v.ravel(), nu, nv).reshape(*u.shape, nu * nv)
    before = np.stack([flank.map.coefficients.reshape(nu * nv, 2) for flank in flanks])
    change = fit_maps(basis, place - basis @ before, weight, _stiffness(nu, nv), None, _ROUNDS)
    maps = [FlankMap(after.reshape(nu, nv, 2)) for after in before + change.coefficients]
    uv = np.stack((u, v), -1)
    return [
        Seen(
            maps[k], uv[k], place[k], change.weight[k], float(change.residual[k]), flank.length_px / LENGTH_PX
        )
        if np.count_nonzero(weight[k]) >= LEAST_SEEN
        else None
        for k, flank in enumerate(flanks)
    ]


@cache
def _stiffness(nu: int, nv: int) -> Floats:
    """How strongly each term of a map's change is held to none, in units of evidence; higher terms harder."""
    order = np.add.outer(np.arange(nu), np.arange(nv)).ravel()
    return np.select([order <= 1, order == 2, order == 3], [4.0, 20.0, 80.0], 400.0)


def edges_of(flanks: list[Flank], closeups: list[CloseUp]) -> list[Edges]:
    """Where the flanks' edges are seen: where they stop being visible, if that is an edge and nothing in
    front of it (the network's own u and v tell)."""
    u, v = _axis(U_RANGE, COLUMNS), _axis(V_RANGE, ROWS)
    columns, rows = _band(u, ALONG), _band(v, UP)
    seen = np.stack([closeup.visible for closeup in closeups])
    upward = np.moveaxis(seen[:, :, columns].mean(axis=-1), 1, -1)  # (flanks, places along, rows)
    own = np.stack([closeup.v[:, columns[:, 2]].T for closeup in closeups])
    # The axes are even about the middle: the root turned over is another top, and the toe another heel.
    root, root_steep = _last_seen(upward[..., ::-1], 1 - own[..., ::-1], v, V_REACH)
    top, top_steep = _last_seen(upward, own, v, V_REACH)
    outward = seen[:, rows].mean(axis=2)  # (flanks, places up, columns)
    own = np.stack([closeup.u[rows[:, 2]] for closeup in closeups])
    toe, toe_steep = _last_seen(outward[..., ::-1], 1 - own[..., ::-1], u, U_REACH)
    heel, heel_steep = _last_seen(outward, own, u, U_REACH)
    steep = np.concatenate([root_steep, top_steep, toe_steep, heel_steep], axis=1)
    at = np.tile(np.stack([EDGE_U, EDGE_V]), (len(flanks), 1, 1))
    at[:, 1, : 2 * len(ALONG)] = np.concatenate([1 - root, top], axis=1)
    at[:, 0, 2 * len(ALONG) :] = np.concatenate([1 - toe, heel], axis=1)
    share = np.repeat([ROOT_SHARE, EDGE_SHARE], [len(ALONG), len(EDGE_U) - len(ALONG)])
    length = np.array([flank.length_px for flank in flanks])
    sigma = (share * length[:, None] + 0.3) * (1 + 0.15 / np.maximum(steep, 1e-9))
    step = 1e-3 * np.stack([(EDGE_V == 0) | (EDGE_V == 1), (EDGE_U == 0) | (EDGE_U == 1)])
    found = []
    for flank, (at_u, at_v), sure in zip(flanks, at, np.where(steep > 0, 1 / sigma, 0), strict=True):
        before, places, after = flank.map(
            np.stack([at_u - step[0], at_u, at_u + step[0]]), np.stack([at_v - step[1], at_v, at_v + step[1]])
        )
        x, y = (after - before).T
        normals = np.stack((-y, x), 1) / np.maximum(np.hypot(x, y), 1e-9)[:, None]
        found.append(Edges(places, normals * sure[:, None]))
    return found


def _band(axis: Floats, places: Floats) -> NDArray[np.int64]:
    """Indices of the pixels nearest to places on an axis, and of two on either side, (places, 5)."""
    nearest = np.abs(axis - places[:, None]).argmin(axis=1)
    return np.asarray(nearest[:, None] + np.arange(-2, 3))


def _last_seen(visible: Singles, own: Singles, axis: Floats, reach: float) -> tuple[Floats, Floats]:
    """Where, on each of some lines (..., count) toward an edge at 1, the chance of being visible falls
    through a half, and how steeply, per pixel; 1 and zero where not within reach.

    own: the network's own coordinate along the line, which must agree just inside.
    """

    def taken(values: NDArray[Any], index: NDArray[np.int64]) -> NDArray[Any]:
        return np.take_along_axis(values, index[..., None], -1)[..., 0]

    ahead, beyond = visible[..., :-1], visible[..., 1:]
    falls = (ahead > 0.5) & (beyond <= 0.5)
    drop = np.where(falls, ahead - beyond, 1)
    places = axis[:-1] + (ahead - 0.5) / drop * (axis[1] - axis[0])
    off = np.where(falls, np.abs(places - 1), np.inf)
    best = off.argmin(axis=-1)
    place = np.where(taken(falls, best), taken(places, best), 1)
    inside = np.rint((place - 0.04 - axis[0]) / (axis[1] - axis[0])).astype(int)
    fits = (taken(off, best) <= reach) & (np.abs(taken(own, inside) - 1) <= reach)
    return np.where(fits, place, 1), np.where(fits, taken(drop, best), 0)


def contact_on(flank: Flank, closeup: CloseUp) -> Singles:
    """The close-up's chance of contact over this flank, (24, 72), root in row 0, toe in column 0.

    The flank's map may have been improved since the close-up was made.
    """
    goal = flank.map.grid(_CORNERS_U, _CORNERS_V).reshape(-1, 2)
    uv = np.stack([a.ravel() for a in np.meshgrid(_CORNERS_U, _CORNERS_V)], 1)
    inverse = np.linalg.inv(slopes(closeup.map, uv))
    for _ in range(2):
        uv = uv + (inverse @ (goal - closeup.map(*uv.T))[..., None])[..., 0]
    low, high = np.transpose([U_RANGE, V_RANGE])
    at = (np.clip(uv, -0.5, 1.5) - low) / (high - low) * (COLUMNS, ROWS) - 0.5
    at = at.reshape(len(_CORNERS_V), len(_CORNERS_U), 2).astype(np.float32)
    fine = cv2.remap(at, *_CELLS, cv2.INTER_LINEAR)
    soft = cv2.blur(closeup.contact, (3, 3))
    return np.asarray(
        cv2.remap(soft, fine, NO_MAP, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32
    )


def slopes(one: FlankMap, uv: Floats) -> Floats:
    """Pixels per unit of u and of v at places (n, 2): (n, 2, 2), the last axis u, v."""
    step = 1e-3
    u, v = uv.T
    along, back, up, down = one(np.stack([u + step, u - step, u, u]), np.stack([v, v, v + step, v - step]))
    return np.stack((along - back, up - down), -1) / (2 * step)
