"""Several looks at the same shims: what each adds, and what doesn't go with the newest."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from contactread.belief.tries import EarlierTry, sides_of, sigma_of
from contactread.pattern.measures import Setup

# Centres farther apart than so many standard uncertainties of their difference aren't of the same shims: of
# four centres, one in a hundred looks is told so by chance. Our own choice.
APART = 3.0


def agreeing(setup: Setup, history: Sequence[EarlierTry]) -> list[EarlierTry]:
    """The history without those looks since the last move that show other patterns than this one."""
    since = len(history)
    while since and not (history[since - 1].pinion_mm or history[since - 1].ring_mm):
        since -= 1
    return [*history[:since], *(one for one in history[since:] if not differ(one.setup, setup))]


def differ(one: Setup, other: Setup) -> bool:
    """Whether two looks show patterns too far apart for the same shims."""
    others = sides_of(other)
    return any(
        bool(np.any(np.abs(np.subtract(side.centre, others[flank].centre))
                    > APART * np.hypot(sigma_of(side), sigma_of(others[flank]))))
        for flank, side in sides_of(one).items()
    )  # fmt: skip
