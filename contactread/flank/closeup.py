"""A closer look at flanks already found: where exactly each lies, and where its contact patch is.

A second small network sees each flank flattened, with its surroundings, beside the mean of all painted
flanks of the photo, so that what the teeth share counts as pattern and what one has alone as paint.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.flank.flank import Flank, FlankMap
from contactread.flank.rigid import EDGE_U, EDGE_V, Edges, Seen

MODEL = Path(__file__).with_name("closeup.onnx")
ROWS, COLUMNS = 64, 128
U_RANGE, V_RANGE = (-0.08, 1.08), (-0.3, 1.3)
SHIFT = 0.1
LEAST_SEEN = 60  # pixels of every other row and column
U_REACH, V_REACH = 0.075, 0.28  # how far from where it is expected an edge is looked for
EDGE_SHARE, ROOT_SHARE = 0.008, 0.03  # of the length: how steady edges are; the root's fillet is soft
LENGTH_PX = 200  # length to which the flanks are reduced before they are flattened


@dataclass(frozen=True, eq=False)
class CloseUp:
    """What the close-up network says of one flank; float32 arrays of shape (64, 128).

    u, v: where on the flank each pixel of the flat truly lies. visible: chance that the flank is seen
    there. painted: chance that the tooth carries compound. contact: chance of lying in the patch. place:
    pixel of the photo, (64, 128, 2), where `map` puts it.
    """

    u: NDArray[np.float32]
    v: NDArray[np.float32]
    visible: NDArray[np.float32]
    painted: NDArray[np.float32]
    contact: NDArray[np.float32]
    place: NDArray[np.float64]
    map: FlankMap

    @property
    def painted_chance(self) -> float:
        """Chance that this tooth carries compound, over all that is seen of it."""
        weight = self.visible.sum()
        return float((self.painted * self.visible).sum() / weight) if weight > 1 else 0.0

    @property
    def contact_peak(self) -> float:
        """Chance of contact where it is surest, the topmost hundredth or two aside."""
        return float(np.percentile(self.contact * (self.visible > 0.5), 98))


@cache
def _network() -> Any:
    return cv2.dnn.readNetFromONNX(str(MODEL))


def _axis(low_high: tuple[float, float], count: int) -> NDArray[np.float64]:
    low, high = low_high
    return low + (np.arange(count) + 0.5) / count * (high - low)


def look_closely(pixels: NDArray[np.uint8], flanks: list[Flank], painted: list[float]) -> list[CloseUp]:
    """See each flank close up; `painted` is the chance, from farther off, that each carries compound.

    pixels: the photo, (height, width, 3). Returns one CloseUp for each flank, in order.
    """
    if not flanks:
        return []
    length = float(np.median([f.length_px for f in flanks]))
    scale = min(1.0, LENGTH_PX / max(length, 1.0))
    u, v = _axis(U_RANGE, COLUMNS), _axis(V_RANGE, ROWS)
    all_places = [flank.map.grid(u, v) for flank in flanks]
    # Only the part of the photo that the flanks lie in is reduced.
    size = np.array(pixels.shape[1::-1])
    low = np.clip(np.floor(np.min([p.min((0, 1)) for p in all_places], axis=0)).astype(int) - 2, 0, size - 2)
    high = np.clip(
        np.ceil(np.max([p.max((0, 1)) for p in all_places], axis=0)).astype(int) + 3, low + 2, size
    )
    part = pixels[low[1] : high[1], low[0] : high[0]]
    small = part if scale == 1.0 else cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    places, flats, framed = [], [], []
    for place in all_places:
        at = ((place - low + 0.5) * scale - 0.5).astype(np.float32)
        flats.append(cv2.remap(small, at[..., 0], at[..., 1], cv2.INTER_LINEAR).astype(np.float32) / 255)
        inside = (place >= -0.5).all(-1) & (place <= size - 0.5).all(-1)
        framed.append(inside.astype(np.float32))
        places.append(place)
    share = np.stack(framed) * np.maximum(np.round(painted), 0.02).astype(np.float32)[:, None, None]
    mean = np.einsum("trc,trck->rck", share, np.stack(flats)) / np.maximum(share.sum(0), 1e-3)[..., None]
    uu, vv = np.meshgrid(u.astype(np.float32), v.astype(np.float32))
    network = _network()
    result = []
    for flank, place, flat, frame in zip(flanks, places, flats, framed, strict=True):
        planes = [*np.moveaxis(flat, -1, 0), *np.moveaxis(mean, -1, 0), uu, vv, frame]
        network.setInput(np.stack(planes)[None].astype(np.float32))
        seen = network.forward()[0]
        visible, is_painted, contact = 1 / (1 + np.exp(-np.clip(seen[:3], -30, 30)))
        result.append(
            CloseUp(
                uu + SHIFT * seen[3],
                vv + SHIFT * seen[4],
                visible * frame,
                is_painted,
                contact,
                place,
                flank.map,
            )
        )
    return result


def seen_of(flank: Flank, closeup: CloseUp) -> Seen | None:
    """What the close-up saw of the flank, as points of known place; None where that is too little.

    The map is the flank's own, corrected by a smooth change held toward none where little is seen.
    """
    nu, nv = flank.map.coefficients.shape[:2]
    seen = (closeup.visible > 0.5)[::2, ::2]
    if np.count_nonzero(seen) < LEAST_SEEN:
        return None
    uv = np.stack((closeup.u[::2, ::2][seen], closeup.v[::2, ::2][seen]), 1).astype(float)
    place = closeup.place[::2, ::2][seen]
    weight = closeup.visible[::2, ::2][seen].astype(float)
    basis = FlankMap.basis(uv[:, 0], uv[:, 1], nu, nv)
    before = flank.map.coefficients.reshape(nu * nv, 2)
    error = place - basis @ before
    order = np.add.outer(np.arange(nu), np.arange(nv)).ravel()
    # Hold each term as strongly as that many pixels of evidence; higher terms harder.
    stiff = np.select([order <= 1, order == 2, order == 3], [4.0, 20.0, 80.0], 400.0)
    robust = weight
    for _ in range(3):
        normal = basis.T @ (basis * robust[:, None]) + np.diag(stiff)
        change = np.linalg.solve(normal, basis.T @ (error * robust[:, None]))
        left = np.linalg.norm(basis @ change - error, axis=1)
        robust = weight / np.maximum(1, left / (1.5 * np.median(left) + 1e-6))
    typical = float(np.sqrt(np.average(left**2, weights=robust)))
    return Seen(
        FlankMap((before + change).reshape(nu, nv, 2)),
        uv,
        place,
        robust,
        typical,
        flank.length_px / LENGTH_PX,
    )


def edges_of(flank: Flank, closeup: CloseUp) -> Edges:
    """Where the flank's edges are seen: where it stops being visible, if that is an edge and nothing in
    front of it (the network's own u and v tell)."""
    u, v = _axis(U_RANGE, COLUMNS), _axis(V_RANGE, ROWS)
    size = flank.length_px
    uv, sigma = np.stack((EDGE_U, EDGE_V), 1), np.full(len(EDGE_U), np.inf)
    for k, (at_u, at_v) in enumerate(uv.copy()):
        lengthwise = 0 < at_u < 1
        if lengthwise:  # a point of the root or top edge: look up the column
            near = int(np.argmin(np.abs(u - at_u)))
            visible, own, axis = closeup.visible[:, near - 2 : near + 3].mean(1), closeup.v[:, near], v
            goal, reach = at_v, V_REACH
        else:
            near = int(np.argmin(np.abs(v - at_v)))
            visible, own, axis = closeup.visible[near - 2 : near + 3].mean(0), closeup.u[near], u
            goal, reach = at_u, U_REACH
        place, steep = _crossing(visible, axis, goal, reach)
        if place is None:
            continue
        inside = int(np.argmin(np.abs(axis - (place + (0.04 if goal == 0 else -0.04)))))
        if abs(own[inside] - goal) > reach:
            continue
        uv[k, 1 if lengthwise else 0] = place
        share = ROOT_SHARE if lengthwise and goal == 0 else EDGE_SHARE
        sigma[k] = (share * size + 0.3) * (1 + 0.15 / steep)
    places = flank.map(uv[:, 0], uv[:, 1])
    step = 1e-3
    edge_u = np.where((EDGE_V == 0) | (EDGE_V == 1), step, 0.0)
    edge_v = np.where(edge_u > 0, 0.0, step)
    tangent = flank.map(uv[:, 0] + edge_u, uv[:, 1] + edge_v) - flank.map(
        uv[:, 0] - edge_u, uv[:, 1] - edge_v
    )
    normal = np.stack((-tangent[:, 1], tangent[:, 0]), 1)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    return Edges(places, normal / sigma[:, None])


def _crossing(
    visible: NDArray[Any], axis: NDArray[np.float64], goal: float, reach: float
) -> tuple[float | None, float]:
    """Where the chance of being visible falls through a half, nearest the goal, going outward; and how
    steeply it falls there (per pixel of the flat). None where it doesn't within reach."""
    outward = 1 if goal == 1 else -1
    chance = visible[::outward]
    along = axis[::outward]
    falls = np.flatnonzero((chance[:-1] > 0.5) & (chance[1:] <= 0.5))
    if not len(falls):
        return None, 0.0
    share = (chance[falls] - 0.5) / (chance[falls] - chance[falls + 1])
    places = along[falls] + share * (along[falls + 1] - along[falls])
    best = int(np.argmin(np.abs(places - goal)))
    if abs(places[best] - goal) > reach:
        return None, 0.0
    return float(places[best]), float(chance[falls[best]] - chance[falls[best] + 1])


def contact_on(flank: Flank, closeup: CloseUp) -> NDArray[np.float32]:
    """The close-up's chance of contact over this flank, (24, 72), root in row 0, toe in column 0.

    The flank's map may have been improved since the close-up was made.
    """
    u, v = np.linspace(0, 1, 9), np.linspace(0, 1, 5)
    goal = flank.map.grid(u, v).reshape(-1, 2)
    uv = np.stack([a.ravel() for a in np.meshgrid(u, v)], 1)
    for _ in range(3):
        uv = np.clip(uv + _solve(closeup.map, uv, goal), -0.5, 1.5)
    (u0, u1), (v0, v1) = U_RANGE, V_RANGE
    x = (uv[:, 0] - u0) / (u1 - u0) * COLUMNS - 0.5
    y = (uv[:, 1] - v0) / (v1 - v0) * ROWS - 0.5
    # From the corners' grid to the cells' middles.
    at = np.stack((x, y), 1).reshape(5, 9, 2).astype(np.float32)
    cells_x, cells_y = np.meshgrid((np.arange(72) + 0.5) / 72 * 8, (np.arange(24) + 0.5) / 24 * 4)
    fine = cv2.remap(at, cells_x.astype(np.float32), cells_y.astype(np.float32), cv2.INTER_LINEAR)
    soft = cv2.blur(closeup.contact, (3, 3))
    return np.asarray(
        cv2.remap(soft, fine[..., 0], fine[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE),
        np.float32,
    )


def _solve(one: FlankMap, uv: NDArray[np.float64], goal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Newton's step of (u, v), (n, 2), toward the places (n, 2) in pixels."""
    step = 1e-3
    u, v = uv.T
    along = (one(u + step, v) - one(u - step, v)) / (2 * step)
    up = (one(u, v + step) - one(u, v - step)) / (2 * step)
    return np.asarray(np.linalg.solve(np.stack((along, up), -1), (goal - one(u, v))[..., None])[..., 0])
