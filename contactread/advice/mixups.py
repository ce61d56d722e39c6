"""After a move: did the gears answer as they must? If not, which mix-up explains it best.

Each suspected mix-up (shim left out, thicker and thinner confused, side shims on swapped sides, photos
exchanged) is taken as true for the last move, and the readings say how well it explains them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from contactread.belief.linear import Candidates, Observation, Prior, update

# How often each mix-up is taken to happen before anything is seen: our own supposition, no source.
PRIOR_ODDS = 0.01
# A mix-up is told where it is at least this much likelier than that all went as told.
TELL_ODDS = 10.0
SWAP = [2, 3, 0, 1, 4]


@dataclass(frozen=True)
class MixUp:
    """A mix-up that explains the last try better than the move as told. rule: in `shared/rules.toml`.

    odds: how much likelier it is than the move as told.
    """

    rule: str
    odds: float


def find_mixup(candidates: Candidates, prior: Prior, observations: Sequence[Observation]) -> MixUp | None:
    """The likeliest mix-up in the last move; None where the move as told explains the readings."""
    if len(observations) < 2:
        return None
    *earlier, last = observations
    before = earlier[-1].moved_mm
    pinion, ring = last.moved_mm[0] - before[0], last.moved_mm[1] - before[1]

    def evidence(observation: Observation) -> float:
        return update(candidates, prior, [*earlier, observation]).log_evidence

    def moved(p: float, g: float) -> Observation:
        return replace(last, moved_mm=(before[0] + p, before[1] + g))

    suspects: dict[str, list[Observation]] = {"photos-swapped": [_swapped(last)]}
    if pinion:
        suspects["did-not-move"] = [moved(0.0, ring)]
        suspects["moved-wrong-way"] = [moved(-pinion, ring)]
    dial_read = not np.all(np.isnan(last.measures[:, 4]))
    if ring and dial_read:
        suspects["backlash-did-not-follow"] = [moved(pinion, 0.0), moved(pinion, -ring)]
    if pinion and ring:
        suspects["did-not-move"].append(moved(0.0, 0.0))
        suspects["moved-wrong-way"].append(moved(-pinion, -ring))
    better = {rule: max(map(evidence, tries)) for rule, tries in suspects.items()}
    rule = max(better, key=lambda name: better[name])
    odds = PRIOR_ODDS * float(np.exp(min(better[rule] - evidence(last), 50.0)))
    return MixUp(rule, odds) if odds >= TELL_ODDS else None


def _swapped(observation: Observation) -> Observation:
    return replace(observation, measures=observation.measures[:, SWAP], sigma=observation.sigma[SWAP])
