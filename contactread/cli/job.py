"""`contactread job`: take an axle in hand, see its set-up sheet, put slips right, close it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from contactread.cli import options, slips
from contactread.cli.book import asked_again, chosen_job, open_book, person, show_sheet, somebody
from contactread.cli.output import print_records, say
from contactread.settings import load_settings

if TYPE_CHECKING:
    from contactread.records.book import Book

app = options.group("Take an axle in hand, see its set-up sheet, put slips right, close it.")

Customer = Annotated[str | None, options.words("Whose vehicle or unit it is.")]
Mileage = Annotated[str | None, options.words('Distance or hours run, such as "84,000 km".')]
GearSet = Annotated[str | None, options.words("What is known of the gear set: number, etched marks.")]
Gears = Annotated[Literal["new", "used"] | None, options.option("New or used gears.")]


@app.command("open")
def open_(
    vehicle: Annotated[str, options.argument("VEHICLE", "The vehicle or unit, in your own words.")],
    axle: Annotated[Path | None, options.file("The axle file; else the one in your settings.")] = None,
    who: options.Who = None,
    customer: Customer = None,
    mileage: Mileage = None,
    gear_set: GearSet = None,
    condition: Gears = None,
    when: options.When = None,
    notes: options.Notes = None,
    sure: options.Sure = False,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Open a job. The axle file is kept with it as it is now."""
    from contactread.records.jobs import open_job

    text = _axle_text(axle or load_settings().axle)
    with open_book(book, write=True, create=True) as opened:
        made = asked_again(
            lambda right: open_job(
                opened, vehicle=vehicle, axle_text=text, who=somebody(who), gear_set=gear_set or "",
                condition=condition, when=when, notes=notes or "", customer=customer or "",
                mileage=mileage or "", shop=load_settings().shop or "", sure=right,
            ), sure, json,
        )  # fmt: skip
        show_sheet(opened, made.id, json)


@app.command("sheet")
def sheet(job: options.Job = None, book: options.Book = None, json: options.Json = False) -> None:
    """Show the set-up sheet: every try, measurements against the axle's limits, what is still missing."""
    with open_book(book) as opened:
        show_sheet(opened, chosen_job(opened, job), json)


@app.command("list")
def list_(
    open_only: Annotated[bool, options.option("Only those that aren't closed.", "--open")] = False,
    most: options.Most = 50,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """List the jobs, newest first."""
    from contactread.records.jobs import list_jobs
    from contactread.records.moments import day
    from contactread.show.sheet_text import state
    from contactread.show.table import text_table

    with open_book(book) as opened:
        jobs = list_jobs(opened, open_only=open_only, most=most)
    if json:
        print_records(jobs=jobs)
        return
    rows = [(j.id, day(j.opened_at), j.vehicle, j.kind, j.condition, j.opened_by, state(j)) for j in jobs]
    print(text_table(("job", "opened", "vehicle", "axle", "gears", "by", "state"), rows))


@app.command("correct")
def correct(
    job: options.Job = None,
    vehicle: Annotated[str | None, options.words("The vehicle or unit.")] = None,
    customer: Customer = None,
    mileage: Mileage = None,
    gear_set: GearSet = None,
    condition: Gears = None,
    opened_by: Annotated[str | None, options.name("Who took the job.")] = None,
    when: options.When = None,
    notes: options.Notes = None,
    axle: Annotated[Path | None, options.file("Another axle file for this job.")] = None,
    reason: options.Reason = "",
    who: options.Who = None,
    sure: options.Sure = False,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Correct what was written about a job, or give it another axle file. What stood there is kept."""
    from contactread.records.jobs import find_job, writer
    from contactread.records.slips import correct_job, replace_axle

    given = {
        "vehicle": vehicle, "customer": customer, "mileage": mileage, "gear_set": gear_set,
        "condition": condition, "opened_by": opened_by, "notes": notes,
    }  # fmt: skip
    with open_book(book, write=True) as opened:
        number = chosen_job(opened, job)
        by = writer(find_job(opened, number), person(who))
        text = None if axle is None else _axle_text(axle)

        def write(right: bool) -> None:
            with opened.writing(f"job {number} corrected", who=by, job_id=number):
                if text is not None:
                    replace_axle(opened, number, text, who=by, reason=reason)
                if text is None or when is not None or any(v is not None for v in given.values()):
                    correct_job(opened, number, who=by, reason=reason, when=when, sure=right, **given)

        asked_again(write, sure, json)
        show_sheet(opened, number, json)


app.command("merge")(slips.merge_job)
app.command("strike")(slips.strike_job)
app.command("reopen")(slips.reopen_job)


@app.command("close")
def close(
    job: options.Job = None,
    who: Annotated[
        str | None, options.name("Who signs; without it the person in your settings.", "--who")
    ] = None,
    confirm: Annotated[
        list[str] | None,
        options.words("A line of the check-list that you looked at on the axle itself. Once for each."),
    ] = None,
    despite: Annotated[
        str, options.words("Why it is signed off though something is open; stays on the record.")
    ] = "",
    stopped: Annotated[str, options.words("Why the job ends here without its cover.")] = "",
    when: options.When = None,
    sure: options.Sure = False,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Sign a job off. At a terminal the check-list is ticked off line by line; elsewhere by --confirm."""
    from contactread.records.sign_off import sign_off, stop

    with open_book(book, write=True) as opened:
        number = chosen_job(opened, job)
        confirmed = confirm or []
        if not stopped and not confirmed and not json and sys.stdin.isatty():
            despite, confirmed = _tick_off(opened, number, despite)
            who = person(who) or typer.prompt("Who signs?", err=True)
        by = somebody(who)

        def write(right: bool) -> None:
            if stopped:
                stop(opened, number, who=by, reason=stopped, when=when, sure=right)
            else:
                sign_off(opened, number, who=by, confirmed=confirmed, despite=despite, when=when, sure=right)

        asked_again(write, sure, json)
        show_sheet(opened, number, json)


def _tick_off(book: Book, job_id: int, despite: str) -> tuple[str, list[str]]:
    """Ask line by line; why it is signed off despite what is open, and the lines that were confirmed."""
    from contactread.records.jobs import find_job
    from contactread.records.sheet import set_up_sheet
    from contactread.records.sign_off import check_list
    from contactread.records.tries import tries_of
    from contactread.show.sheet_text import newest_of

    sheet = set_up_sheet(find_job(book, job_id), newest_of(tries_of(book, job_id)))
    if not sheet.ready and not despite:
        for sentence in (*sheet.outside, *sheet.missing):
            say(f"  open: {sentence}")
        despite = typer.prompt("Sign off all the same? Then say why; else leave it empty", "", err=True)
        if not despite:
            raise typer.Abort
    say("Look at each on the axle itself.")
    confirmed = []
    for code, words in check_list().items():
        if not typer.confirm(words, err=True):
            say("So the job stays open.")
            raise typer.Abort
        confirmed.append(code)
    return despite, confirmed


def _axle_text(axle: Path | None) -> str:
    from contactread.axle_file import sound_axle_text
    from contactread.records.words import half

    if axle is None:
        raise half(
            "The axle file is missing",
            "Give --axle FILE, or set the usual one once: contactread settings axle FILE.",
        )
    return sound_axle_text(axle)
