"""`contactread read`: photos in, readings, advice and marked-up pictures out."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from contactread.advice.answer import Advice
    from contactread.axle import Axle
    from contactread.reading import Reading

EXIT_SOME_REFUSED = 3


class FlankChoice(StrEnum):
    """Which flank a photo shows."""

    convex = "convex"
    concave = "concave"
    auto = "auto"


def read(
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO", help="Photos of the rolled ring gear.")],
    axle: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The axle file; without it only directions are told.")
    ] = None,
    backlash: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LENGTH",
            help='A backlash measured with the dial, such as "0.18 mm" or "7 thou"; once for each place.',
        ),
    ] = None,
    corners: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="FILE",
            help="Corners marked by hand (JSON): one file for each photo in turn, or one that names them.",
        ),
    ] = None,
    flank: Annotated[
        list[FlankChoice] | None,
        typer.Option(
            metavar="NAME",
            help="convex, concave or auto: once for all photos, or once for each in turn. Usual: auto. "
            "Convex drives in an axle of normal rotation.",
        ),
    ] = None,
    marked: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Folder for the marked-up pictures. Usual: a new one here."),
    ] = None,
    pictures: Annotated[bool, typer.Option(help="Write marked-up pictures.")] = True,
    sources: Annotated[
        bool, typer.Option("--sources", help="Name the source of each sentence of advice.")
    ] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one object for programs.")] = False,
) -> int:
    """Read photos of a rolled ring gear: where each pattern sits, and the next shim move.

    Give a photo of the drive side and one of the coast side, in any order, for advice. The photos stay as
    they are. With --json, marked-up pictures are written only where --marked names a folder.
    """
    from contactread.cli.output import print_json, say
    from contactread.cli.pictures import Pictures
    from contactread.cli.reading_job import advice_for, corners_for, flanks_for, parse_backlash, read_one

    if axle is None:
        the_axle = None
    else:
        from contactread.axle_file import load_axle

        the_axle = load_axle(axle)
    gaps = tuple(parse_backlash(text) for text in backlash or ())
    by_hand = corners_for(photos, corners or [])
    flanks = flanks_for(photos, [each.value for each in flank or []])
    marked_up = Pictures(marked) if pictures and not (json and marked is None) else None
    entries: list[dict[str, Any]] = []
    readings: list[Reading] = []
    for number, path in enumerate(photos, 1):
        if json and len(photos) > 2:
            say(f"Reading {number} of {len(photos)}: {path}")
        result = read_one(path, by_hand.get(path), flanks[number - 1], the_axle, marked_up)
        entries.append(result.to_json())
        if result.reading is not None:
            readings.append(result.reading)
        if not json:
            result.show(the_axle)
    advice, lacking = advice_for(readings, the_axle, gaps)
    if json:
        print_json({
            "schema": 1,
            "photos": entries,
            "backlash_mm": list(gaps),
            "advice": None if advice is None else advice.to_json(),
            "no_advice": lacking,
            "estimated": _estimates(the_axle) if advice is not None else {},
        })  # fmt: skip
    elif readings:
        _show_end(advice, lacking, the_axle, sources)
    return 0 if len(readings) == len(photos) else EXIT_SOME_REFUSED


def _estimates(axle: Axle | None) -> dict[str, Any]:
    """What the advice had to estimate of the gear set."""
    if axle is None:
        return {}
    from contactread.mesh.estimate import gear_inputs
    from contactread.show.axle_table import estimates_to_json

    return estimates_to_json(gear_inputs(axle.gears))


def _show_end(advice: Advice | None, lacking: str | None, axle: Axle | None, sources: bool) -> None:
    """The advice, or why there is none."""
    if advice is None:
        print(lacking)
        return
    from contactread.mesh.estimate import gear_inputs
    from contactread.show.axle_table import estimate_words
    from contactread.show.terminal import console, print_advice

    estimated = "" if axle is None else estimate_words(gear_inputs(axle.gears))
    print_advice(console(), advice, estimated, with_sources=sources)
