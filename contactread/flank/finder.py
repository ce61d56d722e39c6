"""The automatic finder: from a photo to the flanks of its teeth, painted ones first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from itertools import islice

import numpy as np

from contactread.arrays import Singles, median
from contactread.axle import Axle, FlankName
from contactread.flank.close_look import look_twice
from contactread.flank.flank import Found
from contactread.flank.gear_fit import Prior
from contactread.flank.gear_view import GearView
from contactread.flank.rigid import fit_rigid
from contactread.flank.second_look import suspected
from contactread.flank.sight import STRIDE, Sight, Window, look
from contactread.flank.teeth import CellTooth, agree, gather
from contactread.flank.verdict import PEAK, nothing_seen
from contactread.photo.photo import Photo

MOST_TEETH = 8  # more of those seen from afar are not looked at closely
MANY_CELLS = 600.0  # so many cells of flank are teeth, even where no ring gear can be made of them
BARE = 0.1  # share of painted ones among them up to which no compound was seen
FEW_CELLS = 16.0  # fewer cells of contact say little about which flank shows the pattern
SMALL = 96.0  # pixels of the first look's picture: shorter flanks are looked at closer
STRANGE = 3.5  # deviations from what ring gears are, of the number farthest off: another gear
MANY_TEETH = 6  # of so many, one may be mistaken: without it the gear must be less strange
USUAL_ENOUGH = 2.0  # the same, then; both our own choice
TIE = 1.75  # power of the flanks' ratio of evidence that goes into the doubt; set on unseen pictures
BOTH = 0.4  # a flank with that share of the other's contact shows a pattern of its own


def find_flanks(photo: Photo, name: FlankName | None = None, axle: Axle | None = None) -> Found:
    """The flanks that carry the pattern; of the kind asked for, or else of the kind that is seen best.

    axle: what its file says of the gear helps to place the teeth. Where the first look at the whole photo
    finds no teeth, or small ones, or none that shows a pattern, a second one looks closer at where painted
    flanks are suspected.

    Raises PhotoError where the photo shows no ring gear; whether what is found can be measured is for
    `contactread.flank.verdict` to say.
    """
    return _search(photo, cache(partial(look, photo.pixels)), Prior.of(axle), name)


def _search(
    photo: Photo, looks: Callable[[Window | None], Sight], prior: Prior, name: FlankName | None
) -> Found:
    """As `find_flanks`. looks: looks at the photo, once at each part of it."""
    other = partial(_search, photo, looks, prior)
    sight = looks(None)
    gear = _gear_in(photo, sight, name, prior)
    found = None
    if gear is not None and gear.length / sight.cell_px * STRIDE >= SMALL:
        found = _closely(photo, gear, name, prior, other)
        if found is not None and _promising(found):
            return found
    window = suspected(photo, sight, None if gear is None else gear.length)
    if window is not None:
        nearer = _gear_in(photo, looks(window), name, prior)
        second = None if nearer is None else _closely(photo, nearer, name, prior, other)
        if second is not None and (found is None or _promising(second)):
            return second
    if found is None and gear is not None:
        found = _closely(photo, gear, name, prior, other)
    if found is None:
        seen = sight.convex + sight.concave
        share = float((seen * sight.painted).sum() / max(seen.sum(), 1.0))
        raise nothing_seen(sight.grey, bare=bool(seen.sum() > MANY_CELLS and share < BARE))
    return found


@dataclass(frozen=True, eq=False)
class _Gear:
    """A gear as one look sees it. name: the flank that shows; painted, rolled: of its teeth, by that look."""

    sight: Sight
    name: FlankName
    teeth: list[CellTooth]
    painted: list[float]
    rolled: list[float]
    view: GearView

    @property
    def length(self) -> float:
        """Of a flank, in pixels of the photo."""
        return float(median([tooth.length for tooth in self.teeth]))


def _gear_in(photo: Photo, sight: Sight, name: FlankName | None, prior: Prior) -> _Gear | None:
    """The gear that a look shows, if any; its flanks of the kind asked for, or else of the kind seen best, of
    which a gear can be made. Where both kinds show a pattern, that is the one that covers more."""
    weigh = _covered if _both_show(sight) else _evidence
    convex = weigh(sight, sight.convex) >= weigh(sight, sight.concave)
    kinds: tuple[FlankName, ...] = ("convex", "concave") if convex else ("concave", "convex")
    found = (_gear_of(photo, sight, kind, prior) for kind in ((name,) if name else kinds))
    return next((gear for gear in found if gear is not None), None)


def _gear_of(photo: Photo, sight: Sight, kind: FlankName, prior: Prior) -> _Gear | None:
    """The gear whose flanks of this kind a look shows, if any."""
    teeth = gather(sight, getattr(sight, kind))
    if not teeth:
        return None
    told = [_told(sight, tooth) for tooth in teeth]
    best = sorted(range(len(teeth)), key=lambda i: -told[i])[:MOST_TEETH]
    teeth = agree([teeth[i] for i in best])
    teeth, view = _believable(teeth, (photo.width, photo.height), prior, kind)
    if view is None:
        return None
    rolled = sight.painted * (1 - sight.unrolled)
    painted, shares = (
        [float(plane.ravel()[t.cells].mean()) for t in teeth] for plane in (sight.painted, rolled)
    )
    return _Gear(sight, kind, teeth, painted, shares, view)


def _believable(
    teeth: list[CellTooth], size: tuple[int, int], prior: Prior, kind: FlankName
) -> tuple[list[CellTooth], GearView | None]:
    """The teeth and the gear they make; where it would be a strange one, without the tooth that makes it so.
    No view where it stays strange."""
    for left_out in (None, *range(len(teeth) if len(teeth) >= MANY_TEETH else 0)):
        kept = [tooth for at, tooth in enumerate(teeth) if at != left_out]
        rigid = fit_rigid([tooth.seen for tooth in kept], size, prior, kind)
        if rigid is not None and prior.strangeness(rigid.view) <= (
            STRANGE if left_out is None else USUAL_ENOUGH
        ):
            return kept, rigid.view
    return teeth, None


def _told(sight: Sight, tooth: CellTooth) -> float:
    """How much a tooth is likely to tell of the pattern: what is seen of it, if it is painted and rolled."""
    rolled = sight.painted.ravel()[tooth.cells] * (1 - sight.unrolled.ravel()[tooth.cells])
    return float(rolled.mean() * tooth.weight.sum())


def _closely(
    photo: Photo, gear: _Gear, name: FlankName | None, prior: Prior, search: Callable[[FlankName], Found]
) -> Found | None:
    """The gear's flanks seen close up; None where nothing of them is seen. search: for the other kind."""
    sight, chosen = gear.sight, gear.name
    worth = [_told(sight, tooth) for tooth in gear.teeth]
    flanks, closeups, unlike = look_twice(
        photo, gear.view, gear.painted, gear.rolled, worth, chosen, prior, sight
    )
    if not flanks:
        return None
    cells = np.concatenate([t.cells for t in gear.teeth])
    both = name is None and _both_show(sight)
    opposite: FlankName = "concave" if chosen == "convex" else "convex"
    mine, other = getattr(sight, chosen), getattr(sight, opposite)
    sure = float(median(mine.ravel()[cells] / (mine.ravel()[cells] + other.ravel()[cells])))
    if name is None and not both:  # a near tie between the flanks leaves their choice open
        tie = _evidence(sight, other) / max(_evidence(sight, mine), 1e-9)
        sure = min(sure, 1 - 0.5 * min(tie, 1.0) ** TIE)
    further = partial(search, opposite) if both else None
    flags = ("unlike-axle",) if unlike else ()
    return Found(chosen, max(0.5, sure), tuple(flanks), tuple(closeups), flags, further)


