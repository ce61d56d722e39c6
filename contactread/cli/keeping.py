"""`contactread check`, `backup`, `restore`, `export` and `import`: keeping the shop book sound."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from contactread.cli import options
from contactread.cli.book import open_book, somebody
from contactread.cli.output import print_records, progress, say, show
from contactread.errors import DamagedBookError
from contactread.show.text import printable

if TYPE_CHECKING:
    from collections.abc import Mapping

    from contactread.records.book import Book

EXIT_DAMAGED = 5


def check(
    sample: Annotated[
        int | None, options.number("Read only this many photos through, chosen by chance.", least=1)
    ] = None,
    book: options.Book = None,
    json: options.Json = False,
) -> int:
    """Check the shop book: its database, every fact against the log, each photo against its SHA-256.

    Nothing is changed.
    """
    from contactread.records.check import check_book

    with open_book(book) as opened:
        total = _photos(opened)
        with progress("Checking photos", total if sample is None else min(sample, total)) as step:
            found = check_book(opened, sample=sample, step=step)
        folder = None if opened.photos.folder.is_dir() else opened.photos.folder
    if json:
        print_records(found=found, clean=found.clean)
        return 0 if found.clean else EXIT_DAMAGED
    show(f"{found.photos} photos, {found.looked_at} read through.")
    for heading, findings in (
        ("database", found.database), ("changed", found.changed), ("impossible", found.impossible),
        ("missing photo", found.missing), ("altered photo", found.altered),
        ("file that belongs to no photo, and does no harm", found.orphans),
        ("left by a stopped command, cleared up by the next", found.unfinished),
    ):  # fmt: skip
        for words in findings:
            show(printable(f"{heading}: {words}"))
    if found.clean:
        show("The shop book is sound.")
        return 0
    show("The shop book is NOT sound.")
    if found.missing and folder is not None:
        show(printable(f"The folder of its photos, {folder}, isn't there: put it back beside the book."))
    elif found.missing or found.altered:
        show(
            "Photos: give the originals again, with 'contactread try photo' or 'contactread review': "
            "a photo that is known is put back in its place."
        )
    if found.database or found.changed:
        show("Facts: 'contactread restore' puts the newest backup back; what lies here is kept beside it.")
    if found.impossible and not found.changed:
        show(
            "Values that can't be: correct them, with 'contactread try record' or 'contactread job correct'."
        )
    return EXIT_DAMAGED


def _photos(book: Book) -> int:
    """How many photos the book has; none where it is too damaged to say."""
    try:
        return int(book.value("SELECT count(*) FROM photo"))
    except DamagedBookError:
        return 0


def backup(book: options.Book = None, json: options.Json = False) -> None:
    """Copy the shop book's database into its backup folder. An older book is brought up to date first."""
    with open_book(book, write=True) as opened:
        copy = opened.back_up()
    if json:
        print_records(backup=copy)
    else:
        say("The database is copied; photos are not, since they never change. Copy their folder too.")
        print(copy)


def export(
    folder: Annotated[Path, options.argument("FOLDER", "A new folder.")],
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Write the whole shop book as a folder of open files, original photos included."""
    from contactread.records.transfer import export_book

    with open_book(book) as opened:
        total = opened.value("SELECT count(*) FROM photo")
        with progress("Copying photos", total) as step:
            rows = export_book(opened, folder, step)
    if json:
        print_records(folder=folder, rows=rows)
        return
    say("The originals carry what the phone wrote into them, perhaps the place. Mind whom you give them to.")
    show(f"{printable(folder)}: {_counts(rows)}")


def import_(
    folder: Annotated[Path, options.argument("FOLDER", "A folder that 'contactread export' wrote.")],
    dry_run: Annotated[bool, options.option("Only say what a merge would do.", "--dry-run")] = False,
    who: options.Who = None,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Bring in an exported book: as a new book, or merged into the one that is there.

    A merge brings in what is new, leaves what is the same, and lists what differs; nothing is overwritten.
    'contactread undo' takes it back.
    """
    from contactread.records.merge import merge_book
    from contactread.records.place import default_place
    from contactread.records.transfer import import_book

    path = (book or default_place()).expanduser().absolute()
    if not path.exists() and not dry_run:
        with progress("Copying photos", None) as step:
            rows = import_book(folder, path, step)
        if json:
            print_records(book=path, rows=rows)
        else:
            show(f"{printable(path)}: {_counts(rows)}")
        return
    with open_book(path, write=True) as opened, progress("Copying photos", None) as step:
        found = merge_book(opened, folder, who=somebody(who), dry_run=dry_run, step=step)
    if json:
        print_records(book=path, merged=found)
        return
    show(f"new: {_counts(found.new)}; the same: {_counts(found.same)}; different: {len(found.conflicts)}")
    show(f"The log of the other book stays in {printable(folder)}; here the merge is one entry.")
    for there, here in found.jobs.items():
        if there != here:
            show(f"job {there} there is job {here} here")
    for words in found.conflicts:
        show(f"different, left as it is here: {printable(words)}")


def restore(
    source: Annotated[
        Path | None,
        options.argument("SOURCE", "A backup or an exported folder; without it the newest backup."),
    ] = None,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Put a backup or an exported book back in the shop book's place. What lies there is kept beside it."""
    from contactread.records.place import default_place
    from contactread.records.restore import restore as put_back

    with progress("Looking at photos", None) as step:
        done = put_back(book or default_place(), source, step=step)
    if json:
        print_records(jobs=done.jobs, missing=done.missing, source=done.source, kept=done.kept)
        return
    show(f"Put back: {printable(done.source)}, {done.jobs} {'job' if done.jobs == 1 else 'jobs'}.")
    if done.kept is not None:
        show(f"What lay there before: {printable(done.kept)}")
    if done.missing:
        say(f"{len(done.missing)} of its photos are missing: 'contactread check' names them.")


def _counts(rows: Mapping[str, int]) -> str:
    named = ((rows["job"], "job", "jobs"), (rows["try"], "try", "tries"), (rows["photo"], "photo", "photos"))
    return ", ".join(f"{count} {one if count == 1 else many}" for count, one, many in named)
