"""The tries of a job: starting one, recording what was measured, reading it back."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from contactread.errors import BookError
from contactread.plausible import MOST_BACKLASH_MM
from contactread.records.book import Book
from contactread.records.corrections import Correcting
from contactread.records.doubts import (
    NUMBERS,
    date_doubts,
    moved_doubts,
    order_doubts,
    refuse_doubts,
    value_doubts,
)  # fmt: skip
from contactread.records.jobs import find_job, find_open_job, writer
from contactread.records.nouns import Fastener, Job, Try
from contactread.records.photos import advice_of, photos_of
from contactread.records.rows import noun_of
from contactread.records.try_values import backlash_of, put_fastener, replace_backlash, tighten
from contactread.records.words import half, line, moment, number, paragraph

MOST_PLACES = 100  # our choice: more than a ring gear has teeth
_BUILD = tuple(NUMBERS)[:5]
# What can be struck out: name -> columns.
CLEARABLE: dict[str, tuple[str, ...]] = {
    "pinion-shim": ("pinion_shim_mm",), "side-shims": ("ring_side_shim_mm", "opposite_side_shim_mm"),
    "notches": ("ring_side_notches", "opposite_side_notches"), "backlash": (), "runout": ("ring_runout_mm",),
    "pinion-torque": ("pinion_torque_nm", "bearings"), "total-torque": ("total_torque_nm",),
    "side-preload": ("side_preload_mm",), "compound": ("compound",), "drag": ("drag",),
}  # fmt: skip
_WORDS = {"compound": "compound", "drag": "drag"}


def start_try(
    book: Book,
    job_id: int,
    *,
    who: str | None = None,
    when: str | None = None,
    notes: str = "",
    sure: bool = False,
    shims_unknown: bool = False,
    as_before: bool = True,
    **build: Any,
) -> Try:
    """Begin the next try of a job. build: any of pinion_shim_mm, ring_side_shim_mm,
    opposite_side_shim_mm, ring_side_notches, opposite_side_notches, compound, drag.

    What isn't given is taken from the try before, or, for the first, from the axle file. shims_unknown: a
    pinion shim that nobody knows stays unknown. as_before: False where nobody says that the rest stayed as it
    was in the try before: it is unknown then. who: the person who opened the job, unless another is named.
    sure: values that look like slips are right.
    Raises `BookError` record-half (no pinion shim, or one side without the other), record-value,
    record-doubt, job-missing, job-closed.
    """
    job = find_open_job(book, job_id)
    made_at = moment(when, book.clock())
    refuse_doubts(date_doubts(made_at, book), sure)
    made_by = writer(job, who)
    with book.writing(f"try started in job {job_id}", who=made_by, job_id=job_id):
        before = _newest(book, job_id)
        if as_before:  # not in a manifest, whose tries without a date count as made now
            refuse_doubts(order_doubts(made_at, job, before, None), sure)
        known = {} if before is not None and not as_before else _as_before(job, before)
        values = known | _checked({k: v for k, v in build.items() if v is not None})
        if values.get("pinion_shim_mm") is None and not shims_unknown:
            raise half(
                "The pinion shim is not known",
                "Give the pinion shim as built, with --pinion-shim, or say --shims-unknown.",
            )
        _refuse_half_build(values)
        refuse_doubts(value_doubts(job, before, values), sure)
        values |= {
            "job_id": job_id,
            "number": next_number(book, job_id),
            "made_by": made_by,
            "made_at": made_at,
            "notes": paragraph(notes, "notes"),
        }
        try_id = book.insert("try", values)
    return _find(book, try_id)


def record(
    book: Book,
    job_id: int,
    number_of_try: int | None = None,
    *,
    who: str | None = None,
    backlash_mm: Sequence[float] = (),
    fasteners: Sequence[Fastener] = (),
    tightened_nm: Mapping[str, float] | None = None,
    cleared: Collection[str] = (),
    reason: str = "",
    when: str | None = None,
    sure: bool = False,
    **measured: Any,
) -> Try:
    """Write down what was measured on a try (the newest, unless numbered). A value recorded before is
    replaced, and the old one kept as a correction. All of it is recorded, or, on any error, nothing.
    tightened_nm: torque by name, for fasteners whose torque from the manual is known. cleared: fields whose
    value is struck out (`CLEARABLE`). when: a new date of the try; measured may hold made_by too. sure:
    values that look like slips are right.

    Raises `BookError` record-half, record-value, record-doubt, job-missing, job-closed, try-missing.
    """
    job = find_open_job(book, job_id)
    values = _checked({k: v for k, v in measured.items() if v is not None})
    if when is not None:
        values["made_at"] = moment(when, book.clock())
        refuse_doubts(date_doubts(values["made_at"], book), sure)
    values |= _cleared(cleared)
    places = [number(b, "backlash", 0, MOST_BACKLASH_MM, "mm") for b in backlash_mm[: MOST_PLACES + 1]]
    if not (values or places or fasteners or tightened_nm or "backlash" in cleared):
        raise BookError(
            "record-half", "Nothing was given to record.", "Give at least one measurement: see --help."
        )
    if len(places) > MOST_PLACES:
        raise BookError(
            "record-value", f"More than {MOST_PLACES} places of backlash.", "Record fewer places."
        )
    person = writer(job, who)
    with book.writing(f"recorded on job {job_id}", who=person, job_id=job_id):
        row = _row(book, job_id, number_of_try)
        book.says(f"recorded on job {job_id}, try {row['number']}")
        merged = dict(row) | values
        checked = {"backlash_mm": places} | values
        before = _newest(book, job_id, row["number"])
        if when is not None:
            refuse_doubts(order_doubts(values["made_at"], job, before, _after(book, row)), sure)
        advice = advice_of(book, row["id"])
        moved = moved_doubts(row, values, advice[-1].json if advice else None)
        refuse_doubts([*value_doubts(job, before, checked), *moved], sure)
        _refuse_half_build(merged)
        _refuse_half_torque(merged)
        note = Correcting(book, job_id, row["id"], person, reason)
        for field, value in values.items():
            note(field, None if row[field] == "" else row[field], value)
        if values:
            book.update("try", {"id": row["id"]}, values)
        if places or "backlash" in cleared:
            replace_backlash(book, row["id"], [p for p in places if p is not None], note)
        for fastener in fasteners:
            put_fastener(book, row["id"], fastener, note)
        for name, nm in (tightened_nm or {}).items():
            tighten(book, row["id"], name, nm, note)
    return _find(book, row["id"])


def find_try(book: Book, job_id: int, number_of_try: int | None = None) -> Try:
    """A try of a job, the newest unless numbered. Raises `BookError` job-missing, try-missing."""
    find_job(book, job_id)
    return _try(book, _row(book, job_id, number_of_try))


def tries_of(book: Book, job_id: int, *, struck: bool = False) -> list[Try]:
    """The tries of a job in order. struck: those that were struck out too."""
    sql = f"SELECT * FROM try WHERE job_id = ? {'' if struck else 'AND struck IS NULL'} ORDER BY number"
    return [_try(book, row) for row in book.rows(sql, job_id)]


def next_number(book: Book, job_id: int) -> int:
    """The number of a job's next try."""
    return int(book.value("SELECT ifnull(max(number), 0) + 1 FROM try WHERE job_id = ?", job_id))


