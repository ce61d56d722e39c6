"""`contactread review`: a whole folder of photos into the shop book."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from contactread.cli.book_options import BookOption, JsonOption, as_json, open_book

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from contactread.records.review import Outcome, Summary

EXIT_SOME_REFUSED = 3


def review(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Folder of photos; those inside it count too.")
    ],
    who: Annotated[str, typer.Option("--who", metavar="NAME", help="Who adds them.")],
    manifest: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="CSV that ties photos to jobs and tries; else the folders' names do."
        ),
    ] = None,
    axle: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Axle file, for jobs that are opened and for photos without a job."
        ),
    ] = None,
    workers: Annotated[
        int | None, typer.Option(metavar="NUMBER", help="Processes; one for each core without it.", min=1)
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS", help="Address of a running Dask cluster that reads instead (extra 'cluster')."
        ),
    ] = None,
    refused_again: Annotated[
        bool, typer.Option("--refused-again", help="Also read again what was refused before.")
    ] = False,
    book: BookOption = None,
    json: JsonOption = False,
) -> int:
    """Read a whole folder of photos into the shop book. Stop it at any time; it carries on later.

    Folders name jobs and tries: FOLDER/job 12/try 2/photo.jpg goes to try 2 of job 12. Other words than a
    job's number open a job for the vehicle or unit of that name, by the axle file. A manifest does the same
    with the columns photo, job, try, flank, who, when, pinion_shim, ring_side_shim, opposite_side_shim and
    backlash. Flanks marked by hand are taken from drive_corners.json beside drive.jpg.
    """
    from contactread.axle_file import load_axle
    from contactread.cli.output import print_json, progress, say
    from contactread.records.executors import cores
    from contactread.records.filing import by_folder, by_manifest
    from contactread.records.read_photo import read_photo
    from contactread.records.review import Summary
    from contactread.records.review import review as review_photos

    axle_text = None
    if axle is not None:
        load_axle(axle)  # its errors name the file
        axle_text = axle.read_text(encoding="utf-8")
    summary, outcomes = Summary(), []
    at_once = 2 * (workers or cores()) if cluster is None else 64
    with open_book(book, write=True, create=True) as opened:
        filed = by_manifest(folder, manifest) if manifest else by_folder(folder, opened.photos.folder)
        with progress("Reading photos", len(filed)) as step:
            for outcome in review_photos(
                opened, filed, read_photo, _workers(workers, cluster), who=who, axle_text=axle_text,
                at_once=at_once, send_bytes=cluster is not None, refused_again=refused_again,
            ):  # fmt: skip
                summary.add(outcome)
                outcomes.append(outcome)
                if outcome.words:
                    say(f"{outcome.path.relative_to(folder)}: {outcome.status}. {outcome.words}")
                step()
    if json:
        counted = {"counts": dict(summary.counts), "why": dict(summary.why)}
        print_json(as_json(summary=counted, photos=[_plain(o, folder) for o in outcomes]))
    else:
        print(_words(summary))
    return EXIT_SOME_REFUSED if summary.why else 0


def _workers(count: int | None, address: str | None) -> Callable[[], AbstractContextManager[Executor]]:
    from contactread.records import executors

    if address is not None:
        return lambda: executors.cluster(address)
    return lambda: executors.local(count)


def _plain(outcome: Outcome, folder: Path) -> dict[str, object]:
    from dataclasses import asdict

    return asdict(outcome) | {"path": outcome.path.relative_to(folder).as_posix()}


def _words(summary: Summary) -> str:
    from contactread.show.table import text_table

    counts = summary.counts
    lines = [
        f"{counts['read']} read, {counts['refused']} refused, {counts['known']} known already, "
        f"{counts['not kept']} not kept"
    ]
    if summary.why:
        lines += ["", text_table(("photos", "why"), [(n, code) for code, n in summary.why.most_common()])]
    return "\n".join(lines)
