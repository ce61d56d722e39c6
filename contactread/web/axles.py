"""Axle files as the page meets them: text in a book, or a few numbers from a form."""

from __future__ import annotations

from functools import lru_cache

from contactread.axle import Axle
from contactread.axle_file import axle_template, parse_axle
from contactread.outside import toml_string
from contactread.records.words import half
from contactread.units import parse_length


@lru_cache(maxsize=16)
def parsed(text: str | None) -> Axle | None:
    """The axle of a file's text that a book may keep; None for none. Raises AxleFileError."""
    return None if text is None else parse_axle(text, kept=True)


# What the form for a new axle asks: its field, the key in the file, its words, an example, needed or not.
FORM = (
    ("pinion_teeth", "gears.pinion_teeth", "Teeth of the pinion", "11", True),
    ("ring_teeth", "gears.ring_teeth", "Teeth of the ring gear", "41", True),
    ("ring_diameter", "gears.ring_diameter", "Ring gear diameter", "222 mm", True),
    ("thickness", "pinion_shim.thickness", "Pinion shim fitted now", "1.02 mm", False),
    ("backlash_least", "", "Backlash by the manual, least", "0.13 mm", False),
    ("backlash_most", "", "Backlash by the manual, most", "0.20 mm", False),
)


def axle_text(name: str, place: str, fields: dict[str, str]) -> str:
    """An axle file from the form. place: of the pinion shim, empty where nobody knows.

    Raises AxleFileError and QuantityError as the file itself would; `BookError` record-half.
    """
    known = {"name": toml_string(name[:200])} if name else {}
    for field, key, *_ in FORM:
        text = fields.get(field, "").strip()
        if not text or not key:
            continue
        if "teeth" in field:
            known[key] = text if text.isascii() and text.isdigit() else toml_string(text)
        else:
            known[key] = toml_string(f"{parse_length(text)!r} mm")
    if place in ("behind_head", "under_cage"):
        known["pinion_shim.place"] = toml_string(place)
    ends = [fields.get(name, "").strip() for name in ("backlash_least", "backlash_most")]
    if any(ends):
        if not all(ends):
            raise half(
                "Only one end of the backlash limits is given", "Give the least and the most, or neither."
            )
        known["limits.backlash"] = "[" + ", ".join(toml_string(f"{parse_length(e)!r} mm") for e in ends) + "]"
    text = axle_template(known)
    parse_axle(text)
    return text
