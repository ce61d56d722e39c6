"""A shop's own tries as questions: what was read, and the move that proved right."""

from __future__ import annotations

from itertools import pairwise
from sqlite3 import Row
from typing import Literal, get_args

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.axle import ROLES, Role
from contactread.errors import PracticeError
from contactread.patch import Patch
from contactread.practice.ask_faults import INSPECT
from contactread.practice.ask_special import MOVES as ASKED
from contactread.practice.question import FlankPicture, Option, PhotoPicture, Picture, Question, choice
from contactread.records.advising import moves_between
from contactread.records.book import Book
from contactread.records.jobs import find_job
from contactread.records.measured import patch_of
from contactread.records.moments import day
from contactread.records.nouns import Job, Try
from contactread.records.tries import find_try, tries_of
from contactread.records.words import line, paragraph
from contactread.units import show_clearance, show_move

RightMove = Literal["pinion_toward", "pinion_away", "gear_toward", "gear_away", "inspect"]
MOVES: tuple[RightMove, ...] = get_args(RightMove)
_WORDS: dict[str, str] = dict(zip(MOVES, (*ASKED, INSPECT), strict=True))
_LEAST_MM = 0.02  # a smaller move is no answer


def make_question_of(
    book: Book, job_id: int, number: int, *, who: str, right: RightMove | None = None, says: str = ""
) -> str:
    """Turn a try into a question; its id. right: None takes what the later tries of a finished job moved.

    Raises PracticeError case-not-readable, case-not-proved; `BookError` job-missing, try-missing,
    record-half.
    """
    job, attempt = find_job(book, job_id), find_try(book, job_id, number)
    if any(attempt.reading_of(role) is None for role in ROLES):
        raise PracticeError(
            "case-not-readable",
            f"Job {job_id}, try {number} has no readable photo of both sides.",
            "Pick a try with a read drive photo and a read coast photo.",
        )
    proof = says
    if right is None:
        right, found = _proved(job, attempt, tries_of(book, job_id))
        proof = says or found
    values = {
        "right_move": right,
        "says": paragraph(proof, "words"),
        "added_by": line(who, "name of the person", required=True),
        "added_at": book.stamp(),
    }
    with book.writing(
        f"try {number} of job {job_id} made a question", who=str(values["added_by"]), job_id=job_id
    ):
        book.delete("practice_case", try_id=attempt.id)
        book.insert("practice_case", {"try_id": attempt.id} | values)
    return f"shop-{job_id}-{number}"


def shop_ids(book: Book) -> tuple[str, ...]:
    """Ids of the shop's own questions, oldest first."""
    rows = book.rows(
        "SELECT try.job_id, try.number FROM practice_case JOIN try ON try.id = practice_case.try_id "
        "ORDER BY practice_case.added_at, try.id"
    )
    return tuple(f"shop-{row['job_id']}-{row['number']}" for row in rows)


def shop_question(book: Book, question_id: str) -> Question:
    """The question made of a try. Raises PracticeError question-unknown."""
    _, _, place = question_id.partition("-")
    job_id, _, number = place.partition("-")
    row = None
    if job_id.isdecimal() and number.isdecimal():
        row = book.row(
            "SELECT practice_case.* FROM practice_case JOIN try ON try.id = practice_case.try_id "
            "WHERE try.job_id = ? AND try.number = ?",
            int(job_id),
            int(number),
        )
    if row is None:
        raise PracticeError(
            "question-unknown",
            f"There is no question {question_id!r} in the shop book {book.path}.",
            "List what there is with 'contactread practice topics'.",
        )
    job = find_job(book, int(job_id))
    return _question(book, question_id, job, find_try(book, job.id, int(number)), row)


