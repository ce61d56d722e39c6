"""Jobs, tries and the set-up sheet as plain text."""

from __future__ import annotations

import json
from collections.abc import Sequence

from contactread.axle import ROLES
from contactread.records.given_advice import is_outgrown, is_stale
from contactread.records.moments import day
from contactread.records.nouns import Correction, Job, RecordedAdvice, RecordedPhoto, Reopening, Try
from contactread.records.sheet import Sheet
from contactread.show.measure_text import measure_lines
from contactread.show.text import printable
from contactread.units import show_clearance, show_length, show_span, show_torque


def job_line(job: Job) -> str:
    """A job in one line."""
    return (
        f"Job {job.id}: {printable(job.vehicle)}, {printable(job.kind)}, {job.condition} gears, {state(job)}"
    )


def state(job: Job) -> str:
    """Open, or how it was closed."""
    if job.struck is not None:
        return "struck out"
    if job.sign_off is None:
        return "open"
    return "signed off" if job.sign_off.outcome == "done" else "stopped"


def sheet_text(
    job: Job, attempts: Sequence[Try], sheet: Sheet, corrections: Sequence[Correction] = ()
) -> str:
    """The set-up sheet: job, every try in short, the newest in full, measurements against limits, what was
    corrected, what is missing. attempts: all of them, also those that were struck out."""
    newest = newest_of(attempts)
    parts = [job_line(job), f"Opened by {printable(job.opened_by)} on {day(job.opened_at)}."]
    parts += [f"{name}: {printable(words)}" for name, words in about(job)]
    if job.struck is not None:
        parts.append(f"STRUCK OUT: {printable(job.struck)}")
    for attempt in attempts:
        if attempt is not newest:
            parts += ["", *_short_lines(attempts, attempt)]
    if newest is not None:
        parts += [
            "",
            *_try_lines(newest, is_outgrown(job, [t for t in attempts if t.struck is None], newest)),
        ]
    if sheet.measures:
        parts += ["", *(line for measure in sheet.measures for line in measure_lines(measure))]
    if corrections:
        parts += ["", "Corrected:", *(f"  {correction_text(each)}" for each in corrections)]
    for again in job.reopened:
        parts += ["", reopened_text(again)]
    if job.sign_off is not None:
        closed = job.sign_off
        if (refusal := job.axle.limits.refusal()) is not None:
            parts += ["", printable(f"{refusal.message} ({refusal.code})")]
        parts += [
            "",
            f"{state(job).capitalize()} by {printable(closed.signed_by)} on {day(closed.signed_at)}.",
        ]
        if closed.reason:
            parts.append(f"Reason: {printable(closed.reason)}")
        parts += [f"  left open: {printable(sentence)}" for sentence in closed.left_open]
    elif job.struck is not None:
        pass
    elif sheet.ready:
        parts += ["", f"Nothing is missing. Next: contactread job close {job.id}"]
    else:
        parts += ["", "Before the cover goes on:"]
        parts += [f"  outside: {printable(s)}" for s in sheet.outside]
        parts += [f"  missing: {printable(s)}" for s in sheet.missing]
        parts += ["", f"Next: {next_step(job, newest)}"]
    return "\n".join(parts)


def newest_of(attempts: Sequence[Try]) -> Try | None:
    """The newest try that counts."""
    return next((each for each in reversed(attempts) if each.struck is None), None)


def about(job: Job) -> list[tuple[str, str]]:
    """What is known of whose axle it is: heading and words, only what there is."""
    known = (
        ("Shop", job.shop), ("Customer", job.customer), ("Mileage", job.mileage), ("Gear set", job.gear_set),
        ("Notes", " ".join(job.notes.split())),
    )  # fmt: skip
    return [(name, words) for name, words in known if words]


def found_text(attempt: Try) -> str:
    """What a try showed: backlash, least to most, and the centre of each side from toe and root."""
    found = []
    if attempt.backlash_mm:
        low, high = min(attempt.backlash_mm), max(attempt.backlash_mm)
        found.append(f"backlash {show_span(low, high)}")
    for role in ROLES:
        reading = attempt.reading_of(role)
        if reading is not None and reading.centre is not None:
            u, v = reading.centre
            found.append(f"{role} at {u:.0%} / {v:.0%}")
    return "; ".join(found) or "not measured"


