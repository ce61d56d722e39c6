"""Options that the commands of the shop book share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from contactread.records.book import Book

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
JobArgument = Annotated[int, typer.Argument(metavar="JOB", help="The job's number.")]
TryOption = Annotated[
    int | None, typer.Option("--try", metavar="NUMBER", help="The try's number; the newest without it.")
]
WhoOption = Annotated[
    str | None, typer.Option("--who", metavar="NAME", help="Who did it; without it, who opened the job.")
]
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
    from dataclasses import asdict, is_dataclass

    def plain(value: Any) -> Any:
        if isinstance(value, list | tuple):
            return [plain(v) for v in value]
        return asdict(value) if is_dataclass(value) and not isinstance(value, type) else value

    return {"schema": 1} | {name: plain(value) for name, value in values.items()}
