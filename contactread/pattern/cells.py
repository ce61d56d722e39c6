"""Flat flanks as small grids of cells with the five things that tell contact from compound.

Per cell: two colour ratios (blue over green, red over green), lightness, and streakiness along the length
(rubbed compound is streaky across the tooth), all in logarithms of linear light, so that neither the
lamp's colour nor its strength matters once each tooth's own level and slope of light are taken out; and
the log odds of contact that the close-up network gives, if it was asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Singles
from contactread.flank.flank import FlatFlank

ROWS, COLUMNS = 24, 72
CELLS = ROWS * COLUMNS
FEATURES = 5  # blue/green, red/green, lightness, streakiness, the network's log odds
STREAKS = 3  # place among them

_NOISE = 0.02  # of full linear light: below it the colours of a phone's picture are noise
_GLARE = 238  # of 255 in every channel: the surface can't be judged there
_EDGE_TRUST = 0.3  # light spills over the flank's edges, and chamfers and fillets begin there
_SLOPE_HOLD = 0.3  # how strongly a tooth's slope of light is held to zero, in shares of all cells
# Lightness follows the lamp as much as the surface, so it counts less than colour and streaks; but for
# white compound, whose colour is the steel's, it counts more than what little colour there is.
_TRUST = np.array([1.0, 1.0, 0.7, 1.0, 1.5], np.float32)
_TRUST_WHITE = np.array([0.3, 0.3, 1.0, 1.0, 1.5], np.float32)
# In logarithms of light, less is the picture's coding, not the surface; in log odds, the network is unsure.
_LEAST_SPREAD = np.array([0.03, 0.03, 0.03, 0.03, 1.0], np.float32)
_MEAN = np.full((1, 3), 1 / 3, np.float32)
_LEAST_SHARE = 13  # of 255: with less of its surroundings shown, a place's streakiness counts for less
_MOST = 3.0  # a cell counts at most this many standard deviations


@dataclass(frozen=True, eq=False)
class Cells:
    """Evidence of all teeth on one grid; row 0 root, column 0 toe, flattened row by row.

    colour: (teeth, CELLS, 3), logarithms of linear blue, green, red, as photographed. features: (teeth,
    CELLS, FEATURES), levelled and scaled to unit spread over the photo. weight: (teeth, CELLS), 0 where
    nothing can be judged, 1 where everything can. raw: features before levelling; levelled: before scaling.
    white: the compound is told from steel by lightness, not by colour.
    """

    colour: Singles
    features: Singles
    weight: Singles
    raw: Singles
    levelled: Singles
    white: bool = False

    def of(self, teeth: NDArray[np.bool_]) -> Cells:
        """The evidence of some teeth only, scaled anew."""
        weight, levelled = self.weight[teeth], self.levelled[teeth]
        features = _scaled(levelled, weight, self.white)
        return Cells(self.colour[teeth], features, weight, self.raw[teeth], levelled, self.white)

    def for_white(self) -> Cells:
        """The same evidence, weighed for white compound."""
        return replace(self, features=_scaled(self.levelled, self.weight, True), white=True)

    @cached_property
    def halves(self) -> tuple[Singles, Singles]:
        """Weight (teeth, CELLS / 4) and features (..., FEATURES) of cells twice as long and high."""

        def means(values: Singles) -> Singles:
            grid = values.reshape(len(values), ROWS, COLUMNS, -1)
            sums = grid[:, ::2, ::2] + grid[:, ::2, 1::2] + grid[:, 1::2, ::2] + grid[:, 1::2, 1::2]
            return np.asarray(0.25 * sums.reshape(len(values), CELLS // 4, -1), np.float32)

        weight = means(self.weight)
        features = means(self.features * self.weight[..., None]) / np.maximum(weight, np.float32(1e-6))
        return weight[..., 0], np.asarray(features, np.float32)

    def levelled_outside(self, inside: Singles) -> Cells:
        """The same evidence, with each tooth's level and slope of light taken from outside the patch only.

        inside: (cells,), 0..1. A patch near one end of the flank would else be taken for a slope.
        """
        levelled = _level(self.raw, self.weight, self.weight * (1 - inside))
        return replace(self, features=_scaled(levelled, self.weight, self.white), levelled=levelled)


def cells_of(flats: Sequence[FlatFlank]) -> Cells:
    """The evidence of flattened flanks; at least one."""
    parts = np.stack([_measure(flat) for flat in flats])
    share = parts[..., 4]
    means = np.asarray(parts[..., :4] / np.maximum(share, 1e-3)[..., None], np.float32)
    blue, green, red, streak = np.moveaxis(means, -1, 0)
    odds = np.stack([_network_odds(flat) for flat in flats])
    raw = np.stack([blue - green, red - green, (blue + green + red) / 3, streak, odds], axis=-1)
    weight = np.asarray(np.where(share > 0.5, share, 0) * _edge_trust(), np.float32)
    levelled = _level(raw, weight, weight)
    return Cells(means[..., :3], _scaled(levelled, weight), weight, raw, levelled)


def _measure(flat: FlatFlank) -> Singles:
    """Sums over each cell's visible part, as shares of the cell, of one flank, (CELLS, 5): logarithms of
    blue, green, red and streakiness, and 1."""
    rows, columns = flat.seen.shape
    light = cv2.LUT(flat.pixels, _log_light())
    lightness = cv2.transform(light, _MEAN)
    glare = cv2.inRange(flat.pixels, (_GLARE,) * 3, (255,) * 3)
    unseen = cv2.bitwise_or(glare, np.where(flat.seen, np.uint8(0), np.uint8(255)))
    visible = cv2.bitwise_not(cv2.dilate(unseen, np.ones((5, 5), np.uint8)))
    width = max(3, columns // 22) | 1
    rough = cv2.absdiff(lightness, cv2.blur(lightness, (width, 1)))
    # The border of a hidden part is no streak: it is kept out, as far as the difference above reaches.
    fair = cv2.bitwise_not(cv2.dilate(unseen, np.ones((3, width), np.uint8)))
    window = (2 * width - 1, max(3, rows // 7) | 1)
    share = np.maximum(cv2.blur(fair, window), np.uint8(_LEAST_SHARE)).astype(np.float32)
    rough = cv2.blur(cv2.bitwise_and(rough, rough, mask=fair), window)
    streaks = cv2.log(cv2.divide(rough, share, scale=255) + _NOISE)
    parts = [cv2.bitwise_and(part, part, mask=visible) for part in (light, streaks)]
    parts.append(visible.astype(np.float32) / 255)
    small = [cv2.resize(part, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA) for part in parts]
    return np.concatenate([part.reshape(CELLS, -1) for part in small], axis=1)


def _network_odds(flat: FlatFlank) -> Singles:
    """The close-up network's log odds of contact, (CELLS,), within plus and minus 4; zero where not asked."""
    if flat.contact is None:
        return np.zeros(CELLS, np.float32)
    chance = np.clip(cv2.resize(flat.contact, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA), 0.02, 0.98)
    return np.asarray(np.log(chance / (1 - chance)).ravel(), np.float32)


