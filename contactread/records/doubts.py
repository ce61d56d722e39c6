"""Values that can hardly be: asked again before they are written.

The limits only catch slips of the pen, such as mm for thousandths or a wrong year. They are common practice,
wider than anything a set-up is adjusted by; what is right all the same is recorded by saying so.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from contactread.errors import BookError
from contactread.plausible import LEAST_BACKLASH_MM
from contactread.records.book import Book
from contactread.records.moments import day, stamp
from contactread.records.nouns import Job, Try
from contactread.units import show_clearance, show_length

OLDEST, AHEAD = timedelta(days=20 * 365), timedelta(days=1)
SHIM_STEP_MM, SHIM_RATIO = 0.32, 3.0  # of one pack from one try to the next: both must be passed
SLIP_RATIO = 9.0  # or this alone: the decimal point one place off, inches for mm
PACK_MM = 0.08, 10.0  # a depth pack thinner or thicker than this
# Less than a dial reads: mostly an amount in inches that was called mm. Our own choices.
LEAST_MM = {"backlash_mm": LEAST_BACKLASH_MM, "ring_runout_mm": 0.009, "side_preload_mm": 0.02}
LARGEST_MM = {"backlash_mm": 1.0, "ring_runout_mm": 0.5, "side_preload_mm": 1.0}
# Field of a try -> what it is called, plain bounds, unit. The bounds only catch slips of the pen.
NUMBERS: dict[str, tuple[str, float, float, str]] = {
    "pinion_shim_mm": ("pinion shim", 0, 50, "mm"),
    "ring_side_shim_mm": ("side shim behind the ring gear", 0, 50, "mm"),
    "opposite_side_shim_mm": ("opposite side shim", 0, 50, "mm"),
    "ring_side_notches": ("adjuster travel behind the ring gear", -1000, 1000, "notches"),
    "opposite_side_notches": ("opposite adjuster travel", -1000, 1000, "notches"),
    "ring_runout_mm": ("ring-gear runout", 0, 5, "mm"),
    "pinion_torque_nm": ("pinion turning torque", 0, 500, "N·m"),
    "total_torque_nm": ("total turning torque", 0, 500, "N·m"),
    "side_preload_mm": ("side-bearing preload", 0, 5, "mm"),
}
_NAMES = {"backlash_mm": "backlash"} | {field: name for field, (name, *_) in NUMBERS.items()}
Row = Mapping[str, Any] | sqlite3.Row
_BUILD, _SHIMS = tuple(NUMBERS)[:5], tuple(NUMBERS)[:3]


def refuse_doubts(doubts: list[str], sure: bool) -> None:
    """Raise `BookError` record-doubt where something is doubtful and nobody said that it is right."""
    if doubts and not sure:
        raise BookError(
            "record-doubt",
            "This looks like a slip, so nothing was recorded:\n"
            + "\n".join(f"  - {words}" for words in doubts),
            "Check the number and its unit. If it is right, do this again with --sure.",
        )


def date_doubts(at: str, book: Book) -> list[str]:
    """A date ahead of this computer's clock, or from long ago. at: as the book writes it."""
    now = book.clock()
    if at > stamp(now + AHEAD):
        return [f"the date {day(at)} lies ahead of this computer's clock ({day(stamp(now))})"]
    return [f"the date {day(at)} is long ago"] if at < stamp(now - OLDEST) else []


def order_doubts(at: str, job: Job, before: Row | None, after: Row | None) -> list[str]:
    """A try's date before that of the try before it, or of its job, or after that of the next one. A day has
    no order.
    """
    doubts = []
    if before is not None and day(at) < day(before["made_at"]):
        doubts.append(f"the date {day(at)} lies before try {before['number']}, {day(before['made_at'])}")
    if before is None and day(at) < day(job.opened_at):
        doubts.append(f"the date {day(at)} lies before job {job.id}, {day(job.opened_at)}")
    if after is not None and day(at) > day(after["made_at"]):
        doubts.append(f"the date {day(at)} lies after try {after['number']}, {day(after['made_at'])}")
    return doubts


