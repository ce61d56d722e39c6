"""`contactread job`: take an axle in hand, see its set-up sheet, close it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from contactread.cli.book_options import (
    BookOption,
    JobArgument,
    JsonOption,
    NotesOption,
    WhenOption,
    as_json,
    open_book,
)

if TYPE_CHECKING:
    from contactread.records.book import Book

app = typer.Typer(add_completion=False, rich_markup_mode=None, no_args_is_help=True)


@app.callback()
def job() -> None:
    """Take an axle in hand, see its set-up sheet, close it."""


@app.command("open")
def open_(
    vehicle: Annotated[
        str, typer.Argument(metavar="VEHICLE", help="The vehicle or unit, in your own words.")
    ],
    axle: Annotated[
        Path, typer.Option("--axle", metavar="FILE", help="The axle file: see 'contactread axle new'.")
    ],
    who: Annotated[str, typer.Option("--who", metavar="NAME", help="Who takes the job.")],
    gear_set: Annotated[
        str, typer.Option(metavar="WORDS", help="What is known of the gear set: number, etched marks.")
    ] = "",
    condition: Annotated[
        Literal["new", "used"] | None, typer.Option(help="New or used gears; else the axle file's word.")
    ] = None,
    when: WhenOption = None,
    notes: NotesOption = None,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Open a job. The axle file is kept with it as it is now."""
    from contactread.axle_file import load_axle
    from contactread.records.jobs import open_job

    load_axle(axle)  # its errors name the file
    with open_book(book, write=True, create=True) as opened:
        made = open_job(
            opened, vehicle=vehicle, axle_text=axle.read_text(encoding="utf-8"), who=who, gear_set=gear_set,
            condition=condition, when=when, notes=notes or "",
        )  # fmt: skip
        _show(opened, made.id, json)


@app.command("sheet")
def sheet(job: JobArgument, book: BookOption = None, json: JsonOption = False) -> None:
    """Show the set-up sheet: what was measured against the axle's limits, and what is still missing."""
    with open_book(book) as opened:
        _show(opened, job, json)


@app.command("list")
def list_(
    open_only: Annotated[bool, typer.Option("--open", help="Only those that aren't closed.")] = False,
    most: Annotated[
        int, typer.Option(metavar="NUMBER", help="At most this many, newest first.", min=1, max=100_000)
    ] = 50,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """List the jobs, newest first."""
    from contactread.cli.output import print_json
    from contactread.records.jobs import list_jobs
    from contactread.show.sheet_text import day, state
    from contactread.show.table import text_table

    with open_book(book) as opened:
        jobs = list_jobs(opened, open_only=open_only, most=most)
    if json:
        print_json(as_json(jobs=jobs))
        return
    rows = [(j.id, day(j.opened_at), j.vehicle, j.kind, j.condition, j.opened_by, state(j)) for j in jobs]
    print(text_table(("job", "opened", "vehicle", "axle", "gears", "by", "state"), rows))


@app.command("close")
def close(
    job: JobArgument,
    who: Annotated[str, typer.Option("--who", metavar="NAME", help="Who signs.")],
    confirm: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WORDS",
            help="A line of the check-list that you looked at on the axle itself. Once for each.",
        ),
    ] = None,
    despite: Annotated[
        str,
        typer.Option(
            metavar="WORDS", help="Why it is signed off though something is open; stays on the record."
        ),
    ] = "",
    stopped: Annotated[
        str, typer.Option(metavar="WORDS", help="Why the job ends here without its cover.")
    ] = "",
    when: WhenOption = None,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Sign a job off. Without --confirm it says what the check-list asks for."""
    from contactread.records.sign_off import sign_off, stop

    with open_book(book, write=True) as opened:
        if stopped:
            stop(opened, job, who=who, reason=stopped, when=when)
        else:
            sign_off(opened, job, who=who, confirmed=confirm or [], despite=despite, when=when)
        _show(opened, job, json)


def _show(book: Book, job_id: int, json: bool) -> None:
    from contactread.cli.output import print_json
    from contactread.records.jobs import find_job
    from contactread.records.sheet import set_up_sheet
    from contactread.records.sign_off import sheet_json
    from contactread.records.tries import tries_of
    from contactread.show.sheet_text import sheet_text

    job = find_job(book, job_id)
    attempts = tries_of(book, job_id)
    newest = attempts[-1] if attempts else None
    sheet = set_up_sheet(job, newest)
    if json:
        print_json(as_json(job=job, tries=attempts, sheet=sheet_json(sheet)))
    else:
        print(sheet_text(job, newest, sheet))
