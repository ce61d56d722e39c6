"""Measurements of the set-up sheet against their limits, in words."""

from __future__ import annotations

from contactread.records.limits import Measure
from contactread.show.text import printable
from contactread.units import show_measured, show_miss, show_span


def name_text(measure: Measure) -> str:
    """What was measured, and at how many places where there are several."""
    count = len(measure.values)
    return f"{measure.name}, {count} places" if count > 1 else measure.name


def values_text(measure: Measure) -> str:
    """The measured values, least to most where there are several."""
    if not measure.values:
        return "not measured"
    if len(measure.values) == 1:
        return show_measured(measure.values[0], measure.unit)
    return show_span(min(measure.values), max(measure.values), measure.unit)


def limit_text(measure: Measure) -> str:
    """The limit in words."""
    if measure.limit is None:
        return "none to judge by"
    least, most = measure.limit
    if least is None and most is not None:
        return f"at most {show_measured(most, measure.unit)}"
    if most is None and least is not None:
        return f"at least {show_measured(least, measure.unit)}"
    assert least is not None and most is not None
    return show_span(least, most, measure.unit)


def missed_text(measure: Measure) -> str:
    """By how much the worst value lies outside; empty unless it does."""
    if measure.missed_by is None:
        return ""
    side = "too much" if measure.missed_by > 0 else "too little"
    return f"{show_miss(abs(measure.missed_by), measure.unit)} {side}"


def measure_lines(measure: Measure) -> list[str]:
    """A line of the sheet, its limit below."""
    sign = {"within": "within", "outside": "OUTSIDE", "no limit": "no limit", "not measured": "open"}
    words = f"{printable(name_text(measure))}: {values_text(measure)}"
    if measure.missed_by is not None:
        words += f", {missed_text(measure)}"
    return [f"  {sign[measure.verdict]:<8}  {words}", f"{'':12}limit: {limit_text(measure)}"]
