"""Gear sets that could be the user's: what isn't known is drawn within its spread."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from contactread.axle import Axle, EaseOff
from contactread.errors import MechanicsError
from contactread.mesh.blank import blank_of
from contactread.mesh.estimate import Estimate, GearInputs, gear_inputs
from contactread.mesh.response import FILM_MM, MeshModel, usual_ease_off

# Standard deviations where the axle file says nothing; our own suppositions. Logarithms, but for bias.
RELIEF_SPREAD = 0.5
BIAS_SPREAD = 0.3  # of the profile relief


def alternatives(axle: Axle, count: int = 24, seed: int = 0) -> list[MeshModel]:
    """Up to `count` models of `axle`, each with its own draw of every number that isn't given.

    Where the cutting method is unknown, half are face hobbed. Draws that can't be built are left out.
    Where everything is given they are all the same. About 3 ms each.
    """
    random = np.random.default_rng(seed)
    models = []
    for index in range(count):
        gears = axle.gears
        if gears.cutting == "unknown":
            gears = replace(gears, cutting="face_hobbed" if index % 2 else "face_milled")
        try:
            inputs = _drawn(gear_inputs(gears), random)
            ease_off = axle.ease_off or _drawn_relief(usual_ease_off(blank_of(gears, inputs=inputs)), random)
            models.append(MeshModel(replace(axle, gears=gears), ease_off, FILM_MM, inputs=inputs))
        except MechanicsError:
            continue
    return models


def _drawn(inputs: GearInputs, random: np.random.Generator) -> GearInputs:
    values: dict[str, Any] = {}
    for name, estimate in inputs.estimated().items():
        shift = float(np.clip(random.normal(), -2, 2)) * estimate.spread
        values[name] = Estimate(max(estimate.value + shift, 0.0), 0.0, False)
    return replace(inputs, **values)


def _drawn_relief(usual: EaseOff, random: np.random.Generator) -> EaseOff:
    length, profile = np.exp(RELIEF_SPREAD * random.normal(size=2))
    return EaseOff(
        usual.lengthwise_mm * float(length),
        usual.profile_mm * float(profile),
        usual.bias_mm + BIAS_SPREAD * usual.profile_mm * float(random.normal()),
    )
