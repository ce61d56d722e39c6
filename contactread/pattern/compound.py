"""Marking compound by its colour: where it is, which teeth carry it, what it is called."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, Singles, median, quantile
from contactread.pattern.cells import Cells

Polarity = Literal["pressed_away", "printed"]

# In logarithms of blue/green and red/green, a phone's picture shows bare steel within 0.35 of grey, and
# compound of any colour more than 0.45 away from that steel. White compound is as grey as steel and told
# by its lightness. Rough figures of common pigments, from memory.
_CAST = 0.35
_COLOURED = 0.45
_COVERED = 0.25  # amount that counts as covered; smudges on bare flanks stay below, bleached coats above
_LEAST_SEEN = 0.15  # share of a flank below which nothing is said about its paint
_CLEAR = 0.4  # of the clearest tooth's gain
_LIGHTER = 1.1  # white compound against steel, in logarithms of light
_BY_HUE = ((18, "red"), (34, "orange"), (68, "yellow"), (165, "green"), (290, "blue"), (361, "red"))  # deg


@dataclass(frozen=True, eq=False)
class Compound:
    """amount: (teeth, CELLS), 0 bare steel .. 1 the compound's full colour. colour: its everyday name,
    "white" where only lightness tells it from steel, None where nothing is seen. load: (teeth,), how
    much each tooth carries: 1 like the most painted teeth, below a half bare; -1 where too little is seen.
    """

    amount: Singles
    colour: str | None
    load: Singles


def find_compound(cells: Cells) -> Compound:
    """Tell compound from steel by colour, else by lightness."""
    seen = cells.weight > 0
    if seen.sum() < 20:
        return Compound(np.zeros_like(cells.weight), None, np.full(len(cells.weight), -1, np.float32))
    off = _off_steel(cells, seen)
    strength = np.sqrt((off**2).sum(axis=-1))
    strong = seen & (strength > max(_COLOURED, 0.7 * quantile(strength[seen], 0.85)))
    if strong.sum() > 0.02 * seen.sum():
        colour = median(off[strong], axis=0)
        amount = np.clip((off @ colour) / float(colour @ colour), 0, 1.2) * seen
        top, most = _tops(amount, seen)
        load = top / max(most, 1e-6)
        name = _name(median(cells.colour[strong], axis=0))
    else:
        lightness = cells.colour.mean(axis=-1)
        low, high = (quantile(lightness[seen], share) for share in (0.10, 0.95))
        amount = np.clip((lightness - low) / max(high - low, _LIGHTER), 0, 1.2) * seen
        top, most = _tops(lightness, seen)
        load = 1 + (top - most) / (2 * _LIGHTER)
        name = "white"
    load = np.where(seen.mean(axis=1) > _LEAST_SEEN, load, -1)
    return Compound(amount.astype(np.float32), name, load.astype(np.float32))


def polarity_of(compound: Compound, weight: Singles, inside: Singles, say: Floats) -> Polarity:
    """Pressed away where the flank around the patches is covered with compound; printed where it is bare.

    compound: of the same teeth as weight and inside, (teeth, CELLS). say: (teeth,), how clearly each shows a
    patch; those that do far less than the clearest have none. Coloured compound is told by what
    lies around the patch, because a thin smear can look stronger in colour than a thick coat in bright
    light. White compound has no scale of its own; there the lighter side is the compound.
    """
    clear = (say >= _CLEAR * say.max())[:, None]
    around, within = clear & (weight > 0) & (inside < 0.1), clear & (weight > 0) & (inside > 0.7)
    if not around.any():
        return "pressed_away"
    covered = float(median(compound.amount[around]))
    if compound.colour == "white" and within.any():
        return "printed" if float(median(compound.amount[within])) > covered else "pressed_away"
    return "pressed_away" if covered > _COVERED else "printed"


def _off_steel(cells: Cells, seen: NDArray[np.bool_]) -> Singles:
    """Each cell's colour ratios less those of steel: the middle of the greyest seen cells."""
    blue, green, red = np.moveaxis(cells.colour, -1, 0)
    ratios = np.stack([blue - green, red - green], axis=-1)
    strength = np.sqrt((ratios**2).sum(axis=-1))
    greyest = seen & (strength <= quantile(strength[seen], 0.15))
    off: Singles = ratios - np.clip(median(ratios[greyest], axis=0), -_CAST, _CAST)
    return off


def _name(logarithms: Singles) -> str:
    """The everyday name of a colour given as logarithms of linear blue, green, red, as photographed."""
    light = np.exp(logarithms)
    pixel = ((light / light.max()) ** (1 / 2.2)).astype(np.float32).reshape(1, 1, 3)
    hue = float(cv2.cvtColor(pixel, cv2.COLOR_BGR2HSV)[0, 0, 0])
    return next(name for limit, name in _BY_HUE if hue < limit)


def _tops(strength: Singles, seen: NDArray[np.bool_]) -> tuple[Singles, float]:
    """The mean of each tooth's strongest fifth, (teeth,), and what the three most painted teeth have."""
    tops = np.array([_top_fifth(a[s]) for a, s in zip(strength, seen, strict=True)])
    clear = tops[seen.mean(axis=1) > _LEAST_SEEN]
    return tops, float(median(np.sort(clear)[-3:])) if len(clear) else 1.0


def _top_fifth(values: Singles) -> float:
    """Mean of the largest fifth: a print may cover no more of a flank than that."""
    if not len(values):
        return -10.0
    count = max(1, len(values) // 5)
    return float(np.partition(values, -count)[-count:].mean())
