"""Where a second, closer look is worth it: the first look decides, by where it suspects painted flanks."""

from __future__ import annotations

import cv2
import numpy as np

from contactread.arrays import Singles
from contactread.flank.sight import STRIDE, Sight, Window
from contactread.photo.photo import Photo

SUSPECT = 0.03  # chance of painted flank, of the greatest, from which a cell belongs to the suspected place
LEAST_CHANCE = 0.05  # where no cell reaches it, nothing is suspected anywhere
ROOM = 1.35  # of the suspected place, for what the first look missed of it
WANTED = 120.0  # pixels of the network's picture that a flank should be long
MOST, LEAST_ZOOM = 4.0, 1.2  # times closer than the first look; less is not worth it
LEAST_PX = 240  # of the photo along the window's longer side


def suspected(photo: Photo, sight: Sight, length: float | None) -> Window | None:
    """The part of the photo to look at again, in its proportions; None where nothing is suspected.

    length: of the flanks, in pixels of the photo, if the first look saw any.
    """
    chance = (sight.convex + sight.concave) * (0.02 + sight.painted)
    chance = np.asarray(cv2.GaussianBlur(chance, (0, 0), 1.5), np.float32)
    top = float(chance.max())
    if top < LEAST_CHANCE:
        return None
    count, labels = cv2.connectedComponents(
        (chance > max(SUSPECT * top, 0.25 * LEAST_CHANCE)).astype(np.uint8)
    )
    weight = np.bincount(labels.ravel(), chance.ravel() ** 2, minlength=count)
    inside = labels == 1 + int(np.argmax(weight[1:]))
    place = sight.place[inside]
    share = chance[inside] ** 2
    ends = [_ends(place[:, axis], share) for axis in (0, 1)]
    middle = np.array([(low + high) / 2 for low, high in ends])
    reach = ROOM * np.array([high - low for low, high in ends]) + 4 * sight.cell_px
    size = np.array([photo.width, photo.height], float)
    zoom = float((size / reach).min())
    if length is not None:
        zoom = min(zoom, WANTED / (length * STRIDE / sight.cell_px))
    zoom = min(zoom, MOST, size.max() / LEAST_PX)
    if zoom < LEAST_ZOOM:
        return None
    part = size / zoom
    low = np.round(np.clip(middle - part / 2, 0, size - part)).astype(int)
    high = np.minimum(low + np.ceil(part).astype(int), size.astype(int))
    return Window(int(low[0]), int(low[1]), int(high[0]), int(high[1]))


def _ends(values: Singles, share: Singles) -> tuple[float, float]:
    """Where a twentieth of the share lies below and above."""
    order = np.argsort(values)
    sums = np.cumsum(share[order])
    low, high = np.interp([0.05 * sums[-1], 0.95 * sums[-1]], sums, values[order])
    return float(low), float(high)
