"""The seam between pictures and measuring: flat flanks in, contact maps out.

`contact_maps` is the classical reader. Anything else that turns flat flanks into `ContactMaps`, a small
network for one, can take its place in `contactread.reading.read`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, Singles
from contactread.flags import flag
from contactread.flank.flank import FlatFlank
from contactread.pattern.cells import COLUMNS, ROWS, Cells, cells_of
from contactread.pattern.compound import Compound, Polarity, find_compound, polarity_of
from contactread.pattern.outline import outlines
from contactread.pattern.search import likely_patches
from contactread.pattern.vote import Vote, vote

# Mean log likelihood that the teeth gain by having a patch. Chance blots on bare or unrolled teeth reach
# about 1 (tests/pattern); compound that only its lightness tells from steel must show its pattern clearly.
_LEAST_GAIN, _LEAST_GAIN_WHITE = 0.75, 2.0
# Of that, colour and streaks alone must give this share; a slope of light gives a third at most.
_FIRM_SHARE = 0.37
_LEAST_PICTURE = 0.1  # of the gain, what the picture itself must give: the network alone sees no pattern
_SURE, _BARE = 0.8, 0.4  # chance from which the network's word on paint counts; load of a bare tooth
_LOADS = 0.5, 0.75  # least load of compound of the teeth that vote; the second where slop confuses the first
# A pattern is what the teeth share: this share of them must gain at least a tenth of what the best does.
_LEAST_SHARE, _PART = 0.62, 0.1
# A gain five times what chance blots reach is a pattern even if more of the teeth don't show it.
_CLEAR_GAIN, _CLEAR_SHARE = 5.0, 0.4


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

    inside: Singles
    judged: Singles
    painted: NDArray[np.bool_]
    centre_sigma: Floats
    common_sigma: Floats
    polarity: Polarity
    compound: str


ContactReader = Callable[[Sequence[FlatFlank]], ContactMaps]


def contact_maps(flats: Sequence[FlatFlank]) -> ContactMaps:
    """Contact, told from compound and steel by what all painted teeth share.

    Raises PhotoError: no-compound, no-pattern.
    """
    cells = cells_of(flats)
    compound = _with_network(find_compound(cells), flats)
    if compound.colour == "white":
        cells = cells.for_white()
    carries, chosen, found = _voted(cells, compound)
    inside = outlines(found, chosen)
    polarity = polarity_of(replace(compound, amount=compound.amount[carries]), chosen.weight, inside)
    if polarity == "printed":  # a tooth without its print was never painted
        inside = inside * (found.gain > _PART * found.gain.max())[:, None]
    return _all_teeth(cells, compound, carries, found, inside, polarity)


def _with_network(compound: Compound, flats: Sequence[FlatFlank]) -> Compound:
    """The compound's load corrected by the close-up network, which knows paint from slop and reflections.

    Where the network is sure of paint, the tooth carries some; where it is sure of none, colour alone does
    not make it painted.
    """
    chance = np.array([np.nan if flat.painted is None else flat.painted for flat in flats])
    load = np.where(chance > _SURE, np.maximum(compound.load, 1.0), compound.load)
    load = np.where(chance < 1 - _SURE, np.minimum(load, _BARE), load)
    unseen = compound.load < 0
    return replace(compound, load=np.where(unseen, compound.load, load).astype(np.float32))


def _voted(cells: Cells, compound: Compound) -> tuple[NDArray[np.bool_], Cells, Vote]:
    """The teeth that carry compound, their evidence and their vote; amid slop, the most painted only."""
    carries = compound.load > _LOADS[0]
    if not carries.any():
        raise flag("no-compound").refusal()
    for least in _LOADS:
        carries = compound.load > least
        chosen = cells.of(carries)
        found = vote(chosen, likely_patches(chosen))
        if _shows_pattern(found):
            break
    else:
        raise flag("no-compound" if compound.colour == "white" else "no-pattern").refusal()
    if compound.colour == "white" and found.firm_gain.mean() < _LEAST_GAIN_WHITE:
        raise flag("no-compound").refusal()
    return carries, chosen, found


def _shows_pattern(found: Vote) -> bool:
    """Whether the teeth together show a patch that is more than chance, light or single blots."""
    say = found.seen + 1e-6
    gain = float(np.average(found.gain, weights=say))
    shared = float(np.average(found.gain > _PART * found.gain.max(), weights=say))
    firm = float(np.average(found.firm_gain, weights=say))
    picture = float(np.average(found.picture_gain, weights=say))
    shown = picture >= _LEAST_PICTURE
    common = shared >= (_CLEAR_SHARE if gain >= _CLEAR_GAIN else _LEAST_SHARE)
    return shown and common and gain >= _LEAST_GAIN and firm >= _FIRM_SHARE * gain


def _all_teeth(
    cells: Cells,
    compound: Compound,
    carries: NDArray[np.bool_],
    found: Vote,
    inside: Singles,
    polarity: Polarity,
) -> ContactMaps:
    """The maps of the chosen teeth at their places among all."""
    count = len(carries)
    maps = np.zeros((count, ROWS, COLUMNS), np.float32)
    maps[carries] = inside.reshape(-1, ROWS, COLUMNS)
    painted = carries & maps.any(axis=(1, 2))
    sigma = np.full((count, 2), np.nan)
    sigma[carries] = found.centre_sigma
    return ContactMaps(
        inside=maps,
        judged=(cells.weight > 0).astype(np.float32).reshape(maps.shape),
        painted=painted,
        centre_sigma=sigma,
        common_sigma=found.common_sigma,
        polarity=polarity,
        compound=compound.colour or "unknown",
    )
