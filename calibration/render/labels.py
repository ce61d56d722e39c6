"""Labels and truth from what each pixel's ray meets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration.render.camera import Camera
from calibration.render.dressed_gear import FLANKS, DressedGear, flank_v
from calibration.render.gear_shape import flank_points
from calibration.render.scene import SHAPES, Hits, Stage
from contactread.axle import FlankName
from contactread.flank.flank import CORNER_UV

FLANK_BITS, PAINTED_BIT, CONTACT_BIT, GEAR_BIT, UNROLLED_BIT = 3, 4, 8, 16, 32


@dataclass(frozen=True, eq=False)
class Labels:
    """Per pixel: flank (0 none, 1 convex, 2 concave), tooth (-1 none), u, v, painted, contact, gear;
    unrolled: painted and never rolled."""

    flank: NDArray[np.uint8]
    tooth: NDArray[np.int64]
    u: NDArray[np.float64]
    v: NDArray[np.float64]
    painted: NDArray[np.bool_]
    contact: NDArray[np.bool_]
    gear: NDArray[np.bool_]
    unrolled: NDArray[np.bool_]


def labels_of(hits: Hits, dressed: DressedGear | None) -> Labels:
    """Labels (rows, columns) of what `Stage.hits` found; all empty without a gear."""
    size = hits.shape.shape
    flank = np.zeros(size, np.uint8)
    tooth = np.full(size, -1, np.int64)
    u, v = np.zeros(size), np.zeros(size)
    painted, contact, unrolled = np.zeros(size, bool), np.zeros(size, bool), np.zeros(size, bool)
    gear = np.zeros(size, bool)
    if dressed is None:
        return Labels(flank, tooth, u, v, painted, contact, gear, unrolled)
    gear = ((hits.shape >= 0) & (hits.shape < 4)) | (hits.shape == SHAPES.index("grease"))
    is_painted = np.zeros(dressed.gear.shape.teeth, bool)
    is_painted[list(dressed.painted)] = True
    rows, columns = dressed.tile
    for code, name in enumerate(FLANKS, 1):
        here = hits.shape == SHAPES.index(name)
        number = dressed.gear.tooth_of_face(name, hits.face[here])
        tile = dressed.tile_of_tooth[number]
        flank[here], tooth[here] = code, number
        u[here] = np.clip(hits.uv[here, 0], 0, 1)
        v[here] = np.clip(flank_v(hits.uv[here, 1], tile, rows), 0, 1)
        if name in dressed.layers:
            painted[here] = is_painted[number]
            unrolled[here] = is_painted[number] & dressed.unrolled_tiles[tile]
            row = tile * rows + np.minimum((v[here] * rows).astype(int), rows - 1)
            column = np.minimum((u[here] * columns).astype(int), columns - 1)
            contact[here] = dressed.layers[name].contact[row, column] & is_painted[number]
    rest = hits.shape == SHAPES.index("rest")
    tooth[rest] = dressed.gear.tooth_of_face("rest", hits.face[rest])
    return Labels(flank, tooth, u, v, painted, contact, gear, unrolled)


def encode(labels: Labels) -> NDArray[np.uint8]:
    """The lesson's label picture, uint8 (rows, columns, 4), in cv2's channel order.

    [0]: bits 0-1 flank, bit 2 painted, bit 3 contact, bit 4 ring gear, bit 5
    unrolled; [1]: tooth + 1; [2]: 255 u;
    [3]: 255 v.
    """
    out = np.zeros((*labels.flank.shape, 4), np.uint8)
    out[..., 0] = (
        labels.flank
        | (labels.painted * PAINTED_BIT)
        | (labels.contact * CONTACT_BIT)
        | (labels.gear * GEAR_BIT)
        | (labels.unrolled * UNROLLED_BIT)
    )
    out[..., 1] = labels.tooth + 1
    out[..., 2] = np.round(255 * labels.u)
    out[..., 3] = np.round(255 * labels.v)
    return out


def decode(picture: NDArray[np.uint8]) -> Labels:
    """Inverse of `encode` (u and v to 1/255)."""
    bits = picture[..., 0]
    return Labels(
        (bits & FLANK_BITS).astype(np.uint8),
        picture[..., 1].astype(np.int64) - 1,
        picture[..., 2] / 255.0,
        picture[..., 3] / 255.0,
        (bits & PAINTED_BIT) > 0,
        (bits & CONTACT_BIT) > 0,
        (bits & GEAR_BIT) > 0,
        (bits & UNROLLED_BIT) > 0,
    )


GRID_U, GRID_V = 33, 11


def visibility(
    stage: Stage, dressed: DressedGear, camera: Camera, flank: FlankName, teeth: list[int]
) -> dict[int, tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.bool_]]]:
    """Of each tooth's flank, on a grid (GRID_V, GRID_U): pixels (…, 2), unhidden, inside the picture."""
    u, v = np.meshgrid((np.arange(GRID_U) + 0.5) / GRID_U, (np.arange(GRID_V) + 0.5) / GRID_V)
    points = np.stack([flank_points(dressed.gear.shape, flank, u, v, t) for t in teeth])
    pixels = camera.project(points)
    safe = np.nan_to_num(pixels, nan=-1e4)
    hits = stage.hits_at(camera, safe)
    distance = np.linalg.norm(points - camera.origin, axis=-1)
    own = hits.shape == SHAPES.index(flank)
    number = np.where(own, dressed.gear.tooth_of_face(flank, hits.face), -1)
    seen = own & (number == np.array(teeth)[:, None, None]) & (np.abs(hits.distance - distance) < 1.0)
    inside = (
        (safe[..., 0] > -0.5)
        & (safe[..., 1] > -0.5)
        & (safe[..., 0] < camera.width - 0.5)
        & (safe[..., 1] < camera.height - 0.5)
    )
    return {t: (pixels[i], seen[i], inside[i]) for i, t in enumerate(teeth)}


