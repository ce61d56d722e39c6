"""The one-page report: what it says, in plain words, pictures and charts; and as one HTML file, without
outside request or script, safe whatever a user wrote.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from markupsafe import Markup

from contactread import __version__
from contactread.advice.findings import describe
from contactread.advice.rules import short_cautions
from contactread.axle import ROLES, Role
from contactread.belief.targets import Zone, target_for
from contactread.facts import facts
from contactread.pattern.measures import Side
from contactread.records.book import Book
from contactread.records.corrections import corrections_of
from contactread.records.jobs import find_job
from contactread.records.limits import Measure
from contactread.records.measured import side_of
from contactread.records.moments import day
from contactread.records.nouns import Job, RecordedPhoto, Try
from contactread.records.sheet import Sheet, set_up_sheet
from contactread.records.tries import tries_of
from contactread.show import measure_text
from contactread.show.drawing import Drawing
from contactread.show.flank_chart import ChartFlank, bare_flank
from contactread.show.report_photo import marked_photo
from contactread.show.sheet_text import about as known_of
from contactread.show.sheet_text import (
    advised_text,
    after,
    build_text,
    correction_text,
    done_text,
    found_text,
    reopened_text,
    state,
)
from contactread.show.templates import templates, typeface
from contactread.show.typeface import FAMILY
from contactread.units import show_length

State = Literal["good", "open", "stopped"]
MOST_TRIES = 6


@dataclass(frozen=True)
class SideBlock:
    """One side of the final try. photo: a marked JPEG without EXIF, None where there is none to show."""

    heading: str
    words: str
    photo: bytes | None
    why_no_photo: str
    chart: Drawing | None


@dataclass(frozen=True)
class TryLine:
    """One try in short: when and by whom, as built, what was found (centres as length / height, from toe
    and root), what was advised, what was done after it. struck: why it doesn't count; empty where it does."""

    number: int
    by: str
    built: str
    found: str
    advised: str
    done: str
    struck: str


@dataclass(frozen=True)
class ReportPage:
    """Everything on the page, in its order. All text is as the user wrote it: the layout makes it safe."""

    title: str
    state: State
    headline: str
    details: tuple[str, ...]
    about: tuple[tuple[str, str], ...]
    sides: tuple[SideBlock, ...]
    legend: str
    measures: tuple[Measure, ...]
    tries: tuple[TryLine, ...]
    earlier_tries: int
    corrected: tuple[str, ...]
    confirmed: tuple[str, ...]
    cautions: tuple[str, ...]
    statement: str
    footer: str


def report_page(book: Book, job_id: int, shop: str = "") -> ReportPage:
    """The report of a job as it stands. shop: where the job names none. Raises `BookError` job-missing."""
    job = find_job(book, job_id)
    job = replace(job, shop=job.shop or shop)
    attempts, every = tries_of(book, job_id), tries_of(book, job_id, struck=True)
    final = _final(job, attempts)
    sheet = set_up_sheet(job, final)
    headline, details = _state_words(job, sheet)
    return ReportPage(
        title=f"Job {job.id}: {job.vehicle}",
        state=_state(job),
        headline=headline,
        details=details,
        about=_about(job, final),
        sides=() if final is None else tuple(_side(book, job, attempts, final, role) for role in ROLES),
        legend=_legend(attempts, final),
        measures=sheet.measures,
        tries=tuple(_try_line(job, every, attempt) for attempt in every[-MOST_TRIES:]),
        earlier_tries=max(0, len(every) - MOST_TRIES),
        corrected=_corrected(book, job),
        confirmed=() if job.sign_off is None else tuple(job.sign_off.confirmed.values()),
        cautions=tuple(
            words for words in short_cautions() if words != facts("cautions")["advice-only"]["short"]
        ),
        statement=facts("cautions")["advice-only"]["full"],
        footer=f"Made by contactread {__version__} on {day(book.stamp())}. Lengths: 1 thou = 0.0254 mm.",
    )


def _final(job: Job, attempts: list[Try]) -> Try | None:
    if job.sign_off is not None and job.sign_off.final_try is not None:
        return next(a for a in attempts if a.number == job.sign_off.final_try)
    return attempts[-1] if attempts else None


def _state(job: Job) -> State:
    """Good only where nothing was left open."""
    if job.sign_off is None:
        return "open" if job.struck is None else "stopped"
    if job.sign_off.outcome == "stopped":
        return "stopped"
    return "open" if job.sign_off.left_open else "good"


def _corrected(book: Book, job: Job) -> tuple[str, ...]:
    """That the job was reopened, and what was corrected since it was first signed."""
    since = [correction_text(each) for each in corrections_of(book, job.id) if each.after_sign_off]
    return (*map(reopened_text, job.reopened), *since)


def _state_words(job: Job, sheet: Sheet) -> tuple[str, tuple[str, ...]]:
    closed = job.sign_off
    if job.struck is not None:
        return "Struck out", (f"Reason: {job.struck}",)
    if closed is None:
        still = (*sheet.outside, *sheet.missing)
        return ("Open: ready for its cover", ()) if not still else ("Open: not ready for its cover", still)
    signed = f"by {closed.signed_by} on {day(closed.signed_at)}"
    reason = (f"Reason: {closed.reason}",) if closed.reason else ()
    if closed.outcome == "stopped":
        return f"Stopped {signed}", reason
    left = tuple(f"Left open: {sentence}" for sentence in closed.left_open)
    return f"Signed off {signed}", (*reason, *left)


