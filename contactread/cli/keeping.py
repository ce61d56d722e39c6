"""`contactread check`, `backup`, `export` and `import`: keeping the shop book sound."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from contactread.cli.book_options import BookOption, JsonOption, as_json, open_book

if TYPE_CHECKING:
    from contactread.records.book import Book

EXIT_DAMAGED = 5


def check(
    sample: Annotated[
        int | None,
        typer.Option(metavar="NUMBER", help="Read only this many photos through, chosen by chance.", min=1),
    ] = None,
    book: BookOption = None,
    json: JsonOption = False,
) -> int:
    """Check the shop book: its database, and each photo against its SHA-256. Nothing is changed."""
    from contactread.cli.output import print_json, progress
    from contactread.records.check import check_book
    from contactread.show.text import printable

    with open_book(book) as opened:
        total = _photos(opened)
        with progress("Checking photos", total if sample is None else min(sample, total)) as step:
            found = check_book(opened, sample=sample, step=step)
    if json:
        print_json(as_json(found=found) | {"clean": found.clean})
        return 0 if found.clean else EXIT_DAMAGED
    print(f"{found.photos} photos, {found.looked_at} read through.")
    lines = [f"database: {words}" for words in found.database]
    lines += [f"missing photo: {sha256}" for sha256 in found.missing]
    lines += [f"altered photo: {sha256}" for sha256 in found.altered]
    lines += [f"file that belongs to no photo: {name}" for name in found.orphans]
    lines += [f"left by a stopped command, cleared up by the next: {sha256}" for sha256 in found.unfinished]
    for text in lines:
        print(printable(text))
    if found.clean:
        print("The shop book is sound.")
        return 0
    print("The shop book is NOT sound. Put back what is named here from a backup.")
    return EXIT_DAMAGED


def _photos(book: Book) -> int:
    """How many photos the book has; none where it is too damaged to say."""
    from contactread.errors import DamagedBookError

    try:
        return int(book.value("SELECT count(*) FROM photo"))
    except DamagedBookError:
        return 0


def backup(book: BookOption = None, json: JsonOption = False) -> None:
    """Copy the shop book's database into its backup folder. An older book is brought up to date first."""
    from contactread.cli.output import print_json, say

    with open_book(book, write=True) as opened:
        copy = opened.back_up()
    if json:
        print_json(as_json(backup=str(copy)))
    else:
        say("The database is copied; photos are not, since they never change. Copy their folder too.")
        print(copy)


def export(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder.")],
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Write the whole shop book as a folder of open files, original photos included."""
    from contactread.cli.output import print_json, progress, say
    from contactread.records.transfer import export_book
    from contactread.show.text import printable

    with open_book(book) as opened:
        total = opened.value("SELECT count(*) FROM photo")
        with progress("Copying photos", total) as step:
            rows = export_book(opened, folder, step)
    if json:
        print_json(as_json(folder=str(folder), rows=rows))
        return
    say("The originals carry what the phone wrote into them, perhaps the place. Mind whom you give them to.")
    print(f"{printable(folder)}: {_counts(rows)}")


def import_(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="A folder that 'contactread export' wrote.")
    ],
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Make a new shop book from an exported folder. An existing book is never touched."""
    from contactread.cli.output import print_json, progress
    from contactread.records.place import default_place
    from contactread.records.transfer import import_book
    from contactread.show.text import printable

    path = (book or default_place()).absolute()
    with progress("Copying photos", None) as step:
        rows = import_book(folder, path, step)
    if json:
        print_json(as_json(book=str(path), rows=rows))
    else:
        print(f"{printable(path)}: {_counts(rows)}")


def _counts(rows: dict[str, int]) -> str:
    named = ((rows["job"], "job", "jobs"), (rows["try"], "try", "tries"), (rows["photo"], "photo", "photos"))
    return ", ".join(f"{count} {one if count == 1 else many}" for count, one, many in named)
