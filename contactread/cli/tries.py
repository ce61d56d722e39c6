"""`contactread try`: start a try, read photos into it, record what was measured, ask for advice."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from contactread.cli import advice, options, slips
from contactread.cli.book import asked_again, chosen_job, open_book, person, show_sheet
from contactread.cli.output import say
from contactread.errors import PhotoError
from contactread.units import parse_torque

if TYPE_CHECKING:
    from contactread.records.nouns import Fastener

app = options.group("Start a try, read photos into it, record what was measured, ask for advice.")

PinionShim = Annotated[
    float | None,
    options.length('Pinion shim as built, such as "1.02 mm" or "40 thou".', "pinion_shim", any_size=True),
]
RingShim = Annotated[
    float | None, options.length("Side shim behind the ring gear.", "side_shim", any_size=True)
]
OppositeShim = Annotated[float | None, options.length("Side shim opposite.", "side_shim", any_size=True)]
RingNotches = Annotated[
    float | None, options.notches("Adjuster behind the ring gear: notches in (+) or out (-) since try 1.")
]
OppositeNotches = Annotated[float | None, options.notches("Adjuster opposite, in the same way.")]
Compound = Annotated[str | None, options.words("The marking compound.")]
Drag = Annotated[str | None, options.words("How the gears were held back while rolling.")]


@app.command("start")
def start(
    job: options.Job = None,
    pinion_shim: PinionShim = None,
    ring_shim: RingShim = None,
    opposite_shim: OppositeShim = None,
    ring_notches: RingNotches = None,
    opposite_notches: OppositeNotches = None,
    compound: Compound = None,
    drag: Drag = None,
    shims_unknown: Annotated[
        bool, options.option("Nobody knows the pinion shim: leave it unknown.", "--shims-unknown")
    ] = False,
    who: options.Who = None,
    when: options.When = None,
    notes: options.Notes = None,
    sure: options.Sure = False,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Start the next try of a job. What you don't give stays as in the try before, or as in the axle file."""
    from contactread.records.doubts import unsaid_moves
    from contactread.records.tries import start_try, tries_of

    build: dict[str, Any] = {
        "pinion_shim_mm": pinion_shim, "ring_side_shim_mm": ring_shim, "opposite_side_shim_mm": opposite_shim,
        "ring_side_notches": ring_notches, "opposite_side_notches": opposite_notches,
    }  # fmt: skip
    with open_book(book, write=True) as opened:
        number = chosen_job(opened, job)
        before = tries_of(opened, number)[-1:]
        asked_again(
            lambda right: start_try(
                opened, number, who=person(who), when=when, notes=notes or "", compound=compound, drag=drag,
                sure=right, shims_unknown=shims_unknown, **build,
            ), sure, json,
        )  # fmt: skip
        show_sheet(opened, number, json)
        if before and (unsaid := unsaid_moves(before[0], build)):
            say(unsaid)


