"""The set-up sheet: what was measured against the axle's own limits, and what is still missing."""

from __future__ import annotations

from dataclasses import dataclass

from contactread.axle import ROLES
from contactread.facts import facts
from contactread.records.given_advice import ASK_AGAIN, is_stale
from contactread.records.limits import Measure, measures_of, outside_words
from contactread.records.nouns import Job, Try


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
    refusal = job.axle.limits.refusal()
    unusable = () if refusal is None else (f"{refusal.message} No advice goes by them ({refusal.code}).",)
    if attempt is None:
        return Sheet((), (*unusable, "No try is recorded yet."), ())
    measures = measures_of(job.axle, attempt)
    missing = [
        *unusable,
        *(["The pinion shim isn't known."] if attempt.pinion_shim_mm is None else []),
        *(f"{m.name} isn't measured." for m in measures if m.verdict == "not measured"),
        *(_missing_limits(measures) if refusal is None else []),
        *_missing_places(attempt),
        *_missing_rolling(attempt),
        *_missing_advice(job, attempt),
        *_missing_fasteners(attempt),
    ]
    outside = [words for m in measures if (words := outside_words(m))]
    outside += _refused_by_pattern(attempt)
    return Sheet(measures, tuple(missing), tuple(outside))


def _missing_limits(measures: tuple[Measure, ...]) -> list[str]:
    """Backlash and pinion preload have a limit in every manual; the others are only shown without one."""
    return [
        f"The axle file has no limit for {m.name[0].lower()}{m.name[1:]}: enter the manual's."
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
    if is_stale(attempt, job) and not job.axle.limits.unusable:
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
