"""What a measured length can be: a slip of the unit or the decimal point is refused where it is typed.

The limits are generous working choices, from bench axles to heavy trucks; no source prints them.
"""

from __future__ import annotations

import math
import re
from typing import Literal, NamedTuple

from contactread.errors import QuantityError
from contactread.units import parse_length, show_length

MOST_BACKLASH_MM = 1.5
MOST_SWING_MM = 0.6  # as a limit of spread or runout: "2 mm" is a slip for 2 thou, and would pass everything
LEAST_BACKLASH_MM = 0.02  # below it a dial hardly tells it from none; 0.007 mm is often 0.007 in
_MOST_NOTCHES = 1000
_MOST_PLACES = 20  # our choice, beyond what one set-up needs
_UNITS = ("mm", "thou", "in")
_MOST_APART = 10  # times: places of one axle that differ more, with one unit for all, are in two units
# A number with or without a unit, and several of them: "1/64 in", else a stroke parts two, as does a comma
# before a space: "0,18, 0,19".
_PLACE = re.compile(
    r"[-+]?(?:[0-9]+/[0-9]+(?=\s*(?:in|\"))|[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)(?:\s*(?:[^\W\d_]+|\"))?"
)
_PLACES = re.compile(rf"{_PLACE.pattern}(?:(?:\s*[;/]\s*|,?\s+){_PLACE.pattern})*")
# "7 1/2 thou" is seven and a half; "7/8" are two places, "7 7/8" could be either; "0 .18" is a slip.
_HALF = re.compile(r"(?<![0-9.,])([0-9]+)\s+(?!3/2)([13])/([24])(?![0-9.,/])")
_UNCLEAR = re.compile(
    r"\b[0-9]+\s+[0-9]+/[0-9]+(?![0-9.,]|\s*(?:in|\"))|\b0\s+[.,][0-9]+|^1/[0-9]+(?![0-9.,/]|\s*(?:in|\"))"
)
Measured = Literal[
    "backlash", "spread", "runout", "pinion_shim", "side_shim", "travel", "side_preload", "distance"
]


class _Range(NamedTuple):
    name: str
    least_mm: float
    most_mm: float


_RANGES: dict[Measured, _Range] = {
    "backlash": _Range("backlash", 0.0, MOST_BACKLASH_MM),
    "spread": _Range("spread of backlash", 0.0, 2.0),
    "runout": _Range("runout", 0.0, 5.0),
    "pinion_shim": _Range("pinion shim", 0.0, 15.0),
    "side_shim": _Range("side shim", 0.0, 50.0),
    "travel": _Range("travel of the ring gear", 0.0, 10.0),
    "side_preload": _Range("side-bearing preload", 0.0, 5.0),
    "distance": _Range("distance at the pinion", 10.0, 600.0),
}


def parse_measured(kind: Measured, text: str) -> float:
    """A measured length in mm from words, within what it can be.

    Raises QuantityError: as `parse_any_size`, and KIND-negative, KIND-impossible ("backlash-impossible").
    """
    mm = parse_any_size(kind, text)
    return check_backlash(mm, text) if kind == "backlash" else check_measured(kind, mm, text)


def check_backlash(mm: float, text: str | None = None) -> float:
    """A backlash just given, in mm, if a dial can have read it. Raises QuantityError as `parse_measured`."""
    if 0 < mm < LEAST_BACKLASH_MM:
        raise QuantityError(
            "backlash-impossible",
            f"A backlash of {show_length(mm) if text is None else repr(text)} is less than a dial tells from "
            "none.",
            "Check the unit: 0.008 is usual in inches, not in mm. Give 0 mm where there is none.",
        )
    return check_measured("backlash", mm, text)


def parse_notches(text: str) -> float:
    """Travel of an adjuster in notches, in positive: "-1.5" or "1,5". Raises QuantityError notches."""
    try:
        value = float(text.strip().replace(",", ".").replace("−", "-"))
    except ValueError:
        value = math.inf
    if not abs(value) <= _MOST_NOTCHES:
        raise QuantityError("notches", f"{text[:20]!r} is not a count of notches.", "Write it like -1.5.")
    return value


