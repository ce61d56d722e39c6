"""`contactread try`: start a try, read photos into it, record what was measured, ask for advice."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from contactread.cli.book_options import (
    BookOption,
    JobArgument,
    JsonOption,
    NotesOption,
    TryOption,
    WhenOption,
    WhoOption,
    as_json,
    length,
    open_book,
    torque,
)

if TYPE_CHECKING:
    from contactread.records.book import Book
    from contactread.records.nouns import Fastener, Try

app = typer.Typer(add_completion=False, rich_markup_mode=None, no_args_is_help=True)

PinionShim = Annotated[
    str | None, typer.Option(metavar="LENGTH", help='Pinion shim as built, such as "1.02 mm" or "40 thou".')
]
RingShim = Annotated[str | None, typer.Option(metavar="LENGTH", help="Side shim behind the ring gear.")]
OppositeShim = Annotated[str | None, typer.Option(metavar="LENGTH", help="Side shim opposite.")]
RingNotches = Annotated[
    float | None,
    typer.Option(
        metavar="NUMBER", help="Adjuster behind the ring gear: notches in (+) or out (-) since try 1."
    ),
]
OppositeNotches = Annotated[
    float | None, typer.Option(metavar="NUMBER", help="Adjuster opposite, in the same way.")
]
Compound = Annotated[str | None, typer.Option(metavar="WORDS", help="The marking compound.")]
Drag = Annotated[
    str | None, typer.Option(metavar="WORDS", help="How the gears were held back while rolling.")
]


@app.callback()
def try_() -> None:
    """Start a try, read photos into it, record what was measured, ask for advice."""


@app.command("start")
def start(
    job: JobArgument,
    pinion_shim: PinionShim = None,
    ring_shim: RingShim = None,
    opposite_shim: OppositeShim = None,
    ring_notches: RingNotches = None,
    opposite_notches: OppositeNotches = None,
    compound: Compound = None,
    drag: Drag = None,
    who: WhoOption = None,
    when: WhenOption = None,
    notes: NotesOption = None,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Start the next try of a job. What you don't give stays as in the try before, or as in the axle file."""
    from contactread.records.tries import start_try

    with open_book(book, write=True) as opened:
        attempt = start_try(
            opened, job, who=who, when=when, notes=notes or "", pinion_shim_mm=length(pinion_shim),
            ring_side_shim_mm=length(ring_shim), opposite_side_shim_mm=length(opposite_shim),
            ring_side_notches=ring_notches, opposite_side_notches=opposite_notches, compound=compound,
            drag=drag,
        )  # fmt: skip
        _show(opened, attempt, json)


