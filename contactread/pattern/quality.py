"""How sure a reading is: one number made of all the evidence there is.

The chance that the side is right and the centre within a tenth of the flank, each way, by a logistic model of
`Evidence`. Its weights were fitted to readings of rendered pictures that no network has learnt from
(`calibration.confidence` fits and checks them); what it promises there is no promise for real photos.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass
from typing import Literal

import numpy as np

from contactread.arrays import Floats, Singles
from contactread.axle import Interval
from contactread.patch import Point

Class = Literal["clear", "ordinary", "hard"]
LEAST_SURE = 0.55  # below it a reading is none: of such ones on unseen pictures more than half were wrong
SURE_ENOUGH = 0.6  # from which a shim may be moved by it
_ORDINARY = {"cut-off", "few-teeth"}
_HARMLESS = {"corners-by-hand", "both-flanks", "wet-teeth", "unlike-axle"}


@dataclass(frozen=True)
class Evidence:
    """What speaks for a reading.

    name: how sure the side is, log odds above even. gain: mean log likelihood that the measured teeth gain by
    having the patch; own: the same by the picture alone, without the network. agreement: how far the network
    and the vote see the patch in one place, 0..1, mean of the teeth; 0.5 where the network wasn't asked.
    peak: mean over them of the network's surest contact; paint: of its chance that they are painted; 1 where
    it wasn't asked. teeth: how many were measured. spread: of their centres, the larger of length and height.
    sigma: stated uncertainty of the centre, the larger. fit: how well the flanks fit one gear, 0..1.
    length_px: of a flank.
    """

    name: float
    gain: float
    own: float
    agreement: float
    peak: float
    paint: float
    teeth: float
    spread: float
    sigma: float
    fit: float
    length_px: float

    @property
    def features(self) -> Floats:
        """What the model weighs, each bounded, about 0 to 1 or 2."""
        name, gain, own, agreement, peak, paint, teeth, spread, sigma, fit, length = astuple(self)
        return np.array([
            np.clip(name, 0, 6) / 3,
            np.clip(np.log(max(gain, 0.1)), -1, 3) / 2,
            np.clip(np.log1p(max(own, 0.0)), 0, 2.5) / 2,
            agreement,
            peak,
            paint,
            np.clip(np.log(teeth), 0.7, 2),
            np.clip(spread / 0.1, 0, 2),
            np.clip(sigma / 0.1, 0, 2),
            fit,
            np.clip(np.log(length / 100), -1, 1.5),
        ])  # fmt: skip


def class_of(flags: Sequence[str], teeth: int) -> Class:
    """How well a photo can be read: clear, ordinary (teeth cut off, or two only), hard (anything else)."""
    told = set(flags) - _HARMLESS
    if told - _ORDINARY:
        return "hard"
    return "clear" if not told and teeth >= 3 else "ordinary"


def interval(centre: Point, sigma: Point, group: Class) -> tuple[Interval, Interval]:
    """Where nine centres in ten lie, in u and in v: split conformal intervals of that class of photos, as
    far as rendered ones tell that were read surely enough."""
    (u, v), (length, height) = centre, np.multiply(sigma, FACTORS[group]).tolist()
    return (u - length, u + length), (v - height, v + height)


def confidence(evidence: Evidence) -> float:
    """0..1, see above."""
    score = BIAS + float(evidence.features @ WEIGHTS)
    return float(1 / (1 + np.exp(-score)))


def name_odds(chance: float) -> float:
    """Log odds of a chance, within reason."""
    chance = min(max(chance, 0.5), 0.9999)
    return float(np.log(chance / (1 - chance)))


def agreement(network: Singles, vote: Singles) -> float:
    """Common share of two maps of contact (cells,), each 0..1: least over most."""
    most = float(np.maximum(network, vote).sum())
    return float(np.minimum(network, vote).sum()) / most if most > 0 else 0.0


def mean_of(values: Sequence[float], unknown: float) -> float:
    """Mean over the teeth that the network was asked about; `unknown` where it wasn't asked."""
    return float(np.mean(values)) if len(values) else unknown


FACTORS: dict[Class, Point] = {"clear": (1.5, 1.0), "ordinary": (1.5, 1.0), "hard": (1.5, 1.7)}
BIAS, WEIGHTS = -7.25, np.array([1.1, 2.03, 0.89, 2.63, 0.99, 0.25, 1.18, 0.25, -0.62, -0.01, 0.09])
