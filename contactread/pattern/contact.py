"""The seam between pictures and measuring: flat flanks in, contact maps out.

`contact_maps` is the classical reader. Anything else that turns flat flanks into `ContactMaps`, a small
network for one, can take its place in `contactread.reading.read`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, Singles, median
from contactread.flags import flag
from contactread.flank.flank import FlatFlank
from contactread.pattern.cells import COLUMNS, ROWS, Cells, cells_of
from contactread.pattern.compound import Compound, Polarity, find_compound, polarity_of
from contactread.pattern.ellipse import cover
from contactread.pattern.outline import outlines
from contactread.pattern.quality import agreement, mean_of
from contactread.pattern.rolled import (
    ALL_WHOLE,
    covered,
    never_rolled,
    peak_of,
    rolled_by_network,
    seen_by_network,
    shown_whole,
    shows_own,
)
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
    (teeth,) whether the tooth carries compound; wet: (teeth,) whether it was never rolled through the mesh.
    `inside` is zero where a tooth shows no patch of its own. centre_sigma: (teeth, 2), standard uncertainty
    of each tooth's centre in u and v, from the evidence alone; common_sigma: (2,), of what all teeth share.
    gain, own, agreement, peak, paint: see `contactread.pattern.quality.Evidence`. polarity, compound: see
    `contactread.pattern.measures.Side`.
    """

    inside: Singles
    judged: Singles
    painted: NDArray[np.bool_]
    wet: NDArray[np.bool_]
    centre_sigma: Floats
    common_sigma: Floats
    gain: float
    own: float
    agreement: float
    peak: float
    paint: float
    polarity: Polarity
    compound: str


ContactReader = Callable[[Sequence[FlatFlank]], ContactMaps]


def contact_maps(flats: Sequence[FlatFlank]) -> ContactMaps:
    """Contact, told from compound and steel by what all painted teeth share.

    Raises PhotoError: no-compound, no-pattern, not-rolled.
    """
    cells = cells_of(flats)
    compound = _with_network(find_compound(cells), flats)
    if compound.colour == "white":
        cells = cells.for_white()
    voted = _voted(cells, compound, flats)
    chosen, found = voted.cells, voted.vote
    inside = outlines(found, chosen) * shows_own(found)[:, None]
    return _all_teeth(flats, cells, compound, voted, inside)


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


@dataclass(frozen=True, eq=False)
class _Voted:
    """The vote of the teeth that were rolled. rolled, wet: (teeth,); cells: the evidence of the rolled
    ones.
    """

    rolled: NDArray[np.bool_]
    wet: NDArray[np.bool_]
    cells: Cells
    vote: Vote
    polarity: Polarity


def _voted(cells: Cells, compound: Compound, flats: Sequence[FlatFlank]) -> _Voted:
    """The teeth that carry compound and were rolled, and their vote; amid slop, the most painted only."""
    if not (compound.load > _LOADS[0]).any():
        raise flag("no-compound").refusal()
    for least in _LOADS:
        voted = _rolled_vote(cells, compound, compound.load > least, flats)
        if voted is not None and _shows_pattern(voted.vote):
            break
    else:
        if compound.colour == "white":
            raise flag("no-compound").refusal()
        whole = covered(cells, compound)[compound.load > _LOADS[0]]
        raise flag("not-rolled" if median(whole) > ALL_WHOLE else "no-pattern").refusal()
    if compound.colour == "white" and voted.vote.firm_gain.mean() < _LEAST_GAIN_WHITE:
        raise flag("no-compound").refusal()
    return voted


def _rolled_vote(
    cells: Cells, compound: Compound, carries: NDArray[np.bool_], flats: Sequence[FlatFlank]
) -> _Voted | None:
    """The vote of the painted teeth that were rolled: without those that the network or their own pixels show
    whole; None where fewer than two are left of several, or the network sees a patch on fewer.
    """
    rolled = carries & rolled_by_network(flats)
    if (rolled & seen_by_network(flats)).sum() < min(2, carries.sum()):
        return None
    for last in (False, False, True):
        if rolled.sum() < min(2, carries.sum()):
            return None
        chosen = cells.of(rolled)
        found = vote(chosen, likely_patches(chosen))
        mine = replace(compound, amount=compound.amount[rolled])
        inside = cover(found.own)
        polarity = polarity_of(mine, chosen.weight, inside, found.picture_gain)
        out = never_rolled(chosen, mine, found, inside, polarity)
        lone = shows_own(found)
        if not out.any() and not _shows_pattern(found) and lone.sum() < (~lone).sum():
            out = lone  # a few that show the other way round, wiped among prints, outvote the rest
        if last or not out.any():
            break
        rolled[rolled] = ~out
    wet = carries & ~rolled & shown_whole(cells, compound, cover(found.shared[None])[0], polarity)
    return _Voted(rolled, wet, chosen, found, polarity)


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
    flats: Sequence[FlatFlank], cells: Cells, compound: Compound, voted: _Voted, inside: Singles
) -> ContactMaps:
    """The maps of the rolled teeth at their places among all."""
    rolled, found = voted.rolled, voted.vote
    maps = np.zeros((len(rolled), ROWS, COLUMNS), np.float32)
    maps[rolled] = inside.reshape(-1, ROWS, COLUMNS)
    shown = inside.any(axis=1)
    told = [(flats[k], mine) for k, mine in zip(np.flatnonzero(rolled)[shown], inside[shown], strict=True)]
    asked = [flat for flat, _ in told if flat.contact is not None]
    same = [
        agreement(cv2.resize(flat.contact, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA).ravel(), mine)
        for flat, mine in told
        if flat.contact is not None
    ]
    sigma = np.full((len(rolled), 2), np.nan)
    sigma[rolled] = found.centre_sigma
    return ContactMaps(
        inside=maps,
        judged=(cells.weight > 0).astype(np.float32).reshape(maps.shape),
        painted=maps.any(axis=(1, 2)) | voted.wet,
        wet=voted.wet,
        centre_sigma=sigma,
        common_sigma=found.common_sigma,
        gain=float(found.gain[shown].mean()),
        own=float(found.picture_gain[shown].mean()),
        agreement=mean_of(same, 0.5),
        peak=mean_of([peak_of(flat) for flat in asked], 1.0),
        paint=mean_of([flat.painted for flat in asked if flat.painted is not None], 1.0),
        polarity=voted.polarity,
        compound=compound.colour or "unknown",
    )