def tooth_records(
    stage: Stage, dressed: DressedGear, camera: Camera, flank: FlankName, labels: Labels
) -> list[dict[str, Any]]:
    """Truth of every tooth whose flank shows in the picture, painted or not."""
    code = FLANKS.index(flank) + 1
    teeth = sorted(int(t) for t in np.unique(labels.tooth[labels.flank == code]))
    if not teeth:
        return []
    seen = visibility(stage, dressed, camera, flank, teeth)
    records = []
    edge = np.linspace(0, 1, 25)
    rim = np.linspace(0, 1, 9)
    ou = np.concatenate([np.zeros(8), edge[:-1], np.ones(8), edge[:0:-1]])
    ov = np.concatenate([rim[:-1], np.ones(24), rim[:0:-1], np.zeros(24)])
    names = list(CORNER_UV)
    cu, cv = np.array([CORNER_UV[n] for n in names]).T
    for t in teeth:
        _, free, inside = seen[t]
        outline = camera.project(flank_points(dressed.gear.shape, flank, ou, ov, t))
        corners = camera.project(flank_points(dressed.gear.shape, flank, cu, cv, t))
        if not np.isfinite(outline).all():
            continue
        is_painted = flank in dressed.layers and t in dressed.painted
        numbers = dressed.numbers(flank, t) if is_painted else None
        contact = None
        mask = dressed.contact(flank, t)
        if numbers is not None and mask is not None:
            rows = ((np.arange(GRID_V) + 0.5) / GRID_V * mask.shape[0]).astype(int)
            columns = ((np.arange(GRID_U) + 0.5) / GRID_U * mask.shape[1]).astype(int)
            on = mask[np.ix_(rows, columns)]
            u0, v0 = (np.array([c]) for c in numbers.centroid)
            centre = camera.project(flank_points(dressed.gear.shape, flank, u0, v0, t))[0]
            contact = {
                "centroid_uv": list(numbers.centroid),
                "u_5_95": list(numbers.length),
                "v_5_95": list(numbers.height),
                "area_fraction": numbers.area_fraction,
                "tilt_deg": numbers.tilt_deg,
                "runs_off": {e: e in numbers.runs_off for e in ("toe", "heel", "top", "root")},
                "visible_fraction": float((free & inside & on).sum() / max(1, on.sum())),
                "centroid_px": [round(float(c), 2) for c in centre],
            }
        w, h = camera.width - 0.5, camera.height - 0.5
        records.append(
            {
                "tooth_id": t,
                "flank": flank,
                "outline_px": np.round(outline, 2).tolist(),
                "corners_px": {n: np.round(p, 2).tolist() for n, p in zip(names, corners, strict=True)},
                "fully_in_frame": bool(((outline > -0.5) & (outline < [w, h])).all()),
                "visible_fraction": float((free & inside).mean()),
                "unoccluded_fraction": float(free.mean()),
                "painted": bool(is_painted),
                "rolled": bool(is_painted and dressed.state(t) != "wet"),
                "state": dressed.state(t) if flank in dressed.layers else "bare",
                "contact": contact,
            }
        )
    return records


def flank_shown(labels: Labels) -> FlankName | None:
    """The flank that covers more of the picture, painted pixels first; None where none shows."""
    counts = [
        float((labels.flank == c).sum() + 4 * ((labels.flank == c) & labels.painted).sum()) for c in (1, 2)
    ]
    if max(counts) == 0:
        return None
    return FLANKS[int(np.argmax(counts))]


def of_flanks(labels: Labels, *flanks: FlankName) -> NDArray[np.bool_]:
    """Pixels (rows, columns) of any of these flanks."""
    return np.isin(labels.flank, [FLANKS.index(f) + 1 for f in flanks])


def mask_of(labels: Labels, *flanks: FlankName) -> NDArray[np.uint8]:
    """Classes: 0 background, 1 a flank asked for, 2 its contact, 3 the rest of the gear."""
    out = np.where(labels.gear, 3, 0).astype(np.uint8)
    here = of_flanks(labels, *flanks)
    out[here] = 1
    out[here & labels.contact] = 2
    return out