def advised_text(advice: RecordedAdvice) -> str:
    """Advice in short, with its amounts."""
    words = str(advice.json.get("headline", advice.verdict.replace("_", " ")))
    amounts = []
    for move in advice.json.get("moves", ()):
        for shim in move.get("shims", ()):
            name = str(shim.get("part", "")).replace("_", " ")
            if shim.get("change"):
                amounts.append(f"{name} {show_length(shim['change']['mm'], signed=True)}")
            elif shim.get("notches"):
                amounts.append(f"{name} {shim['notches']:+g} notches")
    told = ", ".join(amounts)
    return f"{words} {told[:1].upper()}{told[1:]}".strip()


def done_text(attempt: Try, following: Try) -> str:
    """What was done after a try: what the next one was built with otherwise."""
    changed = []
    for name, words in (
        ("pinion_shim_mm", "pinion shim"), ("ring_side_shim_mm", "ring side shim"),
        ("opposite_side_shim_mm", "opposite side shim"), ("ring_side_notches", "ring side adjuster"),
        ("opposite_side_notches", "opposite adjuster"),
    ):  # fmt: skip
        before, after = getattr(attempt, name), getattr(following, name)
        if before is None or after is None or abs(after - before) < 1e-9:
            continue
        step = after - before
        amount = show_length(step, signed=True) if name.endswith("_mm") else f"{step:+g} notches"
        changed.append(f"{words} {amount}")
    return ", ".join(changed) or "no shim changed"


def after(attempts: Sequence[Try], attempt: Try) -> Try | None:
    """The try that counts next after one."""
    return next((t for t in attempts if t.number > attempt.number and t.struck is None), None)


def correction_text(correction: Correction) -> str:
    """One correction in one line."""
    where = "" if correction.attempt is None else f"try {correction.attempt}, "
    field = correction.field.replace("_mm", "").replace("_nm", "").replace("_", " ")
    old, new = (_recorded(correction.field, value) for value in (correction.old, correction.new))
    by = f"by {correction.corrected_by} on {day(correction.corrected_at)}"
    since = ", after sign-off" if correction.after_sign_off else ""
    why = f": {correction.reason}" if correction.reason else ""
    change = f"struck out, was {old}" if correction.new is None else f"{old} became {new}"
    return printable(f"{where}{field}: {change}, {by}{since}{why}")


def reopened_text(again: Reopening) -> str:
    """One reopening in one line."""
    signed = f"signed off by {again.signed.signed_by} on {day(again.signed.signed_at)}"
    return printable(
        f"Reopened by {again.reopened_by} on {day(again.reopened_at)}: {again.reason} (it was {signed})"
    )


def _recorded(field: str, value: str | None) -> str:
    """A value of a correction in the units that are shown."""
    if value is None:
        return ""
    if field == "axle file":
        return value[:8]
    if field.endswith("_at"):
        return day(value)
    try:
        if field == "backlash_mm":
            return ", ".join(show_clearance(mm) for mm in json.loads(value))
        for unit, shown in (("shim_mm", show_length), ("_mm", show_clearance), ("_nm", show_torque)):
            if field.endswith(unit):
                return shown(float(value))
    except (ValueError, TypeError):
        pass
    return value


def _short_lines(attempts: Sequence[Try], attempt: Try) -> list[str]:
    head = f"Try {attempt.number} by {printable(attempt.made_by)} on {day(attempt.made_at)}"
    if attempt.struck is not None:
        return [f"{head}: STRUCK OUT, {printable(attempt.struck)}", f"  built with: {build_text(attempt)}"]
    lines = [head, f"  built with: {build_text(attempt)}", f"  found: {found_text(attempt)}"]
    if attempt.advice is not None:
        lines.append(f"  advised: {printable(advised_text(attempt.advice))}")
    following = after(attempts, attempt)
    if following is not None:
        lines.append(f"  done: {done_text(attempt, following)} (try {following.number})")
    return lines


