"""Slips put right: `undo`, `log`, `photo`, and what `job` and `try` have to merge, move and strike out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from contactread.cli import options
from contactread.cli.book import open_book, person, show_sheet, somebody
from contactread.cli.output import print_records, show
from contactread.show.text import printable

if TYPE_CHECKING:
    from contactread.records.nouns import RecordedPhoto

photo = options.group("Photos that lie in the wrong place, or don't count.")

PhotoNumber = Annotated[
    int, options.argument("PHOTO", "The photo's number, which the sheet of its job names.")
]


def undo(
    entry: Annotated[int | None, options.number("Take back this entry of the log instead.")] = None,
    who: Annotated[
        str | None, options.name("Whose last write; without it the person in your settings, or anyone.")
    ] = None,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Take back your last write to the shop book, a review as a whole. It stays in the log, and undo can be
    undone: give the number of its entry, for a review's any one of them.
    """
    from contactread.records.moments import minute
    from contactread.records.undo import undo_whole

    with open_book(book, write=True) as opened:
        taken, *also = undo_whole(opened, who=person(who), number=entry)
    if json:
        print_records(taken_back=taken, also=also)
    elif also:
        whole = taken.what.partition(":")[0]
        show(f"Taken back: {whole} with {1 + len(also)} entries, {also[-1].number} to {taken.number}.")
    else:
        show(
            f"Taken back: entry {taken.number}, {printable(taken.what)}, by {printable(taken.who)}, "
            f"{minute(taken.at)}."
        )


def log(
    job: Annotated[int | None, options.value("JOB", "Only what concerns this job.")] = None,
    most: options.Most = 30,
    csv: options.Csv = False,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Every write to the shop book, newest first: who, when, what."""
    from contactread.records.moments import minute
    from contactread.records.undo import entries
    from contactread.show.table import csv_table, text_table

    with open_book(book) as opened:
        found = entries(opened, job_id=job, most=most)
    columns = ("entry", "when", "who", "what")
    if json:
        print_records(entries=found)
    elif csv:
        print(csv_table(columns, [(e.number, e.at, e.who, e.what) for e in found]), end="")
    else:
        taken = {True: "(taken back) ", False: ""}
        print(text_table(columns, [(e.number, minute(e.at), e.who, taken[e.undone] + e.what) for e in found]))


def merge_job(
    job: options.JobNumber,
    into: Annotated[int, options.argument("INTO", "The job that takes its tries.")],
    reason: options.Reason = "", who: options.Who = None, book: options.Book = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Move every try of a job to the end of another, and strike the first out."""
    from contactread.records.slips import merge_jobs

    with open_book(book, write=True) as opened:
        merge_jobs(opened, job, into, who=person(who), reason=reason)
        show_sheet(opened, into, json)


def strike_job(
    job: options.JobNumber, reason: options.Reason = "", who: options.Who = None, book: options.Book = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Strike a job out: it is kept and shown, but counts no more."""
    from contactread.records import slips

    with open_book(book, write=True) as opened:
        slips.strike_job(opened, job, who=person(who), reason=reason)
        show_sheet(opened, job, json)


def reopen_job(
    job: options.JobNumber, reason: options.Reason = "", who: options.Who = None, book: options.Book = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Open a closed job again. Its sign-off and the reason stay on the record, and in the report."""
    from contactread.records.sign_off import reopen

    with open_book(book, write=True) as opened:
        reopen(opened, job, who=person(who), reason=reason)
        show_sheet(opened, job, json)


def move_try(
    job: options.JobNumber, number: options.TryNumber,
    to: Annotated[int, options.argument("TO", "The job that it belongs to.")],
    reason: options.Reason = "", who: options.Who = None, book: options.Book = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Move a try, with all that belongs to it, to the end of another job."""
    from contactread.records import slips

    with open_book(book, write=True) as opened:
        slips.move_try(opened, job, number, to, who=person(who), reason=reason)
        show_sheet(opened, to, json)


def strike_try(
    job: options.JobNumber, number: options.TryNumber, reason: options.Reason = "", who: options.Who = None,
    book: options.Book = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Strike a try out: it is kept and shown, but counts no more."""
    from contactread.records import slips

    with open_book(book, write=True) as opened:
        slips.strike_try(opened, job, number, who=person(who), reason=reason)
        show_sheet(opened, job, json)


@photo.command("move")
def move_photo(
    number: PhotoNumber, job: options.JobNumber, attempt: options.Try = None, reason: options.Reason = "",
    who: options.Who = None, book: options.Book = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Move a photo, with what was read from it, to a try of a job."""
    from contactread.records import slips

    with open_book(book, write=True) as opened:
        _show(slips.move_photo(opened, number, job, attempt, who=person(who), reason=reason), json)


@photo.command("strike")
def strike_photo(
    number: PhotoNumber, reason: options.Reason = "", who: options.Who = None, book: options.Book = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Strike a photo out: it is kept and shown, but counts no more."""
    from contactread.records import slips

    with open_book(book, write=True) as opened:
        _show(slips.strike_photo(opened, number, who=somebody(who), reason=reason), json)


def _show(found: RecordedPhoto, json: bool) -> None:
    from contactread.show.sheet_text import photo_text

    if json:
        print_records(photo=found)
    else:
        show(f"photo {found.id}: {photo_text(found)}")