def _about(job: Job, final: Try | None) -> tuple[tuple[str, str], ...]:
    gears = job.axle.gears
    ratio = f"{gears.ring_teeth}:{gears.pinion_teeth}, {gears.ring_teeth / gears.pinion_teeth:.2f} to 1"
    if {"pinion_teeth", "ring_teeth"} & set(gears.supposed):
        ratio = "teeth not counted"
    about = [
        *((name, words) for name, words in known_of(job) if name in ("Shop", "Customer", "Mileage")),
        ("Axle", f"{job.kind}, {ratio}"),
        ("Gear set", ", ".join(filter(None, (job.gear_set, f"{job.condition} gears")))),
        ("Opened", f"by {job.opened_by} on {day(job.opened_at)}"),
    ]
    if final is not None:
        rolled = [
            f"compound {final.compound}" if final.compound else "",
            f"drag: {final.drag}" if final.drag else "",
        ]
        if any(rolled):
            about.append(("Rolled with", ", ".join(filter(None, rolled))))
    if final is not None:
        about.append(("Built with", build_text(final)))
    if job.notes:
        about.append(("Notes", " ".join(job.notes.split())))
    return tuple(about)


def _side(book: Book, job: Job, attempts: list[Try], final: Try, role: Role) -> SideBlock:
    zone = target_for(job.axle).zone(role)
    photo = _surest(final, role)
    name = "Drive side" if role == "drive" else "Coast side"
    if photo is None or photo.reading is None or "measured" not in photo.reading.json:
        return SideBlock(name, "No readable photo of this side.", None, "No photo of this side.", None)
    side = side_of(photo.reading.json)
    earlier = next((s for a in attempts if a.number < final.number and (s := _side_of(a, role))), None)
    heading = f"{name}, {side.flank} flank"
    jpeg = marked_photo(book, photo)
    return SideBlock(
        heading=heading,
        words=describe(side, zone),
        photo=jpeg,
        why_no_photo="" if jpeg else "The stored photo can't be shown: see 'contactread check'.",
        chart=_chart(heading, side, earlier, zone),
    )


def _legend(attempts: list[Try], final: Try | None) -> str:
    words = "Filled: the final try, its centre a diamond. Dotted box: where the centre is wanted."
    earlier = [a for a in attempts if final is not None and a.number < final.number]
    if any(_side_of(attempt, role) for attempt in earlier for role in ROLES):
        words += " Broken line and ring: the first try that was read."
    return words


def _surest(attempt: Try, role: Role) -> RecordedPhoto | None:
    """The photo with the surest reading of a side, and of its readings that one."""
    reading = attempt.reading_of(role)
    seen = (p for p in attempt.photos if p.reading and reading in (p.reading, p.reading.other))
    photo = next(seen, None)
    return None if photo is None or reading is None else replace(photo, reading=reading)


def _side_of(attempt: Try, role: Role) -> Side | None:
    reading = attempt.reading_of(role)
    return side_of(reading.json) if reading is not None and "measured" in reading.json else None


def _chart(heading: str, side: Side, earlier: Side | None, zone: Zone) -> Drawing:
    chart = ChartFlank(heading, before=earlier, after=side, zone=(zone.u, zone.v))
    return bare_flank(chart, f"{heading}: {describe(side, zone)}")


def _try_line(job: Job, every: list[Try], attempt: Try) -> TryLine:
    shim = attempt.pinion_shim_mm
    built = f"pinion shim {'not known' if shim is None else show_length(shim)}"
    if attempt.ring_side_shim_mm is not None:
        built += f", ring side {show_length(attempt.ring_side_shim_mm)}"
    elif attempt.ring_side_notches is not None:
        built += f", ring side {attempt.ring_side_notches:+g} notches"
    following = after(every, attempt)
    final = job.sign_off is not None and job.sign_off.final_try == attempt.number
    done = state(job) if final else "" if following is None else done_text(attempt, following)
    return TryLine(
        attempt.number,
        f"{attempt.made_by}, {day(attempt.made_at)}",
        built,
        found_text(attempt),
        "" if attempt.advice is None else advised_text(attempt.advice),
        done if attempt.struck is None else "",
        attempt.struck or "",
    )


def report_html(page: ReportPage, paper: str = "auto") -> str:
    """The file's text. Prints on A4 and Letter; narrow screens get one column.

    paper: what it is printed on, "auto" for what the printer holds, else "A4" or "letter".
    """
    template = templates(Path(__file__).parent).get_template("report.html")
    return template.render(
        page=page, paper=paper, typeface=typeface(), family=FAMILY, picture=_picture, chart=_drawn,
        words=measure_text,
    )  # fmt: skip


def _picture(jpeg: bytes) -> str:
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")


def _drawn(chart: Drawing) -> Markup:
    # The drawing escapes its own words.
    return Markup(chart.svg(alone=False))
