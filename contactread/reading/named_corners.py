"""Corners marked by hand, held against what the finder's network sees: are they named as the teeth lie?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from contactread.arrays import Floats
from contactread.errors import CornersError
from contactread.flank.flank import Flank
from contactread.flank.sight import INPUT_WIDTH, Sight, look
from contactread.photo.photo import Photo

# Our choices. With true corners both slopes are 0.5 or more on the 32 sample photos, and with names exchanged
# as far below zero.
_LEAST_TEETH = 2
_LEAST_CELLS = 12  # of the network's grid on a flank; one with fewer tells nothing
_ENOUGH = 100.0  # pixels from toe to heel in the network's picture; larger teeth are looked at smaller
_ON_FLANK = 0.5  # chance from which a cell lies on a flank
_AGAINST = -0.25  # slope of the network's u or v over the marked one from which names are exchanged


def refuse_misnamed(photo: Photo, marked: Sequence[Flank]) -> None:
    """Raise CornersError corners-misnamed where root and top, or toe and heel, are named the other way round
    than the network sees them: the pattern would be read upside down, and the wrong shim moved.

    One look of the network, without a search for the gear: where it sees u and v rise on the marked flanks.
    """
    length = float(np.median([flank.length_px for flank in marked]))
    usual = length * INPUT_WIDTH / max(photo.pixels.shape[:2])  # pixels of the network's picture
    sight = look(photo.pixels, share=float(np.clip(_ENOUGH / max(usual, 1.0), 0.5, 1.0)))
    told = [cells for flank in marked if len(cells := _cells(sight, flank)) >= _LEAST_CELLS]
    if len(told) < _LEAST_TEETH:
        return
    marked_u, marked_v, seen_u, seen_v = np.concatenate([each - each.mean(0) for each in told]).T
    by_hand = np.stack([marked_u, marked_v], 1)
    slopes = [np.linalg.lstsq(by_hand, seen, rcond=None)[0][k] for k, seen in enumerate((seen_u, seen_v))]
    against = [slope < _AGAINST for slope in slopes]
    if not any(against):
        return
    named = " and ".join(
        words for words, wrong in zip(("toe and heel", "root and top"), against, strict=True) if wrong
    )
    raise CornersError(
        "corners-misnamed",
        f"The photo shows {named} the other way round than the marked corners are named.",
        "Toe is the inner end of the tooth and heel the outer, root the bottom and top the tip: check the "
        "names. If they are right, say which flank is seen, with --flank convex or --flank concave.",
    )


def _cells(sight: Sight, flank: Flank) -> Floats:
    """Of the cells on a marked flank: u and v as marked, u and v as the network sees them, (cells, 4)."""
    middle, along, up = _lie(flank)
    across = along[0] * up[1] - along[1] * up[0]
    if abs(across) < 1e-6:
        return np.empty((0, 4))
    off = sight.place - middle
    u = (off[..., 0] * up[1] - off[..., 1] * up[0]) / across
    v = (along[0] * off[..., 1] - along[1] * off[..., 0]) / across
    seen = np.maximum(sight.convex, sight.concave) > _ON_FLANK
    cells = seen & (np.abs(u) < 0.5) & (np.abs(v) < 0.5)
    return np.stack([u[cells], v[cells], sight.u[cells], sight.v[cells]], 1).astype(float)


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
