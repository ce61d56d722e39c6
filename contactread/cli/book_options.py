"""Options that the commands of the shop book share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

if TYPE_CHECKING:
    from contactread.records.book import Book

Written = TypeVar("Written")

BookOption = Annotated[
    Path | None,
    typer.Option(
        "--book",
        metavar="FILE",
        envvar="CONTACTREAD_BOOK",
        help="The shop book's file. Without it: the one in your user data folder.",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print an object for programs.")]
JobArgument = Annotated[
    int | None, typer.Argument(metavar="JOB", help="The job's number; the open job without it.")
]
NumberArgument = Annotated[int, typer.Argument(metavar="JOB", help="The job's number.")]
TryOption = Annotated[
    int | None, typer.Option("--try", metavar="NUMBER", help="The try's number; the newest without it.")
]
WhoOption = Annotated[
    str | None,
    typer.Option("--who", metavar="NAME", help="Who did it; without it the person in your settings."),
]
SureOption = Annotated[bool, typer.Option("--sure", help="A value that looks like a slip is right.")]
ReasonOption = Annotated[str, typer.Option("--reason", metavar="WORDS", help="Why; stays on the record.")]
WhenOption = Annotated[
    str | None,
    typer.Option("--when", metavar="DATE", help="When, as 2026-03-31 or 2026-03-31T14:30; now without it."),
]
NotesOption = Annotated[str | None, typer.Option("--notes", metavar="WORDS", help="Free words.")]


def open_book(path: Path | None, *, write: bool = False, create: bool = False) -> Book:
    """The shop book for a command. create: whether the command may begin a new book."""
    from contactread.records.book import Book

    return Book(path, write=write, create=create)


def length(text: str | None) -> float | None:
    """A length option in mm."""
    from contactread.units import parse_length

    return None if text is None else parse_length(text)


def torque(text: str | None) -> float | None:
    """A torque option in N·m."""
    from contactread.units import parse_torque

    return None if text is None else parse_torque(text)


def as_json(**values: Any) -> dict[str, Any]:
    """Records as plain data, with the schema's number first."""
    from dataclasses import fields, is_dataclass

    def plain(value: Any) -> Any:
        if isinstance(value, list | tuple):
            return [plain(v) for v in value]
        if isinstance(value, dict):
            return {name: plain(v) for name, v in value.items()}
        if is_dataclass(value):
            return {each.name: plain(getattr(value, each.name)) for each in fields(value)}
        return value

    return {"schema": 1} | {name: plain(value) for name, value in values.items()}


def person(given: str | None) -> str | None:
    """Who does it: as given, else as the settings say, None where neither does."""
    from contactread.settings import load_settings

    return given if given is not None else load_settings().person


def somebody(given: str | None) -> str:
    """Who does it, where that must be known. Raises `BookError` record-half."""
    from contactread.errors import BookError

    known = person(given)
    if known is None:
        raise BookError(
            "record-half",
            "The name of the person is missing, so nothing was recorded.",
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

    from contactread.cli.output import say
    from contactread.errors import BookError

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
