"""The automatic finder: from a photo to the flanks of its teeth, painted ones first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from contactread.arrays import Singles
from contactread.axle import Axle, FlankName
from contactread.flank.close_look import look_twice
from contactread.flank.closeup import CloseUp
from contactread.flank.flank import Flank
from contactread.flank.gear_fit import Prior
from contactread.flank.rigid import fit_rigid
from contactread.flank.sight import Sight, look
from contactread.flank.teeth import agree, gather
from contactread.flank.verdict import nothing_seen
from contactread.photo.photo import Photo

MOST_TEETH = 8  # more of those seen from afar are not looked at closely
FEW_CELLS = 16.0  # fewer cells of contact say little about which flank shows the pattern
BOTH = 0.4  # a flank with that share of the other's contact shows a pattern of its own


@dataclass(frozen=True, eq=False)
class Found:
    """The flanks of one kind seen in a photo, in order round the gear.

    name_confidence: 0.5..1 that `name` (convex or concave) is right. flags: codes of contactread.flags.
    """

    name: FlankName
    name_confidence: float
    flanks: tuple[Flank, ...]
    closeups: tuple[CloseUp, ...]
    flags: tuple[str, ...]


def find_flanks(photo: Photo, name: FlankName | None = None, axle: Axle | None = None) -> Found:
    """The flanks that carry the pattern; of the kind asked for, or else of the kind that is seen best.

    axle: what its file says of the gear helps to place the teeth.

    Raises PhotoError where the photo shows no ring gear; whether what is found can be measured is for
    `contactread.flank.verdict` to say.
    """
    sight = look(photo.pixels)
    convex = _evidence(sight, sight.convex) >= _evidence(sight, sight.concave)
    chosen: FlankName = name or ("convex" if convex else "concave")
    teeth = gather(sight, getattr(sight, chosen))
    if not teeth:
        raise nothing_seen(sight.grey)
    painted = [float(sight.painted.ravel()[t.cells].mean()) for t in teeth]
    best = sorted(range(len(teeth)), key=lambda i: -painted[i] * teeth[i].weight.sum())[:MOST_TEETH]
    teeth = agree([teeth[i] for i in best])
    prior = Prior.of(axle)
    rigid = fit_rigid([t.seen for t in teeth], (photo.width, photo.height), prior, chosen)
    if rigid is None:
        raise nothing_seen(sight.grey)
    painted = [float(sight.painted.ravel()[t.cells].mean()) for t in teeth]
    worth = [p * t.weight.sum() for p, t in zip(painted, teeth, strict=True)]
    flanks, closeups = look_twice(photo, rigid.view, painted, worth, chosen, prior)
    if not flanks:
        raise nothing_seen(sight.grey)
    cells = np.concatenate([t.cells for t in teeth])
    patches = {kind: _contact_cells(sight, getattr(sight, kind)) for kind in ("convex", "concave")}
    both = name is None and min(patches.values()) > max(FEW_CELLS, BOTH * max(patches.values()))
    mine, other = getattr(sight, chosen), getattr(sight, "concave" if chosen == "convex" else "convex")
    sure = float(np.median(mine.ravel()[cells] / (mine.ravel()[cells] + other.ravel()[cells])))
    return Found(chosen, max(0.5, sure), tuple(flanks), tuple(closeups), ("both-flanks",) if both else ())


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
