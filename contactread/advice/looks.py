"""Several looks at the same shims: what each adds, and what doesn't go with the newest."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from contactread.belief.tries import DIAL_SIGMA_MM, PLACES, EarlierTry, sides_of, sigma_of
from contactread.pattern.measures import Setup

# Centres farther apart than so many standard uncertainties of their difference aren't of the same shims: of
# four centres, one in a hundred looks is told so by chance. Our own choice.
APART = 3.0
# So far backlash may lie from its mean at one place of a sound ring gear: our own choice.
SOUND_SWING_MM = 0.05


def agreeing(setup: Setup, history: Sequence[EarlierTry]) -> list[EarlierTry]:
    """The history without those looks that show other patterns than the last one at the same shims."""
    kept: list[EarlierTry] = []
    newest = setup
    for one in reversed(history):
        if moved(one):
            newest = one.setup
        elif differ(one.setup, newest):
            continue
        kept.insert(0, one)
    return kept


def moved(one: EarlierTry) -> bool:
    """Whether a shim was moved after this try, so that it was the last look at its shims."""
    return one.pinion_mm != 0 or one.ring_mm != 0


def differ(one: Setup, other: Setup) -> bool:
    """Whether two looks show patterns, or a backlash, too far apart for the same shims."""
    if _dials_differ(one.backlash_mm, other.backlash_mm):
        return True
    others = sides_of(other)
    return any(
        bool(np.any(np.abs(np.subtract(side.centre, others[flank].centre))
                    > APART * np.hypot(sigma_of(side), sigma_of(others[flank]))))
        for flank, side in sides_of(one).items()
    )  # fmt: skip


def _dials_differ(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """Whether two means of backlash lie too far apart. Where one wasn't read all round, a ring gear that runs
    out as far as sound ones do may make the difference.
    """
    if not one or not other:
        return False
    repeats = DIAL_SIGMA_MM * float(np.hypot(len(one) ** -0.5, len(other) ** -0.5))
    swing = 0.0 if min(len(one), len(other)) >= PLACES else SOUND_SWING_MM
    return abs(float(np.mean(one)) - float(np.mean(other))) > APART * repeats + swing
