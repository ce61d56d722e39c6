"""Lengths, torques and angles as a workshop writes them, to and from SI: mm, N·m, degrees.

    parse_length("10 thou")  -> 0.254
    show_length(0.254)       -> "0.254 mm (0.0100 in)"

A number without its unit is refused: 0.010 could be inches or millimetres, and the gears would pay for
a wrong guess. Nothing is rounded before it is converted.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from contextvars import ContextVar
from typing import Literal

from contactread.errors import QuantityError

Shown = Literal["both", "mm", "inch"]
_SHOWN: ContextVar[Shown] = ContextVar("shown", default="both")

MM_PER_INCH = 25.4  # exact: international yard and pound agreement, 1959
MM_PER_THOU = MM_PER_INCH / 1000
# One pound-force is 0.45359237 kg x 9.80665 m/s² (both exact by definition); one inch is 0.0254 m.
NM_PER_LBF_IN = 0.45359237 * 9.80665 * 0.0254
NM_PER_LBF_FT = 12 * NM_PER_LBF_IN

_LENGTH = {
    "mm": 1.0, "millimetre": 1.0, "millimeter": 1.0, "millimetres": 1.0, "millimeters": 1.0,
    "cm": 10.0, "um": 0.001, "µm": 0.001, "μm": 0.001, "micron": 0.001, "microns": 0.001,
    "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH, '"': MM_PER_INCH, "″": MM_PER_INCH,
    "”": MM_PER_INCH,
    "thou": MM_PER_THOU, "thous": MM_PER_THOU, "thousandth": MM_PER_THOU, "thousandths": MM_PER_THOU,
    "thousandths of an inch": MM_PER_THOU,
}  # fmt: skip
_TORQUE = {
    "nm": 1.0, "ncm": 0.01,
    "inlb": NM_PER_LBF_IN, "inlbf": NM_PER_LBF_IN, "lbin": NM_PER_LBF_IN, "lbfin": NM_PER_LBF_IN,
    "inlbs": NM_PER_LBF_IN, "lbsin": NM_PER_LBF_IN,
    "ftlb": NM_PER_LBF_FT, "ftlbf": NM_PER_LBF_FT, "lbft": NM_PER_LBF_FT, "lbfft": NM_PER_LBF_FT,
    "ftlbs": NM_PER_LBF_FT, "lbsft": NM_PER_LBF_FT,
}  # fmt: skip
_ANGLE = {
    "deg": 1.0, "degree": 1.0, "degrees": 1.0, "°": 1.0, "º": 1.0,
    "rad": math.degrees(1), "arcmin": 1 / 60,
}  # fmt: skip

LENGTH_FORMS = '"0.25 mm", "10 thou" or "0.010 in"'
TORQUE_FORMS = '"2.8 N·m", "25 in-lb" or "70 ft-lb"'
ANGLE_FORMS = '"35 deg"'

# A number, plain or with a fraction ("8 3/4"), then everything else as the unit.
_NUMBER = re.compile(
    r"\s*(?P<sign>[+\-−–]?)\s*(?:"
    r"(?:(?P<whole>\d+)[ \-])?(?P<top>\d+)/(?P<bottom>\d+)"
    r"|(?P<plain>(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+\-]?\d+)?)"
    r")\s*(?P<unit>.*?)\.?\s*",
    re.DOTALL,
)
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")  # "1,250": a thousand and more, or one and a quarter?
_LONGEST = 60  # characters; nothing measured needs more


def parse_length(text: str) -> float:
    """A length in mm from words such as "0.25 mm", ".010 in", "+10 thou", "8 3/4 in".

    A comma may stand for the decimal point. Raises QuantityError (length-unit-missing, length-unit,
    length-number).
    """
    return _parse(text, _LENGTH, "length", LENGTH_FORMS)


def parse_torque(text: str) -> float:
    """A torque in N·m from words such as "25 in-lb", "2.8 N·m", "70 lbf ft".

    Raises QuantityError (torque-unit-missing, torque-unit, torque-number).
    """
    return _parse(text, _TORQUE, "torque", TORQUE_FORMS, joiners=r"[\s·⋅*.\-]")


def parse_angle(text: str) -> float:
    """An angle in degrees from words such as "35 deg" or "35°".

    Raises QuantityError (angle-unit-missing, angle-unit, angle-number).
    """
    return _parse(text, _ANGLE, "angle", ANGLE_FORMS)


def show_in(shown: Shown) -> None:
    """Choose how lengths and torques are shown from here on; a front end calls it once, at its start."""
    _SHOWN.set(shown)


def show_length(mm: float, signed: bool = False) -> str:
    """Both ways at once, to a hundredth of a millimetre and half a thousandth: "0.254 mm (0.0100 in)".

    Below 100 mm three and four places, above two and three: finer than any shim or dial in a shop.
    This and all that follow give one way alone where `show_in` was told so.
    """
    sign = "+" if signed else ""
    places = (2, 3) if abs(mm) >= 100 else (3, 4)
    return _shown(f"{_tidy(mm, sign, places[0])} mm", f"{_tidy(mm / MM_PER_INCH, sign, places[1])} in")


def show_rough_length(mm: float) -> str:
    """An estimate, to a millimetre: "34 mm (1.35 in)"."""
    return _shown(f"{_tidy(mm, '', 0)} mm", f"{_tidy(mm / MM_PER_INCH, '', 2)} in")


def show_move(mm: float) -> str:
    """A shim move or a backlash, as a dial reads: "+0.08 mm (+3.0 thou)"."""
    return _shown(f"{_tidy(mm, '+', 2)} mm", f"{_tidy(mm / MM_PER_THOU, '+', 1)} thou")


def show_clearance(mm: float) -> str:
    """A backlash, runout or margin, which has no sign: "0.18 mm (7.1 thou)"; from 0.1 in on in inches."""
    if abs(mm) >= 100 * MM_PER_THOU:
        return _shown(f"{_tidy(mm, '', 2)} mm", f"{_tidy(mm / MM_PER_INCH, '', 3)} in")
    return _shown(f"{_tidy(mm, '', 2)} mm", f"{_tidy(mm / MM_PER_THOU, '', 1)} thou")


def show_torque(nm: float) -> str:
    """A turning torque both ways, "2.82 N·m (25.0 in-lb)"; from 20 N·m upward in ft-lb."""
    if abs(nm) >= 20:
        return _shown(f"{_tidy(nm, '', 1)} N·m", f"{_tidy(nm / NM_PER_LBF_FT, '', 1)} ft-lb")
    return _shown(f"{_tidy(nm, '', 2)} N·m", f"{_tidy(nm / NM_PER_LBF_IN, '', 1)} in-lb")


def show_measured(value: float, unit: Literal["mm", "N·m"]) -> str:
    """A clearance or a torque, by the unit that it is kept in."""
    return show_clearance(value) if unit == "mm" else show_torque(value)


def show_span(least: float, most: float, unit: Literal["mm", "N·m"] = "mm") -> str:
    """A range: "0.13 to 0.20 mm (5.1 to 7.9 thou)"; where both ends read the same, that alone."""
    if show_measured(least, unit) == show_measured(most, unit):
        return show_measured(least, unit)
    pattern = re.compile(r"(\S+) ([^\s()]+)(?: \((\S+) (\S+)\))?")
    low, high = (pattern.fullmatch(show_measured(value, unit)) for value in (least, most))
    if low is None or high is None or (low[2], low[4]) != (high[2], high[4]):  # one in in-lb, one in ft-lb
        return f"{show_measured(least, unit)} to {show_measured(most, unit)}"
    both = f" ({low[3]} to {high[3]} {low[4]})" if low[4] else ""
    return f"{low[1]} to {high[1]} {low[2]}{both}"


def show_miss(value: float, unit: Literal["mm", "N·m"] = "mm") -> str:
    """How far a clearance or a torque lies beyond its limit, above 0: so never "0.00 mm"."""
    least = 0.01
    return f"less than {show_measured(least, unit)}" if value < least / 2 else show_measured(value, unit)


def shown_in() -> Shown:
    """What `show_in` was told."""
    return _SHOWN.get()


def _shown(metric: str, inch: str) -> str:
    shown = _SHOWN.get()
    return f"{metric} ({inch})" if shown == "both" else metric if shown == "mm" else inch


def _tidy(value: float, sign: str, places: int) -> str:
    """Rounded for show only; never "-0.00"."""
    rounded = round(value, places)
    return f"{rounded:{sign}.{places}f}" if rounded else f"{0:.{places}f}"


def _parse(text: str, units: Mapping[str, float], kind: str, forms: str, joiners: str = "") -> float:
    """Number times unit; `joiners` is what may stand inside a unit without meaning, as in "in-lb"."""
    wanted = f"Write a number with its unit, such as {forms}."
    match = _NUMBER.fullmatch(text) if len(text) <= _LONGEST else None
    text = text[:_LONGEST]
    if match is None:
        raise QuantityError(f"{kind}-number", f"{text!r} is no {kind}: no number was found.", wanted)
    unit = re.sub(joiners, "", match["unit"].lower()) if joiners else match["unit"].lower()
    if not unit:
        raise QuantityError(
            f"{kind}-unit-missing", f"{text!r} has no unit, so it could mean anything.", wanted
        )
    if unit not in units:
        raise QuantityError(f"{kind}-unit", f"{match['unit']!r} in {text!r} is not a unit of {kind}.", wanted)
    if match["plain"] and _THOUSANDS.fullmatch(match["plain"]):
        reason = f"The comma in {text!r} could mark thousands or decimals."
        raise QuantityError(f"{kind}-number", reason, f"Use a point for decimals, as in {forms}.")
    if match["plain"]:
        number = float(match["plain"].replace(",", "."))
    elif int(match["bottom"]) == 0:
        raise QuantityError(f"{kind}-number", f"{text!r} divides by zero.", wanted)
    else:
        number = int(match["whole"] or 0) + int(match["top"]) / int(match["bottom"])
    value = number * units[unit] * (1 if match["sign"] in ("", "+") else -1)
    if not math.isfinite(value):
        raise QuantityError(f"{kind}-number", f"{text!r} is too large.", wanted)
    return value
