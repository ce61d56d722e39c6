"""Options and arguments that several commands share, and what those of one kind have in common."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from contactread.plausible import Measured


def group(says: str) -> typer.Typer:
    """A small group of commands, with plain help as all have it (see `runnable_of`)."""
    return typer.Typer(add_completion=False, rich_markup_mode=None, no_args_is_help=True, help=says)


def argument(metavar: str, says: str) -> Any:
    """An argument, told by what stands for it in the line of usage."""
    return typer.Argument(metavar=metavar, help=says)


def option(says: str, *names: str) -> Any:
    """An option without a value, or with one of a few words that its type tells."""
    return typer.Option(*names, help=says)


def value(metavar: str, says: str, *names: str) -> Any:
    """An option with a value."""
    return typer.Option(*names, metavar=metavar, help=says)


words = partial(value, "WORDS")  # of the user's own
file, folder = partial(value, "FILE"), partial(value, "FOLDER")
name = partial(value, "NAME")


def number(says: str, *names: str, least: int | None = None, most: int | None = None) -> Any:
    """An option that takes a whole number within bounds."""
    return typer.Option(*names, metavar="NUMBER", help=says, min=least, max=most)


def length(says: str, of: Measured | None = None, *, any_size: bool = False) -> Any:
    """An option that takes a length; the command gets it in mm. of: what is measured; slips are refused.
    any_size: the command itself asks again where the size is doubtful.
    """
    return typer.Option(metavar="LENGTH", help=says, parser=_millimetres(of, any_size))


def length_argument(says: str, of: Measured | None = None) -> Any:
    """An argument that is a length, as `length`."""
    return typer.Argument(metavar="LENGTH", help=says, parser=_millimetres(of))


def backlash(says: str) -> Any:
    """An option that takes backlash, given once for each place or several places in one; a list in mm."""
    return typer.Option(
        metavar="LENGTHS", help=f"{says} {_PLACES}", parser=late("plausible", "parse_given_places"),
        callback=_flat,
    )  # fmt: skip


def backlash_argument(says: str) -> Any:
    """Arguments that are backlash, as `backlash`."""
    parser = late("plausible", "parse_given_places")
    return typer.Argument(metavar="LENGTHS", help=f"{says} {_PLACES}", parser=parser, callback=_flat)


_PLACES = 'Several places in one ("0.15 0.18 0.17 0.16 mm"), or once for each.'


def _flat(given: list[tuple[float, ...]] | None) -> list[float]:
    return [mm for places in given or () for mm in places]


def notches(says: str) -> Any:
    """An option that takes an adjuster's travel in notches."""
    return typer.Option(metavar="NUMBER", help=says, parser=late("plausible", "parse_notches"))


def torque(says: str) -> Any:
    """An option that takes a torque; the command gets it in N·m."""
    return typer.Option(metavar="TORQUE", help=says, parser=late("units", "parse_torque"))


def late(module: str, name: str, *first: Any) -> Callable[[str], Any]:
    """One of our parsers, imported when it is first used. first: what it takes before the text."""

    def parsed(text: str) -> Any:
        return getattr(import_module(f"contactread.{module}"), name)(*first, text)

    return parsed


def _millimetres(of: Measured | None, any_size: bool = False) -> Callable[[str], float]:
    if of is None:
        return late("units", "parse_length")
    return late("plausible", "parse_any_size" if any_size else "parse_measured", of)


Book = Annotated[
    Path | None,
    typer.Option(
        "--book",
        metavar="FILE",
        envvar="CONTACTREAD_BOOK",
        help="The shop book's file. Without it: the one in your user data folder.",
    ),
]
Json = Annotated[bool, option("Print one object for programs.", "--json")]
Csv = Annotated[bool, option("Print CSV for a spreadsheet.", "--csv")]
Most = Annotated[int, number("At most this many, newest first.", least=1, most=1_000_000)]
Job = Annotated[int | None, argument("JOB", "The job's number; the open job without it.")]
JobNumber = Annotated[int, argument("JOB", "The job's number.")]
Try = Annotated[int | None, number("The try's number; the newest without it.", "--try")]
TryNumber = Annotated[int, argument("TRY", "The try's number.")]
Who = Annotated[str | None, name("Who did it; without it the person in your settings.", "--who")]
Sure = Annotated[bool, option("A value that looks like a slip is right.", "--sure")]
Reason = Annotated[str, words("Why; stays on the record.")]
When = Annotated[str | None, value("DATE", "When, as 2026-03-31 or 2026-03-31T14:30; now without it.")]
Notes = Annotated[str | None, words("Free words.")]