@app.command("record")
def record_(
    job: options.Job = None,
    number: options.Try = None,
    backlash: Annotated[list[float] | None, options.backlash("Backlash round the ring gear.")] = None,
    runout: Annotated[float | None, options.length("Ring-gear runout.", "runout")] = None,
    pinion_torque: Annotated[float | None, options.torque("Turning torque of the pinion alone.")] = None,
    bearings: Annotated[
        Literal["new", "used"] | None, options.option("The pinion bearings it was measured on.")
    ] = None,
    total_torque: Annotated[float | None, options.torque("Turning torque of pinion and ring gear.")] = None,
    side_preload: Annotated[
        float | None, options.length("Side-bearing preload as a length.", "side_preload")
    ] = None,
    manual_torque: Annotated[
        list[str] | None,
        options.value(
            "NAME:TORQUES", 'From the axle\'s manual: "bearing caps: 100 N·m to 120 N·m". Once for each.'
        ),
    ] = None,
    tightened: Annotated[
        list[str] | None, options.value("NAME:TORQUE", '"bearing caps: 110 N·m". Once for each.')
    ] = None,
    pinion_shim: PinionShim = None,
    ring_shim: RingShim = None,
    opposite_shim: OppositeShim = None,
    ring_notches: RingNotches = None,
    opposite_notches: OppositeNotches = None,
    compound: Compound = None,
    drag: Drag = None,
    notes: options.Notes = None,
    clear: Annotated[
        list[str] | None,
        options.value(
            "VALUE",
            "Strike a value out: pinion-shim, side-shims, notches, backlash, runout, pinion-torque, "
            "total-torque, side-preload, compound or drag. Once for each.",
        ),
    ] = None,
    made_by: Annotated[str | None, options.name("Correct who made the try.")] = None,
    when: Annotated[str | None, options.value("DATE", "Correct the date of the try.")] = None,
    reason: options.Reason = "",
    who: options.Who = None,
    sure: options.Sure = False,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Record what was measured. A value recorded before is replaced; the old one stays on the record."""
    from contactread.records.tries import record

    done = dict(_named(text, "--tightened") for text in tightened or ())
    with open_book(book, write=True) as opened:
        the_job = chosen_job(opened, job)
        asked_again(lambda right: record(
            opened, the_job, number, who=person(who), backlash_mm=backlash or (),
            fasteners=[_fastener(text) for text in manual_torque or ()],
            tightened_nm={name: parse_torque(words) for name, words in done.items()},
            ring_runout_mm=runout, pinion_torque_nm=pinion_torque, bearings=bearings,
            total_torque_nm=total_torque, side_preload_mm=side_preload, pinion_shim_mm=pinion_shim,
            ring_side_shim_mm=ring_shim, opposite_side_shim_mm=opposite_shim,
            ring_side_notches=ring_notches, opposite_side_notches=opposite_notches, compound=compound,
            drag=drag, notes=notes, cleared=clear or (), made_by=made_by, when=when, reason=reason,
            sure=right,
        ), sure, json)  # fmt: skip
        show_sheet(opened, the_job, json)


@app.command("photo")
def photo(
    photos: Annotated[
        list[str],
        options.argument(
            "[JOB] PHOTO...",
            "Photos of the rolled teeth, of one side each; the job's number may stand before them.",
        ),
    ],
    number: options.Try = None,
    corners: Annotated[
        Path | None, options.file("Flanks marked by hand, where they can't be found; for one photo.")
    ] = None,
    flank: Annotated[
        Literal["convex", "concave"] | None, options.option("The flank that is seen, if you know it.")
    ] = None,
    who: options.Who = None,
    book: options.Book = None,
    json: options.Json = False,
) -> int:
    """Read photos into a try. Each is kept as it is, with what was read from it, or why it was refused."""
    from contactread.photo.intake import read_photo_bytes
    from contactread.records.jobs import find_open_job
    from contactread.records.photos import keep_photo, refuse_after_move
    from contactread.records.review import ReadTask, read_photo
    from contactread.records.tries import find_try

    given, paths = _job_and_photos(photos)
    if corners is not None and len(paths) > 1:
        raise typer.BadParameter("--corners goes with one photo at a time")
    with open_book(book, write=True) as opened:
        job = chosen_job(opened, given)
        the_job = find_open_job(opened, job)
        attempt = find_try(opened, job, number)
        _refuse_missing(paths)
        if number is None:
            refuse_after_move(opened, attempt, paths)
        refused = False
        for path in paths:
            data = read_photo_bytes(path)
            reading = read_photo(
                ReadTask(path, data=data, corners=corners, flank=flank, axle_text=the_job.axle_text)
            )
            by = person(who) or the_job.opened_by
            keep_photo(opened, data, name=path.name, who=by, try_id=attempt.id, reading=reading)
            refused = refused or reading["status"] == "refused"
        show_sheet(opened, job, json)
    return 3 if refused else 0


app.command("advise")(advice.advise)
app.command("advice")(advice.given)
app.command("move")(slips.move_try)
app.command("strike")(slips.strike_try)


def _job_and_photos(words: list[str]) -> tuple[int | None, list[Path]]:
    """A leading number is the job, unless a file is named so."""
    if words[0].isdecimal() and len(words) > 1 and not Path(words[0]).is_file():
        return int(words[0]), [Path(word) for word in words[1:]]
    return None, [Path(word) for word in words]


def _refuse_missing(paths: list[Path]) -> None:

    for path in paths:
        if not path.is_file():
            raise PhotoError(
                "photo-missing", f"There is no photo '{path}', so nothing was recorded.",
                "Check the name and the folder."
            )  # fmt: skip


def _fastener(text: str) -> Fastener:
    """ "bearing caps: 100 N·m to 120 N·m", or one torque for both ends."""
    from contactread.records.nouns import Fastener

    name, words = _named(text, "--manual-torque")
    least, _, most = words.partition(" to ")
    return Fastener(name, parse_torque(least), parse_torque(most or least), None)


def _named(text: str, option: str) -> tuple[str, str]:
    name, colon, words = text.rpartition(":")
    if not colon or not name.strip():
        raise typer.BadParameter(
            f'{option} takes a name, a colon and a torque, such as "bearing caps: 110 N·m"'
        )
    return name.strip(), words.strip()
