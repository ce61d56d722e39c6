"""What is less than good about a photo or its reading, in the words of contactread.flags."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from contactread.flank.flank import Flank, FlatFlank
from contactread.pattern.measures import Side

_GLARE_SHARE = 0.06  # of the seen flank, burnt out
_DARK_LEVEL = 60  # of 255: the bright end of the flanks
_CUT_SHARE = 0.25  # of a flank that leaves the picture or is hidden
_SMALL_PX, _SLANT = 110.0, 0.10  # flank length; height over length in the picture
_SCATTER = (0.06, 0.10)  # tooth to tooth, shares of length and height: twice the usual
_SURE_SIDE = 0.9


def flags_of(flats: Sequence[FlatFlank], side: Side, name_confidence: float) -> tuple[str, ...]:
    """Codes of the flags that go with a reading, from the flats of the measured teeth."""
    seen = [flat.pixels[::6, ::6][flat.seen[::6, ::6]] for flat in flats]
    seen = [pixels for pixels in seen if len(pixels)]
    glare = float(np.mean([(pixels.min(axis=1) >= 250).mean() for pixels in seen])) if seen else 0.0
    bright = float(np.median([np.percentile(pixels.max(axis=1), 90) for pixels in seen])) if seen else 0.0
    hidden = np.array([1 - flat.seen.mean() for flat in flats])
    length = float(np.median([flat.flank.length_px for flat in flats]))
    height = float(np.median([flat.flank.height_px for flat in flats]))
    checks = {
        "glare": glare > _GLARE_SHARE,
        "dark": bright < _DARK_LEVEL,
        "cut-off": bool((hidden > _CUT_SHARE).any()),
        "few-teeth": len(flats) < 3,
        "small-teeth": length < _SMALL_PX,
        "oblique": height < _SLANT * length,
        "scatter": len(flats) > 2 and (side.spread[0] > _SCATTER[0] or side.spread[1] > _SCATTER[1]),
        "flank-uncertain": name_confidence < _SURE_SIDE,
    }
    return tuple(code for code, applies in checks.items() if applies)


def reading_confidence(flanks: Sequence[Flank], side: Side, name_confidence: float) -> float:
    """0..1: how sure the flanks, the side and the patch's place are, all together."""
    maps = float(np.mean([flank.confidence for flank in flanks]))
    place = float(np.exp(-((side.sigma[0] / 0.06) ** 2) - (side.sigma[1] / 0.12) ** 2))
    return float(np.clip(maps * name_confidence * place, 0, 1))