@app.command("record")
def record_(
    job: JobArgument,
    number: TryOption = None,
    backlash: Annotated[
        list[str] | None,
        typer.Option(metavar="LENGTH", help="Backlash at one place of the ring gear; once for each place."),
    ] = None,
    runout: Annotated[str | None, typer.Option(metavar="LENGTH", help="Ring-gear runout.")] = None,
    pinion_torque: Annotated[
        str | None, typer.Option(metavar="TORQUE", help="Turning torque of the pinion alone.")
    ] = None,
    bearings: Annotated[
        Literal["new", "used"] | None, typer.Option(help="The pinion bearings it was measured on.")
    ] = None,
    total_torque: Annotated[
        str | None, typer.Option(metavar="TORQUE", help="Turning torque of pinion and ring gear.")
    ] = None,
    side_preload: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Side-bearing preload as a length.")
    ] = None,
    manual_torque: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME:TORQUES",
            help='From the axle\'s manual: "bearing caps: 100 N·m to 120 N·m". Once for each.',
        ),
    ] = None,
    tightened: Annotated[
        list[str] | None, typer.Option(metavar="NAME:TORQUE", help='"bearing caps: 110 N·m". Once for each.')
    ] = None,
    pinion_shim: PinionShim = None,
    ring_shim: RingShim = None,
    opposite_shim: OppositeShim = None,
    ring_notches: RingNotches = None,
    opposite_notches: OppositeNotches = None,
    compound: Compound = None,
    drag: Drag = None,
    notes: NotesOption = None,
    who: WhoOption = None,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Record what was measured. A value recorded before is replaced; the old one stays on the record."""
    from contactread.records.tries import record

    done = [_named(text, "--tightened") for text in tightened or ()]
    with open_book(book, write=True) as opened:
        attempt = record(
            opened, job, number, who=who,
            backlash_mm=[mm for mm in map(length, backlash or ()) if mm is not None],
            fasteners=[_fastener(text) for text in manual_torque or ()],
            tightened_nm={name: nm for name, words in done if (nm := torque(words)) is not None},
            ring_runout_mm=length(runout), pinion_torque_nm=torque(pinion_torque), bearings=bearings,
            total_torque_nm=torque(total_torque), side_preload_mm=length(side_preload),
            pinion_shim_mm=length(pinion_shim), ring_side_shim_mm=length(ring_shim),
            opposite_side_shim_mm=length(opposite_shim), ring_side_notches=ring_notches,
            opposite_side_notches=opposite_notches, compound=compound, drag=drag, notes=notes,
        )  # fmt: skip
        _show(opened, attempt, json)


@app.command("photo")
def photo(
    job: JobArgument,
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO", help="Photos of the rolled teeth, of one side each.")
    ],
    number: TryOption = None,
    corners: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Flanks marked by hand, where they can't be found; for one photo."),
    ] = None,
    flank: Annotated[
        Literal["convex", "concave"] | None, typer.Option(help="The flank that is seen, if you know it.")
    ] = None,
    who: WhoOption = None,
    book: BookOption = None,
    json: JsonOption = False,
) -> int:
    """Read photos into a try. Each is kept as it is, with what was read from it, or why it was refused."""
    from contactread.errors import PhotoError
    from contactread.photo.intake import read_photo_bytes
    from contactread.records.jobs import find_job, refuse_closed
    from contactread.records.photos import keep_photo
    from contactread.records.read_photo import read_photo
    from contactread.records.review import ReadTask
    from contactread.records.tries import find_try

    if corners is not None and len(photos) > 1:
        raise typer.BadParameter("--corners goes with one photo at a time")
    with open_book(book, write=True) as opened:
        the_job = find_job(opened, job)
        refuse_closed(the_job)
        attempt = find_try(opened, job, number)
        for path in photos:
            if not path.is_file():
                raise PhotoError(
                    "photo-missing", f"There is no photo '{path}', so nothing was recorded.",
                    "Check the name and the folder."
                )  # fmt: skip
        refused = False
        for path in photos:
            data = read_photo_bytes(path)
            reading = read_photo(
                ReadTask(path, data=data, corners=corners, flank=flank, axle_text=the_job.axle_text)
            )
            keep_photo(
                opened, data, name=path.name, who=who or the_job.opened_by, try_id=attempt.id, reading=reading
            )
            refused = refused or reading["status"] == "refused"
        _show(opened, find_try(opened, job, attempt.number), json)
    return 3 if refused else 0


@app.command("advise")
def advise(
    job: JobArgument,
    number: TryOption = None,
    last_move_checked: Annotated[
        bool,
        typer.Option(
            "--last-move-checked",
            help="The move before this try was inspected and is as recorded: it is no longer doubted.",
        ),
    ] = False,
    book: BookOption = None,
    json: JsonOption = False,
) -> None:
    """Advice on a try, from its photos, its backlash and the tries before it. It is kept with the try."""
    from contactread.cli.output import print_json
    from contactread.mesh.estimate import gear_inputs
    from contactread.records.advising import advise_try
    from contactread.records.jobs import find_job
    from contactread.show.axle_table import estimate_words
    from contactread.show.terminal import console, print_advice

    with open_book(book, write=True) as opened:
        advice, attempt = advise_try(opened, job, number, last_move_checked=last_move_checked)
        gears = find_job(opened, job).axle.gears
    if json:
        print_json(as_json(advice=advice.to_json(), attempt=attempt))
    else:
        print_advice(console(), advice, estimate_words(gear_inputs(gears)))
        if advice.verdict == "check_last_move":
            which = f"{job}" if number is None else f"{job} --try {number}"
            print(
                f"\nNext: if another shim was fitted, correct it with 'contactread try record {which}'. If "
                f"the move is as recorded, 'contactread try advise {which} --last-move-checked'."
            )


def _fastener(text: str) -> Fastener:
    """ "bearing caps: 100 N·m to 120 N·m", or one torque for both ends."""
    from contactread.records.nouns import Fastener

    name, words = _named(text, "--manual-torque")
    least, _, most = words.partition(" to ")
    least_nm, most_nm = torque(least), torque(most or least)
    assert least_nm is not None and most_nm is not None
    return Fastener(name, least_nm, most_nm, None)


def _named(text: str, option: str) -> tuple[str, str]:
    name, colon, words = text.rpartition(":")
    if not colon or not name.strip():
        raise typer.BadParameter(
            f'{option} takes a name, a colon and a torque, such as "bearing caps: 110 N·m"'
        )
    return name.strip(), words.strip()


def _show(book: Book, attempt: Try, json: bool) -> None:
    from contactread.cli.output import print_json
    from contactread.records.jobs import find_job
    from contactread.records.sheet import set_up_sheet
    from contactread.records.sign_off import sheet_json
    from contactread.show.sheet_text import sheet_text

    job = find_job(book, attempt.job_id)
    sheet = set_up_sheet(job, attempt)
    if json:
        print_json(as_json(job=job, attempt=attempt, sheet=sheet_json(sheet)))
    else:
        print(sheet_text(job, attempt, sheet))
