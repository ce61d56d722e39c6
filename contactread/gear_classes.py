"""Gear sets by their class, where nobody has counted the teeth or measured the ring gear.

The classes of `shared/gear_classes.toml` are priors: each says between which numbers its sets lie.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from contactread.axle import GearSet
from contactread.facts import facts

if TYPE_CHECKING:
    import numpy as np

FIRST_FACTS = ("pinion_teeth", "ring_teeth", "ring_diameter_mm")
# By how much of itself a known number may lie outside a class and be of it yet, as a standard deviation: our
# own choice. Where it lies far outside all, the nearest one counts.
EDGE = 0.03
_RANGES = ("ratio", "ring_teeth", "ring_diameter_mm")


def supposed_set(known: Mapping[str, Any]) -> GearSet:
    """The gear set of these fields of GearSet. Teeth and diameter that aren't among them are those of the
    likeliest class, at its middle, and are named in `supposed`.
    """
    lacking = tuple(name for name in FIRST_FACTS if name not in known)
    if not lacking:
        return GearSet(**known)
    chances = _chances(known)
    likeliest = list(facts("gear_classes").values())[chances.index(max(chances))]
    middle = [sum(likeliest[key]) / 2 for key in _RANGES]
    return GearSet(**{**known, **_first_facts(known, *middle)}, supposed=lacking)


def drawn_set(gears: GearSet, random: np.random.Generator) -> GearSet:
    """The same gear set with what is supposed of it drawn from the classes."""
    known = {name: getattr(gears, name) for name in FIRST_FACTS if name not in gears.supposed}
    entries = list(facts("gear_classes").values())
    one = entries[int(random.choice(len(entries), p=_chances(known)))]
    drawn = [float(random.uniform(*one[key])) for key in _RANGES]
    return replace(gears, **_first_facts(known, *drawn), supposed=())


def _first_facts(
    known: Mapping[str, Any], ratio: float, ring_teeth: float, diameter_mm: float
) -> dict[str, Any]:
    """Teeth and diameter: what is known, the rest by these numbers."""
    pinion, ring = known.get("pinion_teeth"), known.get("ring_teeth")
    if ring is None:
        ring = round(ring_teeth if pinion is None else pinion * ratio)
    return {
        "pinion_teeth": round(ring / ratio) if pinion is None else pinion,
        "ring_teeth": ring,
        "ring_diameter_mm": known.get("ring_diameter_mm", diameter_mm),
    }


def _chances(known: Mapping[str, Any]) -> list[float]:
    """How likely a set of these numbers is of each class."""
    numbers = {key: known[key] for key in ("ring_teeth", "ring_diameter_mm") if key in known}
    if "ring_teeth" in known and "pinion_teeth" in known:
        numbers["ratio"] = known["ring_teeth"] / known["pinion_teeth"]
    logs = []
    for one in facts("gear_classes").values():
        outside = [
            max(one[key][0] - value, value - one[key][1], 0.0) / (EDGE * value)
            for key, value in numbers.items()
        ]
        logs.append(math.log(one["odds"]) - sum(each**2 for each in outside) / 2)
    weights = [math.exp(log - max(logs)) for log in logs]
    return [weight / sum(weights) for weight in weights]