def _find(book: Book, try_id: int) -> Try:
    row = book.row("SELECT * FROM try WHERE id = ?", try_id)
    assert row is not None
    return _try(book, row)


def _row(book: Book, job_id: int, number_of_try: int | None) -> sqlite3.Row:
    if number_of_try is None:
        row = _newest(book, job_id)
    else:
        row = book.row("SELECT * FROM try WHERE job_id = ? AND number = ?", job_id, number_of_try)
    if row is None:
        which = "no try yet" if number_of_try is None else f"no try {number_of_try}"
        raise BookError(
            "try-missing", f"Job {job_id} has {which}.", f"Start one with 'contactread try start {job_id}'."
        )
    return row


def _newest(book: Book, job_id: int, before: int = 2**31) -> sqlite3.Row | None:
    """The newest try that counts, or the one that comes before a number."""
    sql = "SELECT * FROM try WHERE job_id = ? AND number < ? AND struck IS NULL ORDER BY number DESC LIMIT 1"
    return book.row(sql, job_id, before)


def _after(book: Book, row: sqlite3.Row) -> sqlite3.Row | None:
    sql = "SELECT * FROM try WHERE job_id = ? AND number > ? AND struck IS NULL ORDER BY number LIMIT 1"
    return book.row(sql, row["job_id"], row["number"])


