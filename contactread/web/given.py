"""What comes from forms and addresses, understood or refused."""

from __future__ import annotations

import re
from collections.abc import Iterable

from starlette.datastructures import FormData

from contactread.errors import ContactreadError, QuantityError
from contactread.plausible import Measured, parse_any_size, parse_measured
from contactread.units import parse_length, show_length

# Our choices, beyond what one set-up needs.
MOST_PHOTOS = 12
MOST_PLACES = 20
UNITS = ("mm", "thou", "in")
MOST_APART = 10  # times: places of one axle that differ more, with one unit for all, are in two units
_SHA256 = re.compile(r"[0-9a-f]{64}")
# A number with or without a unit, and several of them: "1/64 in", else a stroke parts two, as does a comma
# before a space: "0,18, 0,19".
_PLACE = re.compile(
    r"[-+]?(?:[0-9]+/[0-9]+(?=\s*(?:in|\"))|[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)(?:\s*(?:[^\W\d_]+|\"))?"
)
_PLACES = re.compile(rf"{_PLACE.pattern}(?:(?:\s*[;/]\s*|,?\s+){_PLACE.pattern})*")


def text_of(form: FormData, name: str) -> str:
    """A field's text; empty where it is missing, or a file."""
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def photo_hash(text: str) -> str:
    """A photo's SHA-256. Raises ContactreadError photo-unknown: no other text reaches the book."""
    if not _SHA256.fullmatch(text):
        raise ContactreadError("photo-unknown", "There is no such photo.", "Go back and send it again.")
    return text


def photo_hashes(texts: Iterable[str]) -> list[str]:
    """Several, each once."""
    hashes = list(dict.fromkeys(photo_hash(text) for text in texts))
    if len(hashes) > MOST_PHOTOS:
        raise ContactreadError(
            "too-many-photos", f"{len(hashes)} photos are too many for one answer.",
            f"Choose at most {MOST_PHOTOS}.")  # fmt: skip
    return hashes


def number_of(text: str, what: str) -> int:
    """A job's or a try's number. Raises ContactreadError number."""
    if not re.fullmatch(r"[0-9]{1,9}", text):
        raise ContactreadError(
            "number", f"{text[:20]!r} is not a {what}'s number.", "Choose it from the list."
        )
    return int(text)


def backlashes(text: str, unit: str = "") -> tuple[float, ...]:
    """Backlash at one or more places, mm: "0,18", "7 7.5 8", "0.18 mm; 7 thou". Empty text: none.

    unit: of numbers that carry none; one behind the last of them is that of all. Raises QuantityError.
    """
    text = text.strip()
    if not text:
        return ()
    if len(text) > 300 or not _PLACES.fullmatch(text):
        raise QuantityError(
            "length-number", f"{text[:40]!r} can't be read as backlash.",
            'Write it like "0.18"; several places with spaces: "0.18 0.19 0.18 0.20".')  # fmt: skip
    pieces = [found[0].strip() for found in _PLACE.finditer(text)]
    if len(pieces) > MOST_PLACES:
        raise QuantityError(
            "backlash-value", f"{len(pieces)} places are more than anybody measures.",
            f"Give at most {MOST_PLACES}.")  # fmt: skip
    units = [each for piece in pieces if (each := piece.lstrip("+-.,/0123456789"))]
    if len(units) == 1 and pieces[-1].endswith(units[0]):
        unit = units[0]  # "7 7.5 8 thou": it stands behind all of them
    shared = len(units) == 1 and len(pieces) > 1
    found = []
    for piece in pieces:
        told = re.search(r"[^\W\d]|\"", piece) is not None
        found.append(parse_measured("backlash", piece) if told else _unitless(piece, unit))
    if shared and max(found) > MOST_APART * min((mm for mm in found if mm), default=0.0):
        raise QuantityError(
            "backlash-value", f"{text[:40]!r} can't be all in the same unit.",
            "Write the unit behind each number, or behind none.")  # fmt: skip
    return tuple(found)


def _unitless(number: str, unit: str) -> float:
    """A backlash whose number has no unit of its own. Raises QuantityError backlash-unit where it can be one
    only in another unit than the one chosen.
    """
    try:
        return parse_measured("backlash", f"{number} {unit}")
    except QuantityError:
        for other in UNITS:
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


def length(kind: Measured, text: str, unit: str) -> float:
    """A length of this kind in mm; `unit` where the text has none. Raises QuantityError."""
    text = text.strip()
    return parse_any_size(kind, text if re.search(r"[^\W\d]|\"", text) else f"{text} {unit}")


def move_mm(text: str) -> float:
    """A move in mm as the page's sliders give it. Raises ContactreadError move."""
    try:
        mm = float(text or "0")
    except ValueError:
        mm = 99.0
    if not abs(mm) <= 1.0:
        raise ContactreadError("move", f"{text[:20]!r} is not a move in mm.", "Give -1 to 1.")
    return mm
