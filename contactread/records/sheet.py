"""The set-up sheet: what was measured against the axle's own limits, and what is still missing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from contactread.axle import ROLES, Axle, Interval
from contactread.facts import facts
from contactread.records.given_advice import ASK_AGAIN, is_stale
from contactread.records.nouns import Job, Try
from contactread.units import show_measured

Verdict = Literal["within", "outside", "no limit", "not measured"]
Unit = Literal["mm", "N·m"]
# Rounding of a dial reading through inches must not push a value at the limit over it.
SLACK = 1e-6


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


@dataclass(frozen=True)
class Sheet:
    """The sheet of one try. missing and outside: sentences; both empty means the cover may go on."""

    measures: tuple[Measure, ...]
    missing: tuple[str, ...]
    outside: tuple[str, ...]

    @property
    def ready(self) -> bool:
        return not (self.missing or self.outside)


def set_up_sheet(job: Job, attempt: Try | None) -> Sheet:
    """The sheet of a job as its given try (the newest) stands; None while there is no try."""
    if attempt is None:
        return Sheet((), ("No try is recorded yet.",), ())
    measures = tuple(_measures(job.axle, attempt))
    missing = [
        *(["The pinion shim isn't known."] if attempt.pinion_shim_mm is None else []),
        *(f"{m.name} isn't measured." for m in measures if m.verdict == "not measured"),
        *_missing_limits(measures),
        *_missing_places(attempt),
        *_missing_rolling(attempt),
        *_missing_advice(job, attempt),
        *_missing_fasteners(attempt),
    ]
    outside = [
        f"{m.name} is outside its limit by {show_measured(abs(m.missed_by), m.unit)}."
        for m in measures
        if m.missed_by is not None
    ]
    outside += _refused_by_pattern(attempt)
    return Sheet(measures, tuple(missing), tuple(outside))


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


def _measures(axle: Axle, attempt: Try) -> list[Measure]:
    limits, backlash = axle.limits, attempt.backlash_mm
    measures = [
        check("Backlash", "mm", backlash, limits.backlash_mm),
        check("Ring-gear runout", "mm", _one(attempt.ring_runout_mm), _at_most(limits.ring_runout_mm)),
        check("Pinion turning torque", "N·m", _one(attempt.pinion_torque_nm), _pinion_limit(axle, attempt)),
    ]
    if len(backlash) > 1:
        spread = (max(backlash) - min(backlash),)
        measures.insert(1, check("Spread of backlash", "mm", spread, _at_most(limits.backlash_spread_mm)))
    if attempt.total_torque_nm is not None or attempt.side_preload_mm is None:
        torque = _one(attempt.total_torque_nm)
        measures.append(check("Total turning torque", "N·m", torque, limits.total_preload_nm))
    for fastener in attempt.fasteners:
        if fastener.tightened_nm is not None:
            allowed = (fastener.least_nm, fastener.most_nm)
            measures.append(check(fastener.name, "N·m", (fastener.tightened_nm,), allowed))
    return measures


def _pinion_limit(axle: Axle, attempt: Try) -> Interval | None:
    if attempt.bearings == "used":
        return axle.limits.pinion_preload_used_nm
    return axle.limits.pinion_preload_new_nm


def _missing_limits(measures: tuple[Measure, ...]) -> list[str]:
    """Backlash and pinion preload have a limit in every manual; the others are only shown without one."""
    return [
        f"The axle file has no limit for {_small(m.name)}: enter the manual's."
        for m in measures
        if m.verdict == "no limit" and m.name in ("Backlash", "Pinion turning torque")
    ]


def _missing_places(attempt: Try) -> list[str]:
    wanted = facts("sign_off")["backlash"]["places"]
    if 0 < len(attempt.backlash_mm) < wanted:
        count = len(attempt.backlash_mm)
        places = "place" if count == 1 else "places"
        return [f"Backlash is measured at {count} {places}; {wanted} equally spaced ones are asked for."]
    return []


def _missing_rolling(attempt: Try) -> list[str]:
    missing = [f"No readable photo shows the {role} side." for role in ROLES
               if attempt.reading_of(role) is None]  # fmt: skip
    if not attempt.compound:
        missing.append("The marking compound isn't written down.")
    if not attempt.drag:
        missing.append("How the gears were held back while rolling isn't written down.")
    return missing


def _missing_advice(job: Job, attempt: Try) -> list[str]:
    if attempt.advice is None:
        return [] if _missing_rolling(attempt) else ["No advice was asked for on this try."]
    if is_stale(attempt, job.axle_text):
        return [ASK_AGAIN]
    return []


def _missing_fasteners(attempt: Try) -> list[str]:
    if not attempt.fasteners:
        return ["No fastener torque from the axle's manual is entered."]
    return [f"{f.name}: not tightened yet." for f in attempt.fasteners if f.tightened_nm is None]


def _refused_by_pattern(attempt: Try) -> list[str]:
    if attempt.advice is None or attempt.advice.verdict == "acceptable":
        return []
    return ["The last advice on this try doesn't find the pattern acceptable."]


def _one(value: float | None) -> tuple[float, ...]:
    return () if value is None else (value,)


def _at_most(value: float | None) -> tuple[None, float] | None:
    return None if value is None else (None, value)


def _small(name: str) -> str:
    return name[0].lower() + name[1:]