def parse_any_size(kind: Measured, text: str) -> float:
    """As `parse_measured`, for what is asked again (`records.doubts`) where its size is doubtful.

    Raises QuantityError: as `parse_length`; KIND-impossible: nobody measures a clearance or a shim in
    centimetres, so that unit is a slip; KIND-change: "+3 thou" is how a shim changes, not how thick it is.
    """
    if kind in ("pinion_shim", "side_shim") and text.strip()[:1] in tuple("+-−–"):
        raise QuantityError(
            f"{kind.replace('_', '-')}-change", f"{text.strip()[:40]!r}, with a sign, tells of a change.",
            "Give the whole size as it is now, without a sign.")  # fmt: skip
    if kind != "distance" and re.search(r"\bcm\b|\dcm\b", text, re.IGNORECASE):
        raise QuantityError(
            f"{kind.replace('_', '-')}-impossible", f"A {_RANGES[kind].name} of {text!r} is in centimetres.",
            "Give it in mm, thousandths or inches.")  # fmt: skip
    return parse_length(text)


def check_measured(kind: Measured, mm: float, text: str | None = None) -> float:
    """The length in mm if it can be one of this kind. Raises QuantityError as `parse_measured`."""
    wanted = _RANGES[kind]
    given = show_length(mm) if text is None else repr(text)
    code = kind.replace("_", "-")
    if mm < 0:
        raise QuantityError(
            f"{code}-negative", f"The {wanted.name} {given} is below zero.", "Give it as it is measured."
        )
    if not wanted.least_mm <= mm <= wanted.most_mm:
        raise QuantityError(
            f"{code}-impossible",
            f"A {wanted.name} of {given} can't be: it lies between {show_length(wanted.least_mm)} and "
            f"{show_length(wanted.most_mm)}.",
            "Check the decimal point and the unit.",
        )
    return mm


def parse_places(text: str, unit: str = "") -> tuple[float, ...]:
    """Backlash at one or more places, mm: "0,18", "7 7.5 8", "0.18 mm; 7 thou". Empty text: none.

    unit: of numbers that carry none; one behind the last of them is that of all. Raises QuantityError.
    """
    text = _HALF.sub(lambda half: f"{int(half[1]) + int(half[2]) / int(half[3])}", text.strip())
    if not text:
        return ()
    if len(text) > 300 or not _PLACES.fullmatch(text):
        raise QuantityError(
            "length-number", f"{text[:40]!r} can't be read as backlash.",
            'Write it like "0.18 mm"; several places with spaces: "0.18 0.19 0.18 0.20 mm".')  # fmt: skip
    if odd := _UNCLEAR.search(text):
        raise QuantityError(
            "length-number", f"{odd[0]!r} in {text[:40]!r} could be one number or several places.",
            'Write a fraction with a point, as "7.5 thou", and places with spaces.')  # fmt: skip
    pieces = [found[0].strip() for found in _PLACE.finditer(text)]
    if len(pieces) > _MOST_PLACES:
        raise QuantityError(
            "backlash-value", f"{len(pieces)} places are more than anybody measures.",
            f"Give at most {_MOST_PLACES}.")  # fmt: skip
    units = [each for piece in pieces if (each := piece.lstrip("+-.,/0123456789").strip())]
    if len(units) == 1 and pieces[-1].endswith(units[0]):
        unit = units[0]  # "7 7.5 8 thou": it stands behind all of them
    shared = len(units) == 1 and len(pieces) > 1
    found = []
    for piece in pieces:
        told = re.search(r"[^\W\d]|\"", piece) is not None
        found.append(parse_measured("backlash", piece) if told else _unitless(piece, unit))
    if shared and max(found) > _MOST_APART * min((mm for mm in found if mm), default=0.0):
        raise QuantityError(
            "backlash-value", f"{text[:40]!r} can't be all in the same unit.",
            "Write the unit behind each number, or behind none.")  # fmt: skip
    return tuple(found)


def parse_given_places(text: str) -> tuple[float, ...]:
    """As `parse_places`, of what must hold at least one; a single place in every form of `parse_length`."""
    if re.search(r"[0-9]/[0-9]+\s*thou", text):  # no fraction of an inch, but two places
        return parse_places(text)
    try:
        return (parse_measured("backlash", text),)
    except QuantityError as error:
        if not error.code.startswith("length-") or not (places := parse_places(text)):
            raise
        return places


def _unitless(number: str, unit: str) -> float:
    """A backlash whose number has no unit of its own. Raises QuantityError backlash-unit where it can be one
    only in another unit than the one chosen.
    """
    try:
        return parse_measured("backlash", f"{number} {unit}".strip())
    except QuantityError:
        for other in _UNITS if unit else ():
            try:
                mm = parse_measured("backlash", f"{number} {other}")
            except QuantityError:
                continue
            raise QuantityError(
                "backlash-unit",
                f"{number} {unit} would be {show_length(parse_length(f'{number} {unit}'))}, which no dial "
                f"shows; {number} {other} would be {show_length(mm)}. Which one is it?",
                f"Choose its unit, or write it behind the number: {number} {other}.") from None  # fmt: skip
        raise
