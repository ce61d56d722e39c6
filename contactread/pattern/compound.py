"""Marking compound by its colour: where it is, which teeth carry it, what it is called."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.pattern.cells import Cells

Floats = NDArray[np.float32]
Polarity = Literal["pressed_away", "printed"]

# In logarithms of blue/green and red/green, a phone's picture shows bare steel within 0.35 of grey, and
# compound of any colour more than 0.45 away from that steel. White compound is as grey as steel and told
# by its lightness. Rough figures of common pigments, from memory.
_CAST = 0.35
_COLOURED = 0.45
_COVERED = 0.25  # amount that counts as covered; smudges on bare flanks stay below, bleached coats above
_LIGHTER = 0.9  # white compound against steel, in logarithms of light
_BY_HUE = ((18, "red"), (34, "orange"), (68, "yellow"), (165, "green"), (290, "blue"), (361, "red"))  # deg


@dataclass(frozen=True, eq=False)
class Compound:
    """amount: (teeth, CELLS), 0 bare steel .. 1 the compound's full colour. colour: its everyday name,
    "white" where only lightness tells it from steel, None where nothing is seen. carries: (teeth,), teeth
    that carry compound worth reading.
    """

    amount: Floats
    colour: str | None
    carries: NDArray[np.bool_]


def find_compound(cells: Cells) -> Compound:
    """Tell compound from steel by colour, else by lightness."""
    seen = cells.weight > 0
    if seen.sum() < 20:
        return Compound(np.zeros_like(cells.weight), None, np.zeros(len(cells.weight), bool))
    off = _off_steel(cells, seen)
    strength = np.sqrt((off**2).sum(axis=-1))
    strong = seen & (strength > max(_COLOURED, 0.7 * float(np.percentile(strength[seen], 85))))
    if strong.sum() > 0.02 * seen.sum():
        colour = np.median(off[strong], axis=0)
        amount = (off @ colour) / float(colour @ colour)
        name = _name(np.median(cells.colour[strong], axis=0))
    else:
        lightness = cells.colour.mean(axis=-1)
        low, high = np.percentile(lightness[seen], [10, 95])
        amount = (lightness - low) / max(float(high - low), _LIGHTER)
        name = "white"
    amount = np.clip(amount, 0, 1.2).astype(np.float32) * seen
    return Compound(amount, name, _carriers(amount, seen))


def polarity_of(amount: Floats, weight: Floats, inside: Floats) -> Polarity:
    """Pressed away where the flank around the patches is covered with compound; printed where it is bare.

    All (teeth, CELLS). Inside against outside would be a worse guide: a thin smear can look stronger in
    colour than a thick coat in bright light.
    """
    around = (weight > 0) & (inside < 0.1)
    covered = float(np.median(amount[around])) if around.any() else 1.0
    return "pressed_away" if covered > _COVERED else "printed"


def _off_steel(cells: Cells, seen: NDArray[np.bool_]) -> Floats:
    """Each cell's colour ratios less those of steel: the middle of the greyest seen cells."""
    blue, green, red = np.moveaxis(cells.colour, -1, 0)
    ratios = np.stack([blue - green, red - green], axis=-1)
    strength = np.sqrt((ratios**2).sum(axis=-1))
    greyest = seen & (strength <= np.percentile(strength[seen], 15))
    off: Floats = ratios - np.clip(np.median(ratios[greyest], axis=0), -_CAST, _CAST)
    return off


def _name(logarithms: Floats) -> str:
    """The everyday name of a colour given as logarithms of linear blue, green, red, as photographed."""
    light = np.exp(logarithms)
    pixel = ((light / light.max()) ** (1 / 2.2)).astype(np.float32).reshape(1, 1, 3)
    hue = float(cv2.cvtColor(pixel, cv2.COLOR_BGR2HSV)[0, 0, 0])
    return next(name for limit, name in _BY_HUE if hue < limit)


def _carriers(amount: Floats, seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Teeth whose strongest fifth of cells stands with the most painted teeth rather than the barest."""
    strongest = np.array(
        [np.percentile(a[s], 80) if s.any() else 0.0 for a, s in zip(amount, seen, strict=True)]
    )
    enough = seen.mean(axis=1) > 0.15
    if not enough.any():
        return np.asarray(enough)
    most = float(np.median(np.sort(strongest[enough])[-3:]))
    carries: NDArray[np.bool_] = enough & (strongest > 0.5 * most)
    return carries
