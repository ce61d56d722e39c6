"""From ellipses to the outline that the compound really shows.

The vote says where the patch lies; the cells near its edge say how far it really reaches. Both are added
as log odds: the ellipse, what all teeth show at that place of the patch, and what the tooth itself shows.
"""

from __future__ import annotations

import cv2
import numpy as np

from contactread.arrays import Floats, Singles
from contactread.pattern.cells import COLUMNS, ROWS, Cells
from contactread.pattern.ellipse import cover, radius
from contactread.pattern.vote import Vote

# Weights of the three, chosen by least error on synthetic teeth (tests/pattern/pattern_flats.py).
_SHAPE, _SHARED, _OWN = 12.0, 0.7, 1.4
_BLUR = (0.021, 0.047)  # shares of length and height: bridges the streaks of a rubbed patch
_MOST = 3.0  # log odds that one cell can give
_FLOOR = 0.15


def outlines(found: Vote, cells: Cells) -> Singles:
    """Chance of contact of each cell, (teeth, CELLS)."""
    own = found.own
    odds, judged = zip(
        *(_odds(s, w, c) for s, w, c in zip(found.signal, cells.weight, cover(own), strict=True)), strict=True
    )
    shift = (own[:, :2] - found.shared[:2]) * (COLUMNS, ROWS)
    moved = np.stack([_moved(o, -s) for o, s in zip(odds, shift, strict=True)])
    say = np.stack([_moved(j, -s) for j, s in zip(judged, shift, strict=True)])
    shared = (moved * say).sum(axis=0) / (say.sum(axis=0) + 0.7)
    near = _SHAPE * (1 - radius(own))
    inside = []
    for k, (mine, seen) in enumerate(zip(odds, judged, strict=True)):
        total = near[k] + _SHARED * _moved(shared, shift[k]).ravel() + _OWN * (mine * seen).ravel()
        inside.append(1 / (1 + np.exp(-np.clip(total, -30, 30))))
    return np.stack(inside).astype(np.float32)


def _odds(signal: Singles, weight: Singles, inside: Singles) -> tuple[Singles, Singles]:
    """Log odds of the cells of one tooth by its own two levels, blurred over streaks; and how well judged."""
    level, spread = [], 0.0
    for part in (weight * inside, weight * (1 - inside)):
        size = max(float(part.sum()), 1e-3)
        level.append(float(part @ signal) / size)
        spread += float(part @ (signal - level[-1]) ** 2)
    step = max(level[0] - level[1], 0.0)
    spread /= max(float(weight.sum()), 1e-3)
    odds = np.clip(step / (spread + _FLOOR) * (signal - sum(level) / 2), -_MOST, _MOST)
    judged = _blurred(weight)
    held = np.asarray(np.minimum(2 * judged, 1), np.float32)
    return np.asarray(_blurred(odds * weight) / np.maximum(judged, 0.05), np.float32), held


def _blurred(values: Singles) -> Singles:
    sigma = _BLUR[0] * COLUMNS, _BLUR[1] * ROWS
    picture = values.reshape(ROWS, COLUMNS).astype(np.float32)
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), sigmaX=sigma[0], sigmaY=sigma[1]), np.float32)


def _moved(values: Singles, shift: Floats) -> Singles:
    """A grid of cells moved by (columns, rows)."""
    matrix = np.array([[1, 0, shift[0]], [0, 1, shift[1]]], np.float32)
    moved = cv2.warpAffine(values, matrix, (COLUMNS, ROWS), borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(moved, np.float32)
