"""How sure a reading is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from contactread.flank.flank import Flank
from contactread.pattern.measures import Side


def reading_confidence(flanks: Sequence[Flank], side: Side, name_confidence: float) -> float:
    """0..1: how sure the flanks, the side and the patch's place are, all together."""
    maps = float(np.mean([flank.confidence for flank in flanks]))
    place = float(np.exp(-((side.sigma[0] / 0.06) ** 2) - (side.sigma[1] / 0.12) ** 2))
    return float(np.clip(maps * name_confidence * place, 0, 1))
