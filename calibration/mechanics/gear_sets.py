"""Invented gear sets for trying the mechanics on: wide ranges of what axles are built with."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from contactread.axle import Axle, EaseOff, GearSet
from contactread.errors import MechanicsError
from contactread.mesh.response import MeshModel

BIASES = (-0.6, 0.0, 0.6)  # of the profile relief


def drawn_gears(random: np.random.Generator, hobbed: bool) -> GearSet:
    """One gear set: ratio 2.6 to 4.9, ring gear 150 to 300 mm, with or without offset."""
    pinion = int(random.integers(8, 16))
    diameter = float(random.uniform(150, 300))
    offset = 0.0 if random.uniform() < 0.25 else float(random.uniform(0.05, 0.2)) * diameter
    return GearSet(
        pinion_teeth=pinion,
        ring_teeth=round(pinion * float(random.uniform(2.6, 4.9))),
        ring_diameter_mm=diameter,
        face_width_mm=diameter * float(random.uniform(0.13, 0.17)),
        offset_mm=offset,
        spiral_deg=float(random.uniform(28, 38)) - (6 if offset else 0),
        pressure_angle_deg=float(random.uniform(19, 22.5)),
        cutter_radius_mm=diameter * float(random.uniform(0.36, 0.6)),
        cutter_groups=int(random.integers(9, 18)) if hobbed else None,
        cutting="face_hobbed" if hobbed else "face_milled",
    )


def built_models(count: int, hobbed: bool, seed: int) -> Iterator[MeshModel]:
    """`count` models that can be built, from drawn gear sets, with the usual relief."""
    random = np.random.default_rng(seed)
    made = 0
    while made < count:
        try:
            model = MeshModel(Axle(drawn_gears(random, hobbed)))
        except MechanicsError:
            continue
        made += 1
        yield model


def with_bias(model: MeshModel, bias: float) -> MeshModel:
    """The same gears with a bias of `bias` times the profile relief."""
    relief = model.ease_off
    return model.with_ease_off(EaseOff(relief.lengthwise_mm, relief.profile_mm, bias * relief.profile_mm))