def _question(book: Book, question_id: str, job: Job, attempt: Try, row: Row) -> Question:
    axle = job.axle
    given = [f"Job {job.id}: {axle.name or job.kind}, {job.condition} gears, rotation {axle.rotation}."]
    if attempt.backlash_mm:
        given.append("Backlash: " + ", ".join(show_clearance(mm) for mm in attempt.backlash_mm) + ".")
    if axle.limits.backlash_mm is not None:
        least, most = axle.limits.backlash_mm
        given.append(f"This axle's limits: {show_clearance(least)} to {show_clearance(most)}.")
    flanks = tuple(_read(attempt, role) for role in ROLES)
    pictures: list[Picture] = [FlankPicture("What was read from the photographs", flanks)]
    for photo in attempt.photos:
        if photo.reading is not None and photo.reading.side is not None:
            place = book.photos.place(photo.sha256, photo.suffix)
            pictures.append(PhotoPicture(place, f"It shows the {photo.reading.side} side."))
    proof = row["says"] or "the shop's own judgement."
    right = row["right_move"]
    rule = say("no-move-fits" if right == "inspect" else f"effect-{right.replace('_', '-')}")
    best = _WORDS[right]
    where = "; ".join(
        f"{t.split(' ')[0]} {p.centre[0]:.0%} of the length, {p.centre[1]:.0%} of the height"
        for t, p in flanks
    )
    others = [Option("", text) for text in _WORDS.values() if text != best]
    order = list(_WORDS.values())
    return Question(
        question_id,
        "shop",
        "What came first on this axle?",
        tuple(given),
        tuple(pictures),
        choice(Option("", best), others, lambda options: options.sort(key=lambda o: order.index(o.text))),
        (
            Statement(f"Centres as read: {where}.", "glossary.pattern", ("shop",)),
            rule,
            Statement(f"What moved it: {proof}", rule.rule, ("shop",)),
        ),
        1.0,
        f"Proved on the axle, not computed: {row['added_by']} made this question on {day(row['added_at'])}.",
    )  # fmt: skip


def _read(attempt: Try, role: Role) -> tuple[str, Patch]:
    """What stands above a side that was read, and its patch."""
    reading = attempt.reading_of(role)
    assert reading is not None
    return f"{role.capitalize()} side, {reading.json['flank']} flank", patch_of(reading.json)


def _proved(job: Job, attempt: Try, tries: list[Try]) -> tuple[RightMove, str]:
    """The net move from a try to the one the job was signed off with."""
    final = None if job.sign_off is None or job.sign_off.outcome != "done" else job.sign_off.final_try
    later = [t for t in tries if attempt.number <= t.number <= (final or 0)]
    if final is None or len(later) < 2:
        raise PracticeError(
            "case-not-proved",
            f"Job {job.id} isn't signed off as done after try {attempt.number}, so nothing proved right yet.",
            f"Sign the job off first, or say which move was right with --right: {', '.join(MOVES)}.",
        )
    moves = [moves_between(before, after, job.axle) for before, after in pairwise(later)]
    if any(move is None for move in moves):
        raise PracticeError(
            "case-not-proved",
            f"The tries of job {job.id} don't say how far pinion and ring gear were moved.",
            f"Say which move was right with --right: {', '.join(MOVES)}.",
        )
    pinion = sum(move[0] for move in moves if move is not None)
    ring = sum(move[1] for move in moves if move is not None)
    made = f"pinion {show_move(pinion)}, ring gear {show_move(ring)}, positive is away"
    proof = f"From this try to try {final}, with which the job was signed off: {made}."
    # A pinion move takes the ring gear with it to keep the backlash, so the pinion's move decides.
    if abs(pinion) >= _LEAST_MM:
        return ("pinion_away" if pinion > 0 else "pinion_toward"), proof
    if abs(ring) >= _LEAST_MM:
        return ("gear_away" if ring > 0 else "gear_toward"), proof
    raise PracticeError(
        "case-not-proved",
        f"After try {attempt.number} nothing was moved by {show_clearance(_LEAST_MM)} or more.",
        f"Pick another try, or say what was right with --right: {', '.join(MOVES)}.",
    )
