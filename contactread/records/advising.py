"""Advice on a recorded try: from its readings, its backlash and the tries before it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from contactread.advice.advise import advise
from contactread.advice.answer import Advice
from contactread.advice.roles import refuse_other_hand
from contactread.advice.shims import notch_travel, pinion_travel, side_shim_travel
from contactread.axle import ROLES, Axle, GearSet
from contactread.belief import EarlierTry
from contactread.errors import AdviceError, BookError, ContactreadError, QuantityError
from contactread.pattern.measures import Setup
from contactread.reading import Reading, pair
from contactread.records.book import Book
from contactread.records.given_advice import WENT_BY, went_by
from contactread.records.jobs import find_open_job
from contactread.records.limits import beyond_patterns
from contactread.records.measured import joined, reading_of
from contactread.records.nouns import RecordedPhoto, Try
from contactread.records.photos import keep_advice
from contactread.records.tries import find_try, tries_of
from contactread.views import same_picture


def advise_try(
    book: Book, job_id: int, number_of_try: int | None = None, *, last_move_checked: bool = False,
    who: str | None = None, show: Callable[[Advice, GearSet], str] | None = None,
) -> tuple[Advice, Try]:  # fmt: skip
    """Advice on a try (the newest, unless numbered), kept with it. last_move_checked: the move that led to
    this try was looked at again and is as recorded, so no mix-up is suspected in it any more. show: puts it
    into words, which are kept too.

    Raises `BookError` record-half where a side has no readable photo, last-move-unknown, job-missing,
    job-closed, try-missing; `AdviceError` reading-unsure where what the photos of a side say together isn't
    sure enough to move a shim by, photo-copied, and as `advise`.
    """
    job = find_open_job(book, job_id)
    attempt = find_try(book, job_id, number_of_try)
    axle = job.axle
    tries = tries_of(book, job_id)
    _refuse_copies(attempt, tries)
    earlier = history(tries, attempt.number, axle)
    if last_move_checked:
        if not earlier:
            raise BookError(
                "last-move-unknown",
                f"No move before try {attempt.number} is known, so none can be called checked.",
                "Leave out --last-move-checked.",
            )
        earlier[-1] = replace(earlier[-1], checked=True)
    advice = _no_all_clear(advise(set_up_of(attempt, axle), axle, earlier), beyond_patterns(axle, attempt))
    keep_advice(
        book,
        attempt.id,
        verdict=advice.verdict,
        pinion_shim_change_mm=_pinion_shim_change(advice),
        ring_move_mm=advice.ring_mm,
        advice=advice.to_json() | {WENT_BY: went_by(attempt, job)},
        words="" if show is None else show(advice, axle.gears),
        who=who or job.opened_by,
    )
    return advice, find_try(book, job_id, attempt.number)


def _refuse_copies(attempt: Try, tries: Sequence[Try]) -> None:
    """Raises `AdviceError` photo-copied where a photo shows the very view of one of an earlier try, as a copy
    from a messenger does: it tells nothing of the shims as they are now.
    """
    old = [(other, photo, one) for other in tries if other.number < attempt.number
           for photo, one in _views(other)]  # fmt: skip
    for photo, new in _views(attempt):
        for other, before, one in old:
            if one.side.flank == new.side.flank and same_picture(one, new):
                raise AdviceError(
                    "photo-copied",
                    f"Photo {photo.id} ({photo.name}) is a copy of photo {before.id} of try {other.number}, "
                    f"so it doesn't show try {attempt.number}.",
                    f"'contactread photo strike {photo.id} --reason copy' takes it out; then add a photo of "
                    f"try {attempt.number}.",
                )


def _views(attempt: Try) -> list[tuple[RecordedPhoto, Reading]]:
    """The photos of a try that count and were measured, with their readings."""
    read = [(photo, photo.reading.json) for photo in attempt.photos if photo.reading and photo.struck is None]
    return [(photo, reading_of(json)) for photo, json in read if "measured" in json]


def _no_all_clear(advice: Advice, beyond: tuple[str, ...]) -> Advice:
    """The advice; but what finds patterns and backlash right is no all-clear while something else that was
    measured is outside its limit.
    """
    if advice.verdict != "acceptable" or not beyond:
        return advice
    return replace(
        advice,
        verdict="no_better_place",
        reason=f"Both patterns are where they should be, but: {' '.join(beyond)}",
        inspections=("Put that right, roll and read again, and ask again.",),
        confidence=None,
    )


def history(attempts: list[Try], before: int, axle: Axle) -> list[EarlierTry]:
    """The readable tries before try `before`, oldest first, each with the move made after it.

    Ends at the last gap: a try whose readings or moves aren't known breaks the chain.
    """
    earlier: list[EarlierTry] = []
    for attempt, following in pairwise(attempts):
        if following.number > before:
            break
        moves = moves_between(attempt, following, axle)
        try:
            setup = set_up_of(attempt, axle)
        except ContactreadError:
            setup = None
        if moves is None or setup is None:
            earlier.clear()
            continue
        earlier.append(EarlierTry(setup, *moves))
    return earlier


def moves_between(attempt: Try, following: Try, axle: Axle) -> tuple[float, float] | None:
    """P and G in mm made from one try to the next, from the shims of both; None where they don't say."""
    pinion = pinion_move(attempt, following, axle)
    ring = ring_move(attempt, following, axle)
    return None if pinion is None or ring is None else (pinion, ring)


