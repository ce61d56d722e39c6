"""What was measured on a try, held against the limits of its axle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from contactread.axle import Axle, Interval
from contactread.records.nouns import Try
from contactread.units import show_miss

Verdict = Literal["within", "outside", "no limit", "not measured"]
Unit = Literal["mm", "N·m"]
# Rounding of a dial reading through inches must not push a value at the limit over it.
SLACK = 1e-6
_BACKLASH, _SPREAD = "Backlash", "Spread of backlash"


@dataclass(frozen=True)
class Measure:
    """One line of the sheet.

    name: what was measured. values: in `unit`, empty where it wasn't. limit: (least, most) allowed, an
    open end as None; None as a whole where the axle file has no limit. missed_by: how far the worst value
    lies outside, in `unit`, positive above and negative below; None unless outside.
    """

    name: str
    unit: Unit
    values: tuple[float, ...]
    limit: tuple[float | None, float | None] | None
    verdict: Verdict
    missed_by: float | None


def measures_of(axle: Axle, attempt: Try) -> tuple[Measure, ...]:
    """All lines of a try's sheet, measured or not."""
    limits, backlash = axle.limits, attempt.backlash_mm
    measures = [
        check(_BACKLASH, "mm", backlash, limits.backlash_mm),
        check("Ring-gear runout", "mm", _one(attempt.ring_runout_mm), _at_most(limits.ring_runout_mm)),
        check("Pinion turning torque", "N·m", _one(attempt.pinion_torque_nm), _pinion_limit(axle, attempt)),
    ]
    if len(backlash) > 1:
        spread = (max(backlash) - min(backlash),)
        measures.insert(1, check(_SPREAD, "mm", spread, _at_most(limits.backlash_spread_mm)))
    if attempt.total_torque_nm is not None or attempt.side_preload_mm is None:
        torque = _one(attempt.total_torque_nm)
        measures.append(check("Total turning torque", "N·m", torque, limits.total_preload_nm))
    for fastener in attempt.fasteners:
        if fastener.tightened_nm is not None:
            allowed = (fastener.least_nm, fastener.most_nm)
            measures.append(check(fastener.name, "N·m", (fastener.tightened_nm,), allowed))
    return tuple(measures)


def outside_words(measure: Measure) -> str:
    """That a measure is outside its limit, and by how much; empty where it isn't."""
    if measure.missed_by is None:
        return ""
    return f"{measure.name} is outside its limit by {show_miss(abs(measure.missed_by), measure.unit)}."


def beyond_patterns(axle: Axle, attempt: Try) -> tuple[str, ...]:
    """What is outside its limit that advice, which goes by patterns and backlash, doesn't know: a sentence
    for each.
    """
    others = (m for m in measures_of(axle, attempt) if m.name not in (_BACKLASH, _SPREAD))
    return tuple(words for m in others if (words := outside_words(m)))


def check(
    name: str, unit: Unit, values: tuple[float, ...], limit: tuple[float | None, float | None] | None
) -> Measure:
    """Hold measured values against a limit, whose ends belong to it."""
    if not values:
        return Measure(name, unit, values, limit, "not measured", None)
    if limit is None:
        return Measure(name, unit, values, limit, "no limit", None)
    least, most = limit
    above = max(values) - most if most is not None else 0.0
    below = least - min(values) if least is not None else 0.0
    if max(above, below) <= SLACK:
        return Measure(name, unit, values, limit, "within", None)
    return Measure(name, unit, values, limit, "outside", above if above >= below else -below)


def _pinion_limit(axle: Axle, attempt: Try) -> Interval | None:
    if attempt.bearings == "used":
        return axle.limits.pinion_preload_used_nm
    return axle.limits.pinion_preload_new_nm


def _one(value: float | None) -> tuple[float, ...]:
    return () if value is None else (value,)


def _at_most(value: float | None) -> tuple[None, float] | None:
    return None if value is None else (None, value)
