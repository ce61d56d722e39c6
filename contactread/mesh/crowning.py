"""From the patterns back to the gears: where they stand, and how much relief this set has.

A patch's size and tilt tell the relief, its place tells where the gears stand. Both flanks are fitted
together with the full model, since neighbouring pairs and edges cut a patch shorter than sqrt(film / relief)
would have it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from contactread.axle import Axle, EaseOff, FlankName, Interval
from contactread.errors import MechanicsError
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import FLANKS, MeshModel
from contactread.pattern.measures import Side

Floats = NDArray[np.float64]
Residual = Callable[[Floats], Floats | None]

# What a reading and the model together may be off by (one standard deviation).
_EXTENT_SIGMA = (0.04, 0.06)  # of length, of height
_TILT_SIGMA = 6.0  # degrees
# What is known before: gears within a few tenths, relief within a factor of two or so. Our suppositions.
_PLACE_SIGMA_MM = 0.2
_RELIEF_SIGMA = 0.7  # logarithm
_BIAS_SIGMA = 0.5  # of the profile relief
_STEPS = np.array([0.01, 0.01, 0.05, 0.05, 0.05])
_ROUNDS = 8


@dataclass(frozen=True)
class Measured:
    """A measured patch: centre and its standard deviation, extents, tilt; flank coordinates, degrees."""

    centre: tuple[float, float]
    length: Interval
    height: Interval
    tilt_deg: float | None = None
    sigma: tuple[float, float] = (0.02, 0.04)

    @classmethod
    def of(cls, side: Side) -> Measured:
        """From a read side."""
        return cls(side.centre, side.length, side.height, side.tilt_deg, side.sigma)


@dataclass(frozen=True)
class Crowning:
    """What the patterns say of this set. model: with the fitted relief. place: of the gears, mm.

    place_sigma: standard deviations of (pinion, ring), mm. relief_sigma: of the logarithms of lengthwise
    and profile relief, and of bias / profile. misfit: root mean square of what is left, in standard
    deviations; well above 1 where no place and relief explains both patterns.
    """

    model: MeshModel
    place: Displacement
    place_sigma: tuple[float, float]
    relief_sigma: tuple[float, float, float]
    misfit: float


def model_from_pattern(
    axle: Axle, measured: Mapping[FlankName, Measured], model: MeshModel | None = None
) -> Crowning:
    """Fit place and relief to the measured patches of one or both flanks. About 0.1 s.

    Gauss-Newton with priors. model: gears to start from (default: `axle` with what isn't known estimated).
    A relief that the axle file gives is kept near it. Raises MechanicsError as MeshModel does, and
    `no-fit` where no patch can be made to lie there.
    """
    start = model or MeshModel(axle)
    base = start.ease_off
    prior = np.array([_PLACE_SIGMA_MM, _PLACE_SIGMA_MM, _RELIEF_SIGMA, _RELIEF_SIGMA, _BIAS_SIGMA])
    prior[:2] *= axle.gears.ring_diameter_mm / 200
    if axle.ease_off is not None:
        prior[2:] *= 0.2
    target, sigma = _targets(measured)

    def residual(x: Floats) -> Floats | None:
        seen = _seen(start.with_ease_off(_relief(base, x)), x, measured)
        return None if seen is None else np.concatenate([(seen - target) / sigma, x / prior])

    x, now = _first(residual)
    for _ in range(_ROUNDS):
        columns = []
        for k, step in enumerate(_STEPS):
            ahead = residual(x + step * np.eye(5)[k])
            columns.append(np.zeros_like(now) if ahead is None else (ahead - now) / step)
        slope = np.stack(columns, axis=1)
        move = np.linalg.lstsq(slope, -now, rcond=None)[0]
        better = _shortened(residual, x, now, move)
        if better is None:
            break
        gain = float(now @ now - better[1] @ better[1])
        x, now = better
        if gain < 1e-3:
            break
    spread = np.sqrt(np.diag(np.linalg.inv(slope.T @ slope)))
    seen_part = now[: target.size]
    return Crowning(
        start.with_ease_off(_relief(base, x)),
        Displacement(float(x[0]), float(x[1])),
        (float(spread[0]), float(spread[1])),
        (float(spread[2]), float(spread[3]), float(spread[4])),
        float(np.sqrt(np.mean(seen_part**2))),
    )


def _first(residual: Residual) -> tuple[Floats, Floats]:
    """A start at which every measured flank has a patch."""
    for place in ((0.0, 0.0), (0.0, 0.1), (0.0, -0.1), (0.1, 0.0), (-0.1, 0.0)):
        x = np.array([*place, 0.0, 0.0, 0.0])
        found = residual(x)
        if found is not None:
            return x, found
    raise MechanicsError(
        "no-fit",
        "With these gears no contact patch comes near the measured ones.",
        "Check the axle file and which photo shows which side.",
    )


def _shortened(residual: Residual, x: Floats, now: Floats, move: Floats) -> tuple[Floats, Floats] | None:
    """The longest of move, half of it, a quarter ... that fits better; None where none does."""
    limit = np.array([0.3, 0.3, 0.7, 0.7, 0.6])
    move = move / max(1.0, float(np.abs(move / limit).max()))
    for _ in range(5):
        found = residual(x + move)
        if found is not None and found @ found < now @ now:
            return x + move, found
        move = move / 2
    return None


def _relief(base: EaseOff, x: Floats) -> EaseOff:
    profile = base.profile_mm * float(np.exp(x[3]))
    return EaseOff(base.lengthwise_mm * float(np.exp(x[2])), profile, base.bias_mm + float(x[4]) * profile)


def _targets(measured: Mapping[FlankName, Measured]) -> tuple[Floats, Floats]:
    target: list[float] = []
    sigma: list[float] = []
    for flank in FLANKS:
        m = measured.get(flank)
        if m is None:
            continue
        target += [*m.centre, m.length[1] - m.length[0], m.height[1] - m.height[0]]
        sigma += [*m.sigma, *_EXTENT_SIGMA]
        if m.tilt_deg is not None:
            target.append(m.tilt_deg)
            sigma.append(_TILT_SIGMA)
    return np.array(target), np.array(sigma)


def _seen(model: MeshModel, x: Floats, measured: Mapping[FlankName, Measured]) -> Floats | None:
    at = Displacement(float(x[0]), float(x[1]))
    out: list[float] = []
    for flank in FLANKS:
        m = measured.get(flank)
        if m is None:
            continue
        patch = model.patch(flank, at)
        if patch is None:
            return None
        out += [*patch.centre, patch.length[1] - patch.length[0], patch.height[1] - patch.height[0]]
        if m.tilt_deg is not None:
            out.append(patch.tilt_deg)
    return np.array(out)