def opening_doubts(at: str, tries: Sequence[Try]) -> list[str]:
    """A job's date after that of its first try."""
    return [f"the date {day(at)} lies after try {first.number}, {day(first.made_at)}"
            for first in tries[:1] if day(at) > day(first.made_at)]  # fmt: skip


def closing_doubts(at: str, job: Job, tries: Sequence[Try]) -> list[str]:
    """A sign-off's date before that of the job's last try, or of the job."""
    name, last = f"job {job.id}", job.opened_at
    for attempt in tries[-1:]:
        name, last = f"try {attempt.number}", attempt.made_at
    return [f"the date {day(at)} lies before {name}, {day(last)}"] if day(at) < day(last) else []


def value_doubts(job: Job, before: Row | None, values: Mapping[str, Any]) -> list[str]:
    """What can hardly be among new values of a try. before: the try before it, None for the first, which is
    held against the axle file."""
    axle, first = job.axle, before is None
    known = {
        "pinion_shim_mm": axle.pinion_shim.thickness_mm, "ring_side_shim_mm": axle.carrier.ring_side_mm,
        "opposite_side_shim_mm": axle.carrier.opposite_side_mm,
    } if before is None else dict(before)  # fmt: skip
    doubts = []
    for field in _SHIMS:
        new, old = values.get(field), known.get(field)
        if new is None:
            continue
        if old is not None and _leaps(new, old):
            doubts.append(f"{_NAMES[field]} {show_length(new)}, where it was {show_length(old)} before")
        elif (first or old is None) and field == _SHIMS[0] and new and not PACK_MM[0] <= new <= PACK_MM[1]:
            doubts.append(f"{_NAMES[field]} {show_length(new)}")
    for field, most in LARGEST_MM.items():
        found = values.get(field)
        for mm in found if isinstance(found, list) else [found]:
            if mm is not None and (mm > most or 0 < mm < LEAST_MM[field]):
                doubts.append(f"{_NAMES[field]} {show_clearance(mm)}")
    return doubts


def moved_doubts(before: Row, values: Mapping[str, Any], advice: Mapping[str, Any] | None) -> list[str]:
    """Shims of a try that become what was advised on it: the move was made, and a new try begins with it."""
    doubts = []
    for field, advised in _advised(advice):
        new, old = values.get(field), before[field]
        if advised and new is not None and old is not None and 0.5 < (new - old) / advised < 1.5:
            doubts.append(
                f"{_NAMES[field]} {show_length(new)}: such a change was advised on try {before['number']}, "
                "and the next try, 'contactread try start', begins with it"
            )
    return doubts


def unsaid_moves(before: Try, build: Mapping[str, Any]) -> str:
    """What a new try's build, where some of it is given, is silent on though advice on the try before moves
    it: it counts as unmoved. A sentence, or nothing.
    """
    if before.advice is None or not any(build.get(field) is not None for field in _BUILD):
        return ""
    moves = _advised(before.advice.json)
    silent = [_NAMES[field] for field, advised in moves if advised != 0 and build.get(field) is None]
    if not silent:
        return ""
    words = " and ".join(silent)
    return (
        f"Taken as on try {before.number}, though its advice changes them: {words}. If they were changed, "
        "write it down with 'contactread try record'."
    )


def _advised(advice: Mapping[str, Any] | None) -> list[tuple[str, float | None]]:
    """Fields of a try's build that advice changes, and by how many mm; None for notches."""
    parts = {"pinion_shim": _BUILD[:1], "ring_side_shim": _BUILD[1:2], "opposite_shim": _BUILD[2:3],
             "adjusters": _BUILD[3:]}  # fmt: skip
    return [
        (field, None if shim["change"] is None else shim["change"]["mm"])
        for move in (advice or {}).get("moves", ())
        for shim in move["shims"]
        for field in parts.get(shim["part"], ())
    ]


def _leaps(new: float, old: float) -> bool:
    low, high = sorted((new, old))
    return (high - low > SHIM_STEP_MM and high > SHIM_RATIO * low) or 0 < SLIP_RATIO * low < high
