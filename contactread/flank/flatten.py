"""Flatten a flank: sample it from the photo on an even grid of u and v."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, Singles, median
from contactread.axle import Axle
from contactread.flank.flank import Flank, FlatFlank
from contactread.photo.photo import Photo

ROWS, COLUMNS = 96, 288
# The map is smooth: it is evaluated on every 8th sample and interpolated.
_U, _V = np.linspace(0, 1, COLUMNS // 8 + 1), np.linspace(0, 1, ROWS // 8 + 1)
_MOST_SOURCE = 4.0  # picture pixels (area) under one flat pixel, before the picture is shrunk first
_MASK_PX = 256  # longer side of the mask of hidden parts
NO_MAP = np.empty(0, np.float32)  # cv2.remap's second map, not used with a two-channel first


def flatten(photo: Photo, flank: Flank, axle: Axle | None = None) -> FlatFlank:
    """The flank as a flat picture of (ROWS, COLUMNS), root in row 0, toe in column 0.

    Sampled bilinearly from the photo's pixels; where they are more than a few to a sample, the piece of it is
    first shrunk by area, so that no detail folds into noise.
    """
    coarse = flank.map.grid(_U, _V)
    source = _source_px(coarse)
    first, last = coarse.min(axis=(0, 1)), coarse.max(axis=(0, 1))
    x0, y0 = np.clip(np.floor(first).astype(int) - 2, 0, (photo.width - 1, photo.height - 1))
    x1, y1 = np.clip(np.ceil(last).astype(int) + 3, (x0 + 1, y0 + 1), (photo.width, photo.height))
    piece = photo.pixels[y0:y1, x0:x1]
    shrink = max(1, int(np.sqrt(source / _MOST_SOURCE)))
    scale = np.ones(2)
    if shrink > 1 and min(piece.shape[:2]) >= 2 * shrink:
        size = (max(1, piece.shape[1] // shrink), max(1, piece.shape[0] // shrink))
        scale = np.array([size[0] / piece.shape[1], size[1] / piece.shape[0]])
        piece = np.asarray(cv2.resize(piece, size, interpolation=cv2.INTER_AREA), np.uint8)

    def local(places: Floats) -> Floats:
        return np.asarray((places + 0.5 - (x0, y0)) * scale - 0.5)

    place = _fine(local(coarse))
    pixels = cv2.remap(piece, place, NO_MAP, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    ends = local(np.array([[0, 0], [photo.width - 1, photo.height - 1]]))
    inside = cv2.inRange(place, tuple(ends[0]), tuple(ends[1]))
    if flank.covered_by:
        inside = cv2.bitwise_and(inside, _shown(flank, coarse))
    return FlatFlank(np.asarray(pixels, np.uint8), inside > 0, flank, mm_size(flank, axle))


def mm_size(flank: Flank, axle: Axle | None) -> tuple[float, float] | None:
    """Length and mean working height of the flank in mm; the face width is 0.3 of the outer cone distance
    where the axle file doesn't give it (common practice, ISO 23509 calls it the usual maximum). None where
    nobody told the teeth or the diameter."""
    if axle is None or axle.gears.supposed:
        return None
    gears = axle.gears
    outer = gears.ring_diameter_mm / 2 * np.hypot(1, gears.pinion_teeth / gears.ring_teeth)
    length = gears.face_width_mm or 0.3 * float(outer)
    return length, length * flank.aspect


def between(rows: int, columns: int, grid: tuple[int, int]) -> tuple[Singles, Singles]:
    """Where the middles of (rows, columns) cells lie on a coarser grid of points (down, across) over the same
    flank, its ends included, for cv2.remap: x and y.
    """
    x = (np.arange(columns) + 0.5) / columns * (grid[1] - 1)
    y = (np.arange(rows) + 0.5) / rows * (grid[0] - 1)
    across, down = np.meshgrid(x, y)
    return across.astype(np.float32), down.astype(np.float32)


_BETWEEN = between(ROWS, COLUMNS, (len(_V), len(_U)))


def _fine(coarse: Floats) -> Singles:
    """Values on the coarse grid, interpolated to every flat pixel."""
    return np.asarray(cv2.remap(coarse.astype(np.float32), *_BETWEEN, cv2.INTER_LINEAR), np.float32)


def _source_px(coarse: Floats) -> float:
    """Picture pixels under each flat pixel, median over the cells of the coarse grid."""
    along, up = coarse[:-1, 1:] - coarse[:-1, :-1], coarse[1:, :-1] - coarse[:-1, :-1]
    area = np.abs(along[..., 0] * up[..., 1] - along[..., 1] * up[..., 0])
    return float(median(area)) * area.size / (ROWS * COLUMNS)


def _shown(flank: Flank, coarse: Floats) -> NDArray[np.uint8]:
    """255 where not behind the neighbouring tooth, else 0, for every flat pixel."""
    low, high = coarse.min(axis=(0, 1)), coarse.max(axis=(0, 1))
    scale = min(1.0, _MASK_PX / max(float((high - low).max()), 1.0))
    width, height = np.maximum(np.ceil((high - low) * scale).astype(int) + 1, 1)
    mask = np.full((height, width), 255, np.uint8)
    for polygon in flank.covered_by:
        _hide(mask, (polygon - low) * scale)
    place = _fine((coarse - low) * scale)
    return np.asarray(cv2.remap(mask, place, NO_MAP, cv2.INTER_NEAREST), np.uint8)


def _hide(mask: NDArray[np.uint8], polygon: Floats) -> None:
    fixed = np.round(np.clip(polygon, -4000, 4000) * 16).astype(np.int32)
    cv2.fillPoly(mask, [fixed], (0,), shift=4)