def _promising(found: Found) -> bool:
    """Whether two painted teeth show contact."""
    shown = (c for c in found.closeups if c.painted_chance > 0.5 and c.contact_peak > PEAK)
    return len(list(islice(shown, 2))) == 2


def _both_show(sight: Sight) -> bool:
    """Whether flanks of both kinds show contact."""
    low, high = sorted((_contact_cells(sight, sight.convex), _contact_cells(sight, sight.concave)))
    return low > max(FEW_CELLS, BOTH * high)


def _covered(sight: Sight, chance: Singles) -> float:
    """How many cells flanks of one kind cover, painted ones first."""
    return float(chance.sum() + 4 * (chance * sight.painted).sum())


def _evidence(sight: Sight, chance: Singles) -> float:
    """How much of the photo shows flanks of one kind, painted ones and those with a contact patch above all.

    The square root of (cells of flank) x (cells of painted flank) x (cells of contact, and a few).
    """
    painted = chance * sight.painted
    contact = FEW_CELLS + _contact_cells(sight, chance)
    return float(np.sqrt(chance.sum() * painted.sum() * contact))


def _contact_cells(sight: Sight, chance: Singles) -> float:
    """How many cells lie in contact patches of painted flanks of one kind."""
    return float((chance * sight.painted)[sight.contact > 0.5].sum())
