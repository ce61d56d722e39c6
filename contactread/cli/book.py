"""What the commands of the shop book share: opening it, who writes, which job, asking again, the sheet."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

from contactread.cli.output import print_records, say, show
from contactread.errors import BookError
from contactread.settings import load_settings

if TYPE_CHECKING:
    from contactread.records.book import Book

Written = TypeVar("Written")


def open_book(path: Path | None, *, write: bool = False, create: bool = False) -> Book:
    """The shop book for a command. create: whether the command may begin a new book."""
    from contactread.records.book import Book

    return Book(path, write=write, create=create)


def book_if(wanted: bool, path: Path | None, *, begin: bool = False) -> AbstractContextManager[Book | None]:
    """The shop book where it is wanted. begin: to write, in a new one too."""
    return open_book(path, write=begin, create=begin) if wanted else nullcontext()


def person(given: str | None) -> str | None:
    """Who does it: as given, else as the settings say, None where neither does."""
    return given if given is not None else load_settings().person


def somebody(given: str | None) -> str:
    """Who does it, where that must be known. Raises `BookError` record-half."""
    from contactread.records.words import half

    known = person(given)
    if known is None:
        raise half(
            "The name of the person is missing",
            "Give --who NAME, or set it once: contactread settings person NAME.",
        )
    return known


def chosen_job(book: Book, given: int | None) -> int:
    """The job a command is about: as given, else the open one. Raises `BookError` job-which."""
    from contactread.records.jobs import open_job_id

    return open_job_id(book) if given is None else given


def asked_again(write: Callable[[bool], Written], sure: bool, json: bool) -> Written:
    """Write; where a value looks like a slip, a person at the terminal is asked whether it is right.

    write: takes whether odd values are right.
    """
    import sys

    try:
        return write(sure)
    except BookError as error:
        if error.code != "record-doubt" or json or not sys.stdin.isatty():
            raise
        for text in error.message.splitlines():
            say(text)
        if not typer.confirm("Is it right all the same?", err=True):
            raise
    return write(True)


def show_sheet(book: Book, job_id: int, json: bool) -> None:
    """Print the set-up sheet of a job."""
    from contactread.records.corrections import corrections_of
    from contactread.records.jobs import find_job
    from contactread.records.sheet import set_up_sheet
    from contactread.records.sign_off import sheet_json
    from contactread.records.tries import tries_of
    from contactread.show.sheet_text import newest_of, sheet_text

    job, attempts = find_job(book, job_id), tries_of(book, job_id, struck=True)
    corrections, newest = corrections_of(book, job_id), newest_of(attempts)
    sheet = set_up_sheet(job, newest)
    if json:
        print_records(
            job=job, tries=attempts, attempt=newest, sheet=sheet_json(sheet), corrections=corrections
        )
    else:
        show(sheet_text(job, attempts, sheet, corrections))