def pinion_move(attempt: Try, following: Try, axle: Axle) -> float | None:
    """P in mm, positive away from the ring-gear axis; None where the shim's place isn't known."""
    if following.pinion_shim_mm is None or attempt.pinion_shim_mm is None:
        return None
    thicker = following.pinion_shim_mm - attempt.pinion_shim_mm
    if abs(thicker) < 1e-9:
        return 0.0
    return pinion_travel(thicker, axle.pinion_shim)


def ring_move(attempt: Try, following: Try, axle: Axle) -> float | None:
    """G in mm, positive away from the pinion; None where nothing recorded says how the ring gear moved."""
    for kind, travel in (("shim_mm", side_shim_travel), ("notches", notch_travel)):
        sides = f"ring_side_{kind}", f"opposite_side_{kind}"
        before, after = ([getattr(each, side) for side in sides] for each in (attempt, following))
        if None not in (*before, *after):
            return travel(after[0] - before[0], after[1] - before[1], axle.carrier)
    return None


def set_up_of(attempt: Try, axle: Axle) -> Setup:
    """What all photos of a try say together. Raises `BookError` record-half; `AdviceError` as `pair`,
    hand-not-axle; `QuantityError` as `pair`, of a backlash that an older book took and that can't be.
    """
    readings = [photo.reading.json for photo in attempt.photos if photo.reading and photo.struck is None]
    sides = joined((reading for reading in readings if "measured" in reading), axle)
    for role in ROLES:
        if role not in sides:
            raise BookError(
                "record-half",
                f"Try {attempt.number} has no readable photo of the {role} side, so there is no advice.",
                f"Add one with 'contactread try photo {attempt.job_id} PHOTO'.",
            )
    try:
        setup = pair(sides["drive"], sides["coast"], attempt.backlash_mm)
    except QuantityError as error:
        raise QuantityError(
            error.code,
            f"Try {attempt.number}: {error.message[0].lower()}{error.message[1:]}",
            "Check the decimal point and the unit, then put it right with 'contactread try record "
            f"{attempt.job_id} --try {attempt.number} --backlash LENGTHS'.",
        ) from error
    refuse_other_hand(setup, axle)
    return setup


def _pinion_shim_change(advice: Advice) -> float | None:
    shims = (shim for move in advice.moves for shim in move.shims)
    return next((shim.change_mm for shim in shims if shim.part == "pinion_shim"), None)
