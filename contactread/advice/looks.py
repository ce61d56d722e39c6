"""Several looks at the same shims: what each adds, and what doesn't go with the newest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from contactread.belief.tries import DIAL_SIGMA_MM, PLACES, EarlierTry, sides_of, sigma_of
from contactread.patch import Edge
from contactread.pattern.measures import Setup, Side

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


def off_in_height(setup: Setup) -> set[Edge]:
    """Whether a pattern runs off root or top, or both."""
    return {edge for side in (setup.drive, setup.coast) for edge in side.runs_off} & {"root", "top"}


def looked_again(setup: Setup, history: Sequence[EarlierTry]) -> Setup:
    """The set-up with what the tries since the last move saw of it, weighted by their certainty."""
    same = [setup]
    for earlier in reversed(history):
        if moved(earlier):
            break
        same.append(earlier.setup)
    if len(same) == 1:
        return setup
    return replace(
        setup,
        drive=_together([one.drive for one in same]),
        coast=_together([one.coast for one in same]),
    )


def _together(sides: Sequence[Side]) -> Side:
    """The latest side, its centre and doubt from all of them."""
    centres, sigmas = [], []
    for axis in (0, 1):
        weights = [sigma_of(side)[axis] ** -2 for side in sides]
        centres.append(sum(w * s.centre[axis] for w, s in zip(weights, sides, strict=True)) / sum(weights))
        sigmas.append(sum(weights) ** -0.5)
    return replace(sides[0], centre=(centres[0], centres[1]), sigma=(sigmas[0], sigmas[1]))
