"""The seam between pictures and measuring: flat flanks in, contact maps out.

`contact_maps` is the classical reader. Anything else that turns flat flanks into `ContactMaps`, a small
network for one, can take its place in `contactread.reading.read`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from contactread.flags import flag
from contactread.flank.flank import FlatFlank
from contactread.pattern.cells import COLUMNS, ROWS, Cells, cells_of
from contactread.pattern.compound import Polarity, find_compound, polarity_of
from contactread.pattern.outline import outlines
from contactread.pattern.search import likely_patches
from contactread.pattern.vote import Vote, vote

# Log likelihood that a tooth must gain by having a patch, and all teeth together.
_LEAST_GAIN, _LEAST_TOTAL_GAIN = 0.0, 3.0


@dataclass(frozen=True, eq=False)
class ContactMaps:
    """Where each tooth shows contact.

    inside: float32, (teeth, rows, columns), 0..1, chance that the place belongs to the contact area,
    hidden places included (judged by the other teeth); row 0 is the root, column 0 the toe. judged:
    float32, (teeth, rows, columns), 0..1, share of the place that could be seen and judged. painted:
    (teeth,) whether the tooth carries compound worth reading; `inside` is zero where not. centre_sigma:
    (teeth, 2), standard uncertainty of each tooth's centre in u and v, from the evidence alone;
    common_sigma: (2,), of what all teeth share.
    polarity, compound: see `contactread.pattern.measures.Side`.
    """

    inside: NDArray[np.float32]
    judged: NDArray[np.float32]
    painted: NDArray[np.bool_]
    centre_sigma: NDArray[np.float64]
    common_sigma: NDArray[np.float64]
    polarity: Polarity
    compound: str


ContactReader = Callable[[Sequence[FlatFlank]], ContactMaps]


def contact_maps(flats: Sequence[FlatFlank]) -> ContactMaps:
    """Contact, told from compound and steel by what all painted teeth share.

    Raises PhotoError: glare-over-flanks, no-compound, no-pattern.
    """
    cells = cells_of(flats)
    if float((cells.weight > 0).mean()) < 0.1:
        raise flag("glare-over-flanks").refusal()
    compound = find_compound(cells)
    carries = compound.carries
    if not carries.any():
        raise flag("no-compound").refusal()
    for _ in range(2):
        chosen = cells.of(carries)
        found = vote(chosen, likely_patches(chosen))
        clear = found.gain > _LEAST_GAIN
        if clear.all() or not clear.any():
            break
        carries = carries.copy()
        carries[carries] = clear
    if found.gain.sum() < _LEAST_TOTAL_GAIN:
        raise flag("no-compound" if compound.colour in (None, "white") else "no-pattern").refusal()
    inside = outlines(found, chosen)
    polarity = polarity_of(compound.amount[carries], chosen.weight, inside)
    return _all_teeth(cells, carries, found, inside, polarity, compound.colour or "unknown")


def _all_teeth(
    cells: Cells,
    carries: NDArray[np.bool_],
    found: Vote,
    inside: NDArray[np.float32],
    polarity: Polarity,
    compound: str,
) -> ContactMaps:
    """The maps of the chosen teeth at their places among all."""
    count = len(carries)
    maps = np.zeros((count, ROWS, COLUMNS), np.float32)
    maps[carries] = inside.reshape(-1, ROWS, COLUMNS)
    sigma = np.full((count, 2), np.nan)
    sigma[carries] = found.centre_sigma
    judged = (cells.weight > 0).astype(np.float32).reshape(count, ROWS, COLUMNS)
    return ContactMaps(maps, judged, carries, sigma, found.common_sigma, polarity, compound)