def _try(book: Book, row: sqlite3.Row) -> Try:
    fasteners = book.rows("SELECT * FROM fastener WHERE try_id = ? ORDER BY name", row["id"])
    advice = advice_of(book, row["id"])
    return noun_of(
        Try,
        row,
        backlash_mm=tuple(backlash_of(book, row["id"])),
        fasteners=tuple(noun_of(Fastener, fastener) for fastener in fasteners),
        photos=photos_of(book, row["id"]),
        advice=advice[-1] if advice else None,
        earlier_advice=advice[:-1],
    )


def _as_before(job: Job, before: sqlite3.Row | None) -> dict[str, Any]:
    if before is not None:
        return {field: before[field] for field in (*_BUILD, *_WORDS)}
    axle = job.axle
    known: dict[str, Any] = {"pinion_shim_mm": axle.pinion_shim.thickness_mm}
    if axle.carrier.kind == "side_shims":
        known["ring_side_shim_mm"] = axle.carrier.ring_side_mm
        known["opposite_side_shim_mm"] = axle.carrier.opposite_side_mm
    else:
        known |= {"ring_side_notches": 0.0, "opposite_side_notches": 0.0}
    return known


def _checked(values: dict[str, Any]) -> dict[str, Any]:
    checked: dict[str, Any] = {}
    for field, value in values.items():
        if field in NUMBERS:
            checked[field] = number(value, *NUMBERS[field])
        elif field in _WORDS:
            checked[field] = line(value, _WORDS[field])
        elif field == "notes":
            checked[field] = paragraph(value, "notes")
        elif field == "made_by":
            checked[field] = line(value, "name of the person", required=True)
        elif field == "bearings" and value in ("new", "used"):
            checked[field] = value
        else:
            raise TypeError(f"a try has no field {field} = {value!r}")
    return checked


def _refuse_half_build(values: dict[str, Any]) -> None:
    for kind, option in (("shim_mm", "side"), ("notches", "notches")):
        ring, opposite = values.get(f"ring_side_{kind}"), values.get(f"opposite_side_{kind}")
        if (ring is None) != (opposite is None):
            raise half(
                "Only one side of the ring gear is given",
                f"Give both sides, with --ring-{option} and --opposite-{option}.",
            )


def _refuse_half_torque(values: dict[str, Any]) -> None:
    if (values.get("pinion_torque_nm") is None) != (values.get("bearings") is None):
        raise half(
            "A pinion turning torque means nothing without new or used bearings",
            "Give both, with --pinion-torque and --bearings.",
        )


def _cleared(fields: Collection[str]) -> dict[str, Any]:
    strange = sorted(set(fields) - set(CLEARABLE))
    if strange:
        raise BookError(
            "record-value",
            f"A try has no value '{strange[0][:60]}' that can be struck out.",
            f"These can: {', '.join(CLEARABLE)}.",
        )
    return {column: None for field in fields for column in CLEARABLE[field]}
