"""`contactread review`: a whole folder of photos into the shop book."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from contactread.cli import options
from contactread.cli.book import book_if, open_book, somebody
from contactread.cli.output import print_records, progress, say

if TYPE_CHECKING:
    from contactread.records.review import Outcome, Summary

EXIT_SOME_REFUSED = 3


def review(
    folder: Annotated[Path, options.argument("FOLDER", "Folder of photos; those inside it count too.")],
    who: options.Who = None,
    manifest: Annotated[
        Path | None, options.file("CSV that ties photos to jobs and tries; else the folders' names do.")
    ] = None,
    axle: Annotated[
        Path | None, options.file("Axle file, for jobs that are opened and for photos without a job.")
    ] = None,
    dry_run: Annotated[
        bool, options.option("Only show which photo would go to which job and try.", "--dry-run")
    ] = False,
    yes: Annotated[bool, options.option("Don't ask where the plan is in doubt.", "--yes")] = False,
    workers: Annotated[
        int | None, options.number("Processes; one for each core without it.", least=1)
    ] = None,
    cluster: Annotated[
        str | None,
        options.value("ADDRESS", "Address of a running Dask cluster that reads instead (extra 'cluster')."),
    ] = None,
    refused_again: Annotated[
        bool, options.option("Also read again what was refused before.", "--refused-again")
    ] = False,
    sure: options.Sure = False,
    csv: Annotated[bool, options.option("Print the list of jobs as CSV.", "--csv")] = False,
    book: options.Book = None,
    json: options.Json = False,
) -> int:
    """Read a whole folder of photos into the shop book. Stop it at any time; it carries on later. One undo
    takes back what one run wrote.

    Folders name jobs and tries: FOLDER/job 12/try 2/photo.jpg goes to try 2 of job 12. Other words than a
    job's number open a job for the vehicle or unit of that name, by the axle file in its folder or by --axle.
    Without folders for the tries, the time that the camera wrote and the sides part them. A manifest does it
    with the columns photo, job, try, flank, who, when, pinion_shim, ring_side_shim, opposite_side_shim,
    backlash and axle. Shims that nobody names stay unknown. Flanks marked by hand are taken from
    drive_corners.json beside drive.jpg.
    """
    from functools import partial

    from contactread.axle_file import sound_axle_text
    from contactread.cli.review_plan import asked_about, show_plan
    from contactread.records import executors, questions
    from contactread.records.filing import by_folder, by_manifest
    from contactread.records.moments import now
    from contactread.records.place import default_place, photo_folder
    from contactread.records.review import Summary, read_photo
    from contactread.records.review import review as review_photos
    from contactread.records.review_places import advise_all, arrange
    from contactread.records.rounds import dated, plan
    from contactread.show.table import answer_table, csv_table

    axle_text = None if axle is None else sound_axle_text(axle)
    path = (book or default_place()).expanduser()
    if dry_run:
        filed = by_manifest(folder, manifest) if manifest else by_folder(folder, photo_folder(path))
        with book_if(path.is_file(), book) as opened:
            show_plan(plan(opened, filed, now()), folder, json)
        return 0
    person_here = somebody(who)
    summary, outcomes = Summary(), []
    at_once = 2 * (workers or executors.cores()) if cluster is None else 64
    begin = partial(executors.local, workers) if cluster is None else partial(executors.cluster, cluster)
    with open_book(book, write=True, create=True) as opened, opened.together():
        filed = by_manifest(folder, manifest) if manifest else by_folder(folder, opened.photos.folder)
        filed = dated(plan(None, filed, opened.clock()))
        with progress("Reading photos", len(filed)) as step:
            for outcome in review_photos(
                opened, filed, read_photo, begin, who=person_here, axle_text=axle_text,
                at_once=at_once, send_bytes=cluster is not None, refused_again=refused_again, sure=sure,
            ):  # fmt: skip
                summary.add(outcome)
                outcomes.append(outcome)
                if outcome.words:
                    say(f"{outcome.path.relative_to(folder)}: {outcome.status}. {outcome.words}")
                step()
        rounds = plan(opened, [item for item in filed if item.job is not None], opened.clock())
        chosen = asked_about(rounds, ask=not (yes or json))
        places = arrange(opened, chosen, person_here, axle_text)
        outcomes = [_placed(outcome, places) for outcome in outcomes]
        jobs = sorted({outcome.job for outcome in outcomes if outcome.job is not None})
        advise_all(opened, jobs, person_here)
        answer = questions.verdicts(opened, jobs=jobs)
    if json:
        print_records(summary=summary, photos=[_plain(o, folder) for o in outcomes], jobs=answer.records())
    elif csv:
        print(csv_table(answer.columns, answer.rows), end="")
    else:
        print(_words(summary))
        if answer.rows:
            print(f"\n{answer_table(answer.columns, answer.rows)}")
    return EXIT_SOME_REFUSED if summary.why else 0


def _placed(outcome: Outcome, places: dict[str, tuple[int, int]]) -> Outcome:
    """An outcome with the job and try that its photo was filed in afterwards."""
    from dataclasses import replace

    from contactread.records.photo_store import hash_of

    place = places.get(hash_of(outcome.path)) if places and outcome.job is None else None
    return outcome if place is None else replace(outcome, job=place[0], attempt=place[1])


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
