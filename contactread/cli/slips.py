"""`contactread undo`, `log` and `photo`: taking back a write, reading the log, photos in the wrong place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from contactread.cli.book_options import (
    BookOption,
    JsonOption,
    NumberArgument,
    ReasonOption,
    TryOption,
    WhoOption,
    as_json,
    open_book,
    person,
)

if TYPE_CHECKING:
    from contactread.records.nouns import RecordedPhoto

photo = typer.Typer(add_completion=False, rich_markup_mode=None, no_args_is_help=True)

PhotoArgument = Annotated[
    int, typer.Argument(metavar="PHOTO", help="The photo's number, which the sheet of its job names.")
]


def undo(
    entry: Annotated[
        int | None, typer.Option(metavar="NUMBER", help="Take back this entry of the log instead.")
    ] = None,
    who: Annotated[
        str | None,
        typer.Option(
            "--who",
            metavar="NAME",
            help="Whose last write; without it the person in your settings, or anyone.",
        ),
    ] = None,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Take back your last write to the shop book. It stays in the log, and undo can be undone."""
    from contactread.cli.output import print_json, show
    from contactread.records.undo import undo as take_back
    from contactread.show.sheet_text import moment_text
    from contactread.show.text import printable

    with open_book(book, write=True) as opened:
        taken = take_back(opened, who=person(who), number=entry)
    if json:
        print_json(as_json(taken_back=taken))
    else:
        show(
            f"Taken back: entry {taken.number}, {printable(taken.what)}, by {printable(taken.who)}, "
            f"{moment_text(taken.at)}."
        )


def log(
    job: Annotated[int | None, typer.Option(metavar="JOB", help="Only what concerns this job.")] = None,
    most: Annotated[
        int, typer.Option(metavar="NUMBER", help="At most this many, newest first.", min=1, max=1_000_000)
    ] = 30,
    csv: Annotated[bool, typer.Option("--csv", help="Print CSV for a spreadsheet.")] = False,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Every write to the shop book, newest first: who, when, what."""
    from contactread.cli.output import print_json
    from contactread.records.undo import entries
    from contactread.show.sheet_text import moment_text
    from contactread.show.table import csv_table, text_table

    with open_book(book) as opened:
        found = entries(opened, job_id=job, most=most)
    if json:
        print_json(as_json(entries=found))
        return
    columns = ("entry", "when", "who", "what")
    if csv:
        print(csv_table(columns, [(e.number, e.at, e.who, e.what) for e in found]), end="")
        return
    rows = [
        (e.number, moment_text(e.at), e.who, f"{'(taken back) ' if e.undone else ''}{e.what}") for e in found
    ]
    print(text_table(columns, rows))


@photo.callback()
def photo_() -> None:
    """Photos that lie in the wrong place, or don't count."""


@photo.command("move")
def move(
    number: PhotoArgument,
    job: NumberArgument,
    attempt: TryOption = None,
    reason: ReasonOption = "",
    who: WhoOption = None,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Move a photo, with what was read from it, to a try of a job."""
    from contactread.records.jobs import find_job
    from contactread.records.slips import move_photo

    with open_book(book, write=True) as opened:
        by = person(who) or find_job(opened, job).opened_by
        _show(move_photo(opened, number, job, attempt, who=by, reason=reason), json)


@photo.command("strike")
def strike(
    number: PhotoArgument,
    reason: ReasonOption = "",
    who: WhoOption = None,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Strike a photo out: it is kept and shown, but counts no more."""
    from contactread.cli.book_options import somebody
    from contactread.records.slips import strike_photo

    with open_book(book, write=True) as opened:
        _show(strike_photo(opened, number, who=somebody(who), reason=reason), json)


def _show(found: RecordedPhoto, json: bool) -> None:
    from contactread.cli.output import print_json, show
    from contactread.show.sheet_text import photo_text

    if json:
        print_json(as_json(photo=found))
    else:
        show(f"photo {found.id}: {photo_text(found)}")
