"""Which painted teeth were rolled through the mesh: wet ones, still whole, have no pattern and no vote."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, Singles, quantile
from contactread.flank.flank import FlatFlank
from contactread.flank.verdict import PEAK
from contactread.pattern.cells import Cells
from contactread.pattern.compound import Compound, Polarity
from contactread.pattern.vote import Vote

ROLLED = (
    0.9  # chance from which the close-up network takes a tooth for rolled: our choice, see flank/closeup.json
)
WHOLE = 0.6  # of a flank covered, from which a coat counts as whole
_NOTHING = 0.6  # such a gain is less than what chance blots reach, see contact.py
_OWN = 0.03  # the same of what its pixels gain, the network aside
ALL_WHOLE = 0.75  # the same of the teeth of a photo that shows no pattern
_SHOWN = 0.6  # of the patch's place that must be seen to say that none is there
_COVERED = 0.5  # amount of compound from which a place is covered
_PART = 0.1  # of what the clearest tooth gains by its patch; one that gains less shows none of its own


def rolled_by_network(flats: Sequence[FlatFlank]) -> NDArray[np.bool_]:
    """Whether the close-up network takes each tooth for rolled; all where it wasn't asked."""
    return np.array([flat.rolled is None or flat.rolled > ROLLED for flat in flats])


def seen_by_network(flats: Sequence[FlatFlank]) -> NDArray[np.bool_]:
    """Whether the close-up network surely sees a patch on each tooth; on all where it wasn't asked."""
    return np.array([flat.contact is None or peak_of(flat) > PEAK for flat in flats])


def peak_of(flat: FlatFlank) -> float:
    """The network's chance of contact where it is surest, the topmost fiftieth aside; 1 where not asked."""
    return 1.0 if flat.contact is None else quantile(flat.contact, 0.98)


def covered(cells: Cells, compound: Compound) -> Floats:
    """Share of what is seen of each flank that compound covers, (teeth,)."""
    return _share(compound, cells.weight > 0)


def shows_own(found: Vote) -> NDArray[np.bool_]:
    """Whether each tooth shows a patch of its own: no tooth gets one from the others alone."""
    own, most = found.picture_gain, float(found.picture_gain.max())
    return np.asarray((found.gain > _PART * found.gain.max()) & (own >= _OWN * most))


def never_rolled(
    cells: Cells, compound: Compound, found: Vote, inside: Singles, polarity: Polarity
) -> NDArray[np.bool_]:
    """Whether each tooth's own pixels show a whole coat, (teeth,).

    Its picture gains nothing by a patch; or the rolled teeth carry prints on bare metal, and this one is
    covered all around where the print would be. All of the same teeth; inside: (teeth, CELLS).
    """
    whole = covered(cells, compound) > WHOLE
    none = found.picture_gain <= min(_PART * float(found.picture_gain.max()), _NOTHING)
    if polarity == "printed":
        none |= _share(compound, (cells.weight > 0) & (inside < 0.1)) > WHOLE
    return np.asarray(whole & none)


def shown_whole(cells: Cells, compound: Compound, shared: Singles, polarity: Polarity) -> NDArray[np.bool_]:
    """Whether each tooth is seen where the others carry the patch, and covered there as if never rolled:
    within it, or, where prints stand on bare metal, all around it; (teeth,). shared: (CELLS,)."""
    seen = cells.weight > 0
    within = seen & (shared > 0.7)
    shown = within.sum(axis=1) > _SHOWN * max(int((shared > 0.7).sum()), 1)
    place = within if polarity == "pressed_away" else seen & (shared < 0.1)
    return np.asarray(shown & (_share(compound, place) > WHOLE))


def _share(compound: Compound, place: NDArray[np.bool_]) -> Floats:
    """Share of a place, (teeth, CELLS), that compound covers, (teeth,)."""
    return np.asarray(((compound.amount > _COVERED) & place).sum(axis=1) / np.maximum(place.sum(axis=1), 1))
