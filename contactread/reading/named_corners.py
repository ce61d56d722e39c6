"""Corners marked by hand, held against the teeth that the finder sees: are they named as the teeth lie?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from contactread.arrays import Floats
from contactread.errors import CornersError, PhotoError
from contactread.flank.finder import find_flanks
from contactread.flank.flank import Flank
from contactread.photo.photo import Photo

# Our choices. On the 32 sample photos the finder and true corners never differ, and it is 0.999 sure there.
_SURE = 0.95  # mean confidence of the finder's teeth from which its word counts against a hand's
_SAME_TOOTH = 0.15  # of the flank's length between two middles
_LEAST_TEETH, _MOST_OF_THEM = 2, 0.8


def refuse_misnamed(photo: Photo, marked: Sequence[Flank]) -> None:
    """Raise CornersError corners-misnamed where root and top, or toe and heel, are named the other way round
    than a finder that is sure sees them: the pattern would be read upside down, and the wrong shim moved.
    """
    try:
        seen = find_flanks(photo).flanks
    except PhotoError:
        return
    if not seen or np.mean([each.confidence for each in seen]) < _SURE:
        return
    against = [0, 0]
    teeth = 0
    for flank in marked:
        middle, along, up = _lie(flank)
        for other in seen:
            there, along_there, up_there = _lie(other)
            if np.linalg.norm(middle - there) < _SAME_TOOTH * np.linalg.norm(along_there):
                teeth += 1
                against[0] += bool(along @ along_there < 0)
                against[1] += bool(up @ up_there < 0)
    if teeth < _LEAST_TEETH or max(against) < _MOST_OF_THEM * teeth:
        return
    pairs = ("toe and heel", "root and top")
    named = " and ".join(words for words, count in zip(pairs, against, strict=True) if 2 * count > teeth)
    raise CornersError(
        "corners-misnamed",
        f"The photo shows {named} the other way round than the marked corners are named.",
        "Toe is the inner end of the tooth and heel the outer, root the bottom and top the tip: check the "
        "names. If they are right, say which flank is seen, with --flank convex or --flank concave.",
    )


def _lie(flank: Flank) -> tuple[Floats, Floats, Floats]:
    """Middle of a flank, its way from toe to heel and from root to top, in pixels."""
    toe_root, toe_top, heel_root, heel_top = (
        np.asarray(flank.corners[name], float) for name in ("toe_root", "toe_top", "heel_root", "heel_top")
    )
    middle = (toe_root + toe_top + heel_root + heel_top) / 4
    return (
        middle,
        (heel_root + heel_top - toe_root - toe_top) / 2,
        (toe_top + heel_top - toe_root - heel_root) / 2,
    )