def next_step(job: Job, attempt: Try | None) -> str:
    """The command that an open job waits for."""
    if job.axle.limits.unusable:
        return f"contactread job correct {job.id} --axle FILE"
    if attempt is None:
        return f"contactread try start {job.id}"
    again = f"contactread try photo {job.id} DRIVE-PHOTO COAST-PHOTO"
    if attempt.reading_of("drive") is None or attempt.reading_of("coast") is None:
        return again
    if not attempt.backlash_mm:
        return f"contactread try record {job.id} --backlash LENGTHS, at four places round the ring gear"
    if attempt.advice is None or attempt.advice.verdict == "measure_first" or is_stale(attempt, job):
        return f"contactread try advise {job.id}"
    if attempt.advice.verdict == "read_again":
        return f"photograph both sides again: {again}"
    if attempt.advice.verdict == "no_better_place":  # in the answer's own words
        said = [*attempt.advice.json.get("inspections", ())[:1], attempt.advice.json.get("reason", "")][0]
        photos = f" ({again})" if "photograph" in said else ""
        close = f"contactread job close {job.id} --despite REASON"
        return f"{said.rstrip('.')}{photos}. Or close it: {close}"
    if attempt.advice.verdict.startswith("move"):
        return f"make the move, then: contactread try start {job.id} (its --help names the shims)"
    return f"put right what is named above; contactread try record {job.id} --help writes it down"


def build_text(attempt: Try) -> str:
    """The shims or notches that a try was built with."""
    shim = attempt.pinion_shim_mm
    words = f"pinion shim {'not known' if shim is None else show_length(shim)}"
    if attempt.ring_side_shim_mm is not None and attempt.opposite_side_shim_mm is not None:
        words += f"; side shims {show_length(attempt.ring_side_shim_mm)} behind the ring gear"
        words += f", {show_length(attempt.opposite_side_shim_mm)} opposite"
    if attempt.ring_side_notches is not None and attempt.opposite_side_notches is not None:
        words += f"; adjusters {attempt.ring_side_notches:+g} notches behind the ring gear"
        words += f", {attempt.opposite_side_notches:+g} opposite, since try 1"
    return words


def photo_text(photo: RecordedPhoto) -> str:
    """A photo and what was read from it, in one line."""
    if photo.struck is not None:
        return f"{printable(photo.name)}: STRUCK OUT, {printable(photo.struck)}"
    if photo.reading is None:
        return f"{printable(photo.name)}: not read yet"
    if photo.reading.status == "refused":
        refusal = photo.reading.json["refusal"]
        words = f"{refusal['message']} {refusal['next_step']}"
        return f"{printable(photo.name)}: refused ({photo.reading.refusal}). {printable(words)}"
    u, v = photo.reading.centre or (0.0, 0.0)
    return (
        f"{printable(photo.name)}: {photo.reading.side}, centre at {u:.0%} of the length from the toe and "
        f"{v:.0%} of the height from the root; the reading is {photo.reading.confidence:.0%} sure"
    )


def _try_lines(attempt: Try, outgrown: bool) -> list[str]:
    """outgrown: whether its newest advice is none any more."""
    lines = [f"Try {attempt.number} by {printable(attempt.made_by)} on {day(attempt.made_at)}"]
    lines.append(f"  built with: {build_text(attempt)}")
    if attempt.side_preload_mm is not None:
        lines.append(f"  side-bearing preload: {show_clearance(attempt.side_preload_mm)}")
    if attempt.compound or attempt.drag:
        compound, drag = (printable(w or "not written down") for w in (attempt.compound, attempt.drag))
        lines.append(f"  rolled with: compound {compound}; drag {drag}")
    lines += [f"  photo {photo.id}: {photo_text(photo)}" for photo in attempt.photos]
    for advice in (*attempt.earlier_advice, *([attempt.advice] if attempt.advice else [])):
        version = f" (by axle file version {advice.axle_version})" if advice.axle_version > 1 else ""
        lines.append(f"  advised on {day(advice.given_at)}: {printable(advised_text(advice))}{version}")
    if outgrown:
        lines.append("  That advice is outgrown: something it went by has changed since.")
    if attempt.notes:
        lines.append(f"  notes: {printable(attempt.notes)}")
    return lines
