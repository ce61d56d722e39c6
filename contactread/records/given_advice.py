"""Whether advice that was given on a try still goes by what is known of it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence

from contactread.records.limits import beyond_patterns
from contactread.records.nouns import Job, Try

ASK_AGAIN = "Photos, measurements or the axle file have changed since the last advice: ask for it again."
WENT_BY = "went_by"  # of the advice's JSON in the book; advice of older programs lacks it


def went_by(attempt: Try, job: Job) -> str:
    """A digest of all on a try that advice goes by: its readings, its backlash, its shims, its axle file, and
    what else is outside its limit.
    """
    readings = [
        (photo.sha256, reading.side, reading.centre, reading.confidence)
        for photo in attempt.photos
        if photo.struck is None and (reading := photo.reading) is not None and reading.status == "read"
    ]
    shims = attempt.pinion_shim_mm, attempt.ring_side_shim_mm, attempt.opposite_side_shim_mm
    notches = attempt.ring_side_notches, attempt.opposite_side_notches
    beyond = [beyond] if (beyond := beyond_patterns(job.axle, attempt)) else []
    about = json.dumps([sorted(readings), attempt.backlash_mm, shims, notches, job.axle_text, *beyond])
    return hashlib.sha256(about.encode()).hexdigest()[:16]


def is_stale(attempt: Try, job: Job) -> bool:
    """Whether photos, measurements, shims or the axle file have changed since the newest advice on a try, or
    it went by limits that can't be."""
    if attempt.advice is None:
        return False
    if job.axle.limits.unusable:
        return True
    went = attempt.advice.json.get(WENT_BY)
    if went is None:  # by an older program: only later photos can be told
        return any(photo.added_at > attempt.advice.given_at for photo in attempt.photos)
    return bool(went != went_by(attempt, job))


def why_outgrown(job: Job) -> str:
    """What to do about advice that is none any more."""
    refusal = job.axle.limits.refusal()
    return ASK_AGAIN if refusal is None else f"{refusal.message} {refusal.next_step}"


def is_outgrown(job: Job, tries: Sequence[Try], attempt: Try) -> bool:
    """Whether the newest advice on a try is stale while somebody may still act on it: such advice is none. On
    an earlier try, or in a closed job, it stays what was said then. tries: of the job, oldest first."""
    newest = bool(tries) and tries[-1].number == attempt.number
    return newest and job.sign_off is None and is_stale(attempt, job)
