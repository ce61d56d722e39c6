"""What single values of the gear set can't show: whether they go together."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from contactread import units

# How far the height falls to the toe; the computed blanks fall by 0.26 and more.
_UNIFORM, _TAPERED = 0.05, 0.15


def cut_by_depth(gears: dict[str, Any]) -> list[str]:
    """Tell the cutting method by both tooth heights where it is unknown; what contradicts them."""
    heel, toe = gears.get("depth_heel_mm"), gears.get("depth_toe_mm")
    if heel is None or toe is None:
        return []
    fall = 1 - toe / heel
    if fall < -_UNIFORM:
        return ["gears.depth_toe is more than gears.depth_heel. Are they swapped?"]
    if _UNIFORM < fall < _TAPERED:
        return []
    seen = "face_hobbed" if fall <= _UNIFORM else "face_milled"
    told = gears.get("cutting", "unknown")
    if told in ("unknown", seen):
        gears["cutting"] = seen
        return []
    return [
        f'gears.cutting is "{told}", but the tooth height falls by {max(fall, 0):.0%} from heel to toe, '
        f'which is "{seen}". Measure both heights again, or correct cutting.'
    ]


def contradictions(gears: Mapping[str, Any]) -> list[str]:
    """What single values can't show: numbers that don't go together."""
    pinion, ring = gears.get("pinion_teeth"), gears.get("ring_teeth")
    found = []
    if pinion is None or ring is None:
        pass
    elif ring <= pinion:
        found.append(
            f"gears.ring_teeth ({ring}) must be more than gears.pinion_teeth ({pinion}). Are they swapped?"
        )
    elif not 1.5 <= ring / pinion <= 8:
        found.append(
            f"gears: {ring} to {pinion} teeth make a ratio of {ring / pinion:.2f}; expected 1.5 to 8."
        )
    diameter = gears.get("ring_diameter_mm", math.nan)  # no number is beyond one that isn't known
    for name, least, most, meaning in (
        ("face_width", 0.04, 0.30, "the length of a tooth, toe to heel"),
        ("cutter_radius", 0.15, 3, "the radius, not the diameter"),
    ):
        value = gears.get(f"{name}_mm")
        if value is not None and (value < least * diameter or value > most * diameter):
            found.append(
                f"gears.{name} ({units.show_length(value)}) doesn't suit gears.ring_diameter"
                f" ({units.show_length(diameter)}); expected {units.show_length(least * diameter)}"
                f" to {units.show_length(most * diameter)}. It is {meaning}."
            )
    offset = gears.get("offset_mm")
    if offset is not None and offset > 0.4 * diameter:
        found.append(
            f"gears.offset ({units.show_length(offset)}) is more than 0.4 of gears.ring_diameter"
            f" ({units.show_length(diameter)})."
        )
    if gears.get("cutter_groups") is not None and gears.get("cutting") != "face_hobbed":
        found.append('gears.cutter_groups is only for gears.cutting = "face_hobbed".')
    return found


def slips(gears: Mapping[str, Any]) -> list[str]:
    """Numbers that no gear set has, but that a slip makes: our own choices, wider than the sets of
    `shared/sources.toml` (cutter radius 0.34 to 0.43 of the ring diameter, offset 0.09 of it and more).
    """
    diameter, found = gears.get("ring_diameter_mm", math.nan), []
    cutter, offset = gears.get("cutter_radius_mm", math.nan), gears.get("offset_mm", math.nan)
    if cutter > 0.75 * diameter:
        found.append(
            f"gears.cutter_radius ({units.show_length(cutter)}) is too much for gears.ring_diameter"
            f" ({units.show_length(diameter)}). Is it the cutter's diameter? Write half of it."
        )
    if 0 < offset < 0.02 * diameter:
        found.append(
            f"gears.offset ({units.show_length(offset)}) is less than any hypoid set's. Is it in inches?"
            f' Write "{offset:g} in", or "0 mm" where the axes meet.'
        )
    if 0 < gears.get("spiral_deg", 0) < 2:
        found.append(
            f"gears.spiral_angle ({gears['spiral_deg']:g} deg) is less than any spiral. Is it in radians?"
        )
    return found
