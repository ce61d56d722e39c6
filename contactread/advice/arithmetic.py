"""Set-up sums on paper: pinion marks, mounting distance, depth gauge, side shims. Lengths in mm.

Publications use the sign of the pinion mark in opposite ways (contradiction-1), and where the shim sits
doesn't settle it. So every sum takes its convention by name and repeats it in the result.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal

from contactread.errors import QuantityError
from contactread.units import MM_PER_THOU, show_length, show_move

# "plus_adds": a plus mark makes the pack thicker, change = new - old (B1, B5, B6; gauge B11, B12).
# "plus_subtracts": a plus mark makes it thinner, change = old - new (B2, B3, B4, B8; gauge B13).
MarkSign = Literal["plus_adds", "plus_subtracts"]
ShimPlace = Literal["behind_head", "under_cage"]

CHANGE_SOURCES: dict[MarkSign, tuple[str, ...]] = {
    "plus_adds": ("B1", "B5", "B6"),
    "plus_subtracts": ("B2", "B3", "B4", "B8"),
}
GAUGE_SOURCES: dict[MarkSign, tuple[str, ...]] = {
    "plus_adds": ("B11", "B12"),
    "plus_subtracts": ("B13",),
}
SIGN_WORDS: dict[MarkSign, str] = {
    "plus_adds": "a plus mark adds shim (change = new - old)",
    "plus_subtracts": "a plus mark takes shim off (change = old - new)",
}


@dataclass(frozen=True)
class Working:
    """A sum with its working.

    result_mm: the answer. lines: the sum, line by line, in words. convention: which sign or which place
    was used. sources: ids in `shared/sources.toml`. notes: what to mind.
    """

    result_mm: float
    lines: tuple[str, ...]
    convention: str
    sources: tuple[str, ...]
    notes: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """As `--json` shows it."""
        return {
            "result": {"mm": round(self.result_mm, 4), "thou": round(self.result_mm / MM_PER_THOU, 2)},
            "lines": list(self.lines),
            "convention": self.convention,
            "sources": list(self.sources),
            "notes": list(self.notes),
        }


_MARK = re.compile(r"(?P<sign>[+\-−]?)(?P<number>\d+|\d*\.\d+)\s*(?P<unit>mm)?", re.IGNORECASE)
LARGEST_MARK_MM = 0.5  # no pinion is off by more; a larger number is something else


def parse_mark(text: str) -> float:
    """A pinion mark in mm: "+3" is three thousandths of an inch, "-.05" or "-.05 mm" is 0.05 mm (B5, B7).

    "0" or "" is no mark. Raises QuantityError pinion-mark: not a mark, or a match number (B6).
    """
    mark = text.strip()
    if not mark:
        return 0.0
    match = _MARK.fullmatch(mark)
    whole = match is not None and "." not in match["number"] and not match["unit"]
    if match is None or (whole and len(match["number"]) > 2):
        raise QuantityError(
            "pinion-mark",
            f"{text!r} isn't a pinion mark; a number of three digits is the match number of the set.",
            'Give the small signed mark, such as "+3" (thousandths of an inch) or "-.05" (mm); 0 for none.',
        )
    value = float(match["number"]) * (MM_PER_THOU if whole else 1.0)
    if value > LARGEST_MARK_MM:
        raise QuantityError(
            "pinion-mark",
            f"{text!r} would be {show_length(value)}, far more than any pinion is off.",
            'Check the mark: "+3" means thousandths of an inch, "+.03" means millimetres.',
        )
    return -value if match["sign"] in ("-", "−") else value


def mark_change(old_mm: float, new_mm: float, sign: MarkSign, pack_mm: float | None = None) -> Working:
    """Change of the pinion shim for a new pinion by the marks of both; the new pack where the old is given.

    An unchanged mark never changes the shim; one manual's rule that would do so is not used (B7,
    contradiction-10).
    """
    change = new_mm - old_mm if sign == "plus_adds" else old_mm - new_mm
    first, second = ("new", "old") if sign == "plus_adds" else ("old", "new")
    lines = [f"{first} mark - {second} mark = {show_move(change)}"]
    if pack_mm is not None:
        lines.append(f"old pack {show_length(pack_mm)} {_plus(change)} = {show_length(pack_mm + change)}")
    return Working(
        change if pack_mm is None else pack_mm + change,
        tuple(lines),
        SIGN_WORDS[sign],
        (*CHANGE_SOURCES[sign], "contradiction-1"),
        (
            "Manuals use opposite signs: take the sign from the manual of this axle.",
            "This is a shim to start with. The measured depth and the pattern decide (B3).",
        ),
    )


def mounting_distance_pack(pack_mm: float, old_mm: float, new_mm: float, place: ShimPlace) -> Working:
    """New pinion pack from the mounting distances etched on the old and the new pinion.

    Behind the head a larger distance takes shim off (B9). Under a cage the sign turns over: derived, for
    the shim then pushes the other way (contradiction-4).
    """
    difference = new_mm - old_mm
    change = -difference if place == "behind_head" else difference
    return Working(
        pack_mm + change,
        (
            f"new distance {show_length(new_mm)} - old {show_length(old_mm)} = {show_move(difference)}",
            f"old pack {show_length(pack_mm)} {_plus(change)} = {show_length(pack_mm + change)}",
        ),
        "larger distance takes shim off (shim behind the head)"
        if place == "behind_head"
        else "larger distance adds shim (shim under the cage; derived from B9)",
        ("B9",) if place == "behind_head" else ("B9", "contradiction-4"),
    )


def new_housing_pack(
    nominal_pack_mm: float, bore_stamp_mm: float, etched_mm: float, nominal_distance_mm: float
) -> Working:
    """Pinion pack for a new housing, shim behind the head: pack + bore stamp - (etched - nominal) (B10)."""
    difference = etched_mm - nominal_distance_mm
    result = nominal_pack_mm + bore_stamp_mm - difference
    return Working(
        result,
        (
            f"etched distance - nominal distance = {show_move(difference)}",
            f"nominal pack {show_length(nominal_pack_mm)} {_plus(bore_stamp_mm)} {_plus(-difference)} "
            f"= {show_length(result)}",
        ),
        "stamped bore depth is added with its sign (shim behind the head)",
        ("B10",),
        ("Put together from four rules of one manual, the last one not fully seen.",),
    )


def gauge_pack(gauge_mm: float, mark_mm: float, sign: MarkSign, offset_mm: float = 0.0) -> Working:
    """Pinion pack from a depth-gauge reading, what this gauge wants added to it, and the new pinion's mark; 0
    for no mark (B11 to B13).
    """
    change = mark_mm if sign == "plus_adds" else -mark_mm
    pack = gauge_mm + offset_mm + change
    added = f" {_plus(offset_mm)} of the gauge" if offset_mm else ""
    return Working(
        pack,
        (f"gauge {show_length(gauge_mm)}{added} {_plus(change)} for the mark = {show_length(pack)}",),
        "a plus mark is added to the gauge reading"
        if sign == "plus_adds"
        else "a plus mark is taken off the gauge reading",
        (*GAUGE_SOURCES[sign], "contradiction-1"),
        ("Manuals use opposite signs: take the sign from the manual of this axle.",),
    )


def cone_centre_gap(etched_mm: float, case_diameter_mm: float) -> Working:
    """Feeler gap between pinion end and case: etched distance less half the case diameter (B14)."""
    gap = etched_mm - case_diameter_mm / 2
    return Working(
        gap,
        (f"{show_length(etched_mm)} - {show_length(case_diameter_mm)} / 2 = {show_length(gap)}",),
        "distance from the pinion's end to the ring-gear axis is etched on the pinion",
        ("B14",),
    )


def side_shim_start(
    tool_mm: float, opposite_mm: float, away_mm: float, preload_each_mm: float
) -> tuple[Working, Working]:
    """Side shims to start with, ring-gear side and opposite side (B29).

    tool_mm: spacing tool on the ring-gear side at metal-to-metal mesh. opposite_mm: stack on the other
    side without play. away_mm: travel that opens the backlash. preload_each_mm: added on each side.
    """
    convention = "more shim on the ring-gear side moves the ring gear toward the pinion"
    ring_side = tool_mm - away_mm + preload_each_mm
    opposite = opposite_mm + away_mm + preload_each_mm
    first, second = show_length(tool_mm), show_length(opposite_mm)
    away, preload = show_length(away_mm), show_length(preload_each_mm)
    return (
        Working(
            ring_side,
            (f"ring-gear side: {first} - {away} + {preload} = {show_length(ring_side)}",),
            convention,
            ("B29",),
        ),
        Working(
            opposite,
            (f"opposite side: {second} + {away} + {preload} = {show_length(opposite)}",),
            convention,
            ("B29",),
        ),
    )


def _plus(mm: float) -> str:
    return f"{'-' if mm < 0 else '+'} {show_length(abs(mm))}"
