"""Flatten a flank: sample it from the full-resolution picture on an even grid of u and v."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.axle import Axle
from contactread.flank.flank import Flank, FlatFlank
from contactread.photo.photo import Photo

ROWS, COLUMNS = 96, 288
_STEP = 8  # the map is smooth: it is evaluated on every 8th sample and interpolated
_MOST_SOURCE = 4.0  # picture pixels under one flat pixel, each way, before the picture is shrunk first


def flatten(
    photo: Photo, flank: Flank, axle: Axle | None = None, rows: int = ROWS, columns: int = COLUMNS
) -> FlatFlank:
    """The flank as a flat picture of (rows, columns), root in row 0, toe in column 0.

    Sampled bilinearly from the full-resolution picture; where that holds more than a few pixels per
    sample, the piece of it is first shrunk by area, so that no detail folds into noise.
    """
    place = _places(flank, rows, columns)
    source = _source_area(flank, rows, columns)
    low = np.floor(place.reshape(-1, 2).min(axis=0)).astype(int) - 2
    high = np.ceil(place.reshape(-1, 2).max(axis=0)).astype(int) + 3
    x0, y0 = np.clip(low, 0, (photo.width - 1, photo.height - 1))
    x1, y1 = np.clip(high, (x0 + 1, y0 + 1), (photo.width, photo.height))
    piece = photo.pixels[y0:y1, x0:x1]
    shrink = max(1, int(np.sqrt(np.median(source)) / np.sqrt(_MOST_SOURCE)))
    if shrink > 1 and min(piece.shape[:2]) >= 2 * shrink:
        size = (max(1, piece.shape[1] // shrink), max(1, piece.shape[0] // shrink))
        scale = np.array([size[0] / piece.shape[1], size[1] / piece.shape[0]])
        piece = cv2.resize(piece, size, interpolation=cv2.INTER_AREA)
    else:
        scale = np.ones(2)
    local = (((place - (x0, y0)) + 0.5) * scale - 0.5).astype(np.float32)
    pixels = cv2.remap(piece, local, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = _seen(photo, flank, place)
    return FlatFlank(pixels, seen, source, flank, mm_size(flank, axle))


def mm_size(flank: Flank, axle: Axle | None) -> tuple[float, float] | None:
    """Length and mean working height of the flank in mm; the face width is 0.3 of the outer cone distance
    where the axle file doesn't give it (common practice, ISO 23509 calls it the usual maximum)."""
    if axle is None:
        return None
    gears = axle.gears
    outer = gears.ring_diameter_mm / 2 * np.hypot(1, gears.pinion_teeth / gears.ring_teeth)
    length = gears.face_width_mm or 0.3 * float(outer)
    return length, length * flank.aspect


def _places(flank: Flank, rows: int, columns: int) -> NDArray[np.float32]:
    """Picture position of every flat pixel's centre, (rows, columns, 2)."""
    coarse = flank.map.grid(*_coarse(rows, columns)).astype(np.float32)
    return cv2.remap(coarse, *_fine(rows, columns), cv2.INTER_LINEAR)


@cache
def _coarse(rows: int, columns: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return (
        np.linspace(0, 1, max(2, columns // _STEP + 1)),
        np.linspace(0, 1, max(2, rows // _STEP + 1)),
    )


@cache
def _fine(rows: int, columns: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    u, v = _coarse(rows, columns)
    x = (np.arange(columns, dtype=np.float32) + 0.5) / columns * (len(u) - 1)
    y = (np.arange(rows, dtype=np.float32) + 0.5) / rows * (len(v) - 1)
    grid_x, grid_y = np.meshgrid(x, y)
    return grid_x, grid_y


def _source_area(flank: Flank, rows: int, columns: int) -> NDArray[np.float32]:
    """Picture pixels under each flat pixel, from the map's slopes."""
    u, v = _coarse(rows, columns)
    grid = flank.map.grid(u, v)
    du = np.gradient(grid, u, axis=1)
    dv = np.gradient(grid, v, axis=0)
    area = np.abs(du[..., 0] * dv[..., 1] - du[..., 1] * dv[..., 0]) / (rows * columns)
    fine: NDArray[np.float32] = cv2.remap(area.astype(np.float32), *_fine(rows, columns), cv2.INTER_LINEAR)
    return fine


def _seen(photo: Photo, flank: Flank, place: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Inside the picture, inside the outline, and not behind the neighbouring tooth."""
    x, y = place[..., 0], place[..., 1]
    seen: NDArray[np.bool_] = (x > 0) & (x < photo.width - 1) & (y > 0) & (y < photo.height - 1)
    polygons = [*flank.covered_by, *([flank.outline] if flank.outline is not None else [])]
    if not polygons:
        return seen
    low = place.reshape(-1, 2).min(axis=0)
    span = place.reshape(-1, 2).max(axis=0) - low
    scale = min(1.0, 512 / float(max(span.max(), 1.0)))
    size = np.maximum(np.ceil(span * scale).astype(int) + 1, 1)
    local = ((place - low) * scale).astype(np.float32)

    def covered(polygon: NDArray[np.float64]) -> NDArray[np.bool_]:
        canvas = np.zeros((size[1], size[0]), np.uint8)
        fixed = np.clip((polygon - low) * scale, -4000, 4000) * 16
        cv2.fillPoly(canvas, [np.round(fixed).astype(np.int32)], 255, shift=4)
        inside: NDArray[np.bool_] = cv2.remap(canvas, local, None, cv2.INTER_NEAREST) > 0
        return inside

    for polygon in flank.covered_by:
        seen &= ~covered(polygon)
    if flank.outline is not None:
        seen &= covered(flank.outline)
    return seen