def _level(raw: Singles, weight: Singles, trust: Singles) -> Singles:
    """Features less each tooth's own level and even slope of light, robustly fitted to cells by `trust`.

    raw: (teeth, CELLS, FEATURES); weight, trust: (teeth, CELLS).
    """
    plane = _plane()
    total = np.maximum(trust.sum(axis=1), 1e-3)[:, None, None]
    hold = np.diag([1e-6, 1.0, 1.0]) * (_SLOPE_HOLD / 3 * weight.sum(axis=1)[:, None, None] + 1e-6)
    rest, now = raw, trust
    for _ in range(2):
        turned = plane.T * now[:, None]  # (teeth, 3, CELLS)
        rest = raw - plane @ np.linalg.solve(turned @ plane + hold, turned @ raw).astype(np.float32)
        square = rest * rest
        variance = trust[:, None] @ square / total + 1e-9  # (teeth, 1, FEATURES)
        now = trust / (1 + (square @ (1 / variance).swapaxes(1, 2))[..., 0] / FEATURES)
    rest -= trust[:, None] @ rest / total
    rest *= (weight > 0)[..., None]
    return np.asarray(rest, np.float32)


def _scaled(levelled: Singles, weight: Singles, white: bool = False) -> Singles:
    total = max(float(weight.sum()), 1.0)
    variance = (weight[:, None] @ (levelled * levelled)).sum(axis=(0, 1)) / total
    trust = _TRUST_WHITE if white else _TRUST
    scale = trust / np.maximum(np.sqrt(variance), _LEAST_SPREAD)
    return np.asarray(np.clip(levelled * scale, -_MOST * trust, _MOST * trust), np.float32)


@cache
def _log_light() -> Singles:
    """Logarithm of linear light for each value of an sRGB picture (gamma 2.2 is near enough)."""
    table: Singles = np.log((np.arange(256) / 255) ** 2.2 + _NOISE).astype(np.float32)
    return table


@cache
def axes(coarser: int = 1) -> tuple[Singles, Singles]:
    """u of the columns' middles and v of the rows'; or of cells so many times coarser each way."""
    columns, rows = COLUMNS // coarser, ROWS // coarser
    u, v = (np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows
    return u.astype(np.float32), v.astype(np.float32)


@cache
def grid(coarser: int = 1) -> tuple[Singles, Singles]:
    """u and v of the cells' middles, each (CELLS,); coarser: as for `axes`."""
    u, v = np.meshgrid(*axes(coarser))
    return u.ravel(), v.ravel()


@cache
def _plane() -> Singles:
    """1, u and v from -1 to 1, (CELLS, 3)."""
    u, v = grid()
    return np.stack([np.ones_like(u), 2 * u - 1, 2 * v - 1], axis=1)


@cache
def _edge_trust() -> Singles:
    u, v = grid()
    inner = (np.minimum(u, 1 - u) > 0.02) & (np.minimum(v, 1 - v) > 0.06)
    trust: Singles = np.where(inner, 1.0, _EDGE_TRUST).astype(np.float32)
    return trust
