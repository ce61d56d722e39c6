"""Ratio and tooth counts from each other."""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd

from contactread.errors import QuantityError

# Tooth counts of ring-and-pinion sets that road and machine axles use: common practice, no source.
PINION_TEETH = range(5, 22)
RING_TEETH = range(25, 64)


@dataclass(frozen=True)
class ToothCounts:
    """One pair of tooth counts.

    ratio: ring over pinion. hunting: the counts share no factor, so that every tooth meets every other.
    """

    pinion: int
    ring: int

    @property
    def ratio(self) -> float:
        return self.ring / self.pinion

    @property
    def hunting(self) -> bool:
        return gcd(self.pinion, self.ring) == 1


def ratio_of(pinion_teeth: int, ring_teeth: int) -> float:
    """Ring teeth over pinion teeth. Raises QuantityError tooth-count."""
    if pinion_teeth < 1 or ring_teeth <= pinion_teeth:
        raise QuantityError(
            "tooth-count",
            f"{pinion_teeth} pinion and {ring_teeth} ring-gear teeth make no reduction.",
            "Count both gears again: the ring gear has more teeth.",
        )
    return ring_teeth / pinion_teeth


def counts_for(
    ratio: float, ring_teeth: int | None = None, pinion_teeth: int | None = None
) -> list[ToothCounts]:
    """Tooth counts whose ratio, shown to two places, is the one given; nearest and hunting ones first.

    Give what was counted to narrow it. Raises QuantityError ratio-range, ratio-no-counts.
    """
    if not 1.5 <= ratio <= 12:
        raise QuantityError(
            "ratio-range",
            f"A ratio of {ratio:g} isn't one of a ring and pinion.",
            "Give ring-gear teeth over pinion teeth, such as 3.73.",
        )
    rings = [ring_teeth] if ring_teeth else RING_TEETH
    pinions = [pinion_teeth] if pinion_teeth else PINION_TEETH
    found = [
        ToothCounts(pinion, ring)
        for pinion in pinions
        for ring in rings
        if abs(ring / pinion - ratio) <= 0.005 + 1e-9
    ]
    if not found:
        raise QuantityError(
            "ratio-no-counts",
            f"No usual tooth counts give a ratio of {ratio:g} to two places.",
            "Count the teeth of both gears.",
        )
    return sorted(found, key=lambda c: (not c.hunting, abs(c.ratio - ratio), abs(c.ring - 41)))
