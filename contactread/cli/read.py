"""`contactread read`: photos in; readings, marked-up pictures, and one boxed answer out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum
from functools import partial
from importlib import import_module
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Annotated, Any

import typer

from contactread.cli import options
from contactread.cli.output import print_json
from contactread.errors import AdviceError
from contactread.show.text import printable

if TYPE_CHECKING:
    from contactread.advice.answer import Advice
    from contactread.axle import Axle, Role
    from contactread.cli.pictures import Pictures
    from contactread.cli.reading_job import Result

EXIT_SOME_REFUSED = 3
# Imported ahead of need, first what the photos wait for.
_AHEAD = "flank.finder", "reading", "advice.advise", "show.answer_box"
MOST_HELD = 6  # photos whose pixels are kept until the advice can be drawn beside the patch


class FlankChoice(StrEnum):
    """Which flank a photo shows."""

    convex = "convex"
    concave = "concave"
    auto = "auto"


def read(
    photos: Annotated[
        list[Path] | None, options.argument("PHOTO", "Photos of the rolled ring gear, or their folder.")
    ] = None,
    axle: Annotated[
        Path | None,
        options.file("The axle file. Usual: the one in the settings; without, amounts are rough guesses."),
    ] = None,
    backlash: Annotated[
        list[float] | None, options.backlash('Backlash by the dial, such as "0.18 mm" or "7 thou".')
    ] = None,
    newest: Annotated[
        bool,
        options.option("The two newest photos of the folder, or of the one in the settings.", "--newest"),
    ] = False,
    file: Annotated[
        bool, options.option("Keep photos, readings and backlash in the open job of the shop book.", "--file")
    ] = False,
    job: Annotated[int | None, options.number("As --file, into this job. Its axle file counts.")] = None,
    book: options.Book = None,
    explain: Annotated[
        bool, options.option("All numbers, reasons, and where publications disagree.", "--explain")
    ] = False,
    sources: Annotated[
        bool, options.option("As --explain, with the source of each sentence.", "--sources")
    ] = False,
    corners: Annotated[
        list[Path] | None,
        options.file(
            "Corners marked by hand (JSON): one file for each photo in turn, or one that names them."
        ),
    ] = None,
    flank: Annotated[
        list[FlankChoice] | None,
        options.name(
            "convex, concave or auto: once for all photos, or once for each in turn. Usual: auto. "
            "Convex drives in an axle of normal rotation."
        ),
    ] = None,
    marked: Annotated[
        Path | None, options.folder("Folder for the marked-up pictures. Usual: a new one here.")
    ] = None,
    pictures: Annotated[bool, options.option("Write marked-up pictures.")] = True,
    questions: Annotated[
        bool, options.option("Ask for what is missing, where a person sits there.", "--ask/--no-ask")
    ] = True,
    sure: options.Sure = False,
    json: options.Json = False,
) -> int:
    """Read photos of a rolled ring gear: where each pattern sits, and the next shim move.

    Give a photo of the drive side and one of the coast side, in any order, for advice; or their folder. The
    photos stay as they are. With --json, marked-up pictures are written only where --marked names a folder.
    """
    from contactread.cli.pictures import Pictures
    from contactread.cli.read_input import axle_from, backlash_from, can_ask, photos_from
    from contactread.cli.reading_job import advice_for, corners_for, flanks_for, read_all, sides_of, why_none

    asking = questions and can_ask(json)
    paths = photos_from(photos or [], newest, asking)
    into: int | None = None
    usual = False
    the_axle: Axle | None
    if file or job is not None:
        from contactread.cli.read_filing import file_results, job_to_file_into

        if axle is not None:
            raise typer.BadParameter("A job has its own axle file: leave --axle out.")
        into, the_axle = job_to_file_into(book, job, paths)
        axle_name = f"job {into}"
    else:
        the_axle, axle_name, usual = axle_from(axle, paths, asking)
    gaps = backlash_from(backlash or [], asking)
    by_hand = corners_for(paths, corners or [])
    flanks = flanks_for(paths, [each.value for each in flank or []])
    drawn = Pictures(marked) if pictures and not (json and marked is None) else None
    results: list[Result] = []
    ahead = partial(_ahead, the_axle) if len(paths) > 1 else None
    for number, read in enumerate(read_all(paths, by_hand, flanks, the_axle, ahead), 1):
        results += _mark(read, drawn, the_axle, None) if number > MOST_HELD else read
    sides = sides_of(results)
    advice, filed, refused = None, "", None
    code: str | None = None
    answer: tuple[str, ...]
    try:
        advice = advice_for(sides, the_axle, gaps)
    except AdviceError as error:
        refused = error
    if into is not None:
        # A side that lacks here may be filed already; photos that say too little are no ground for advice.
        other_filed = all(result.reading for result in results) and len(sides.views) == 1
        advise = advice is not None or other_filed
        kept, attempt = file_results(book, into, sides.results, gaps, advise=advise, json=json, sure=sure)
        if isinstance(kept, AdviceError):
            advice, refused = None, kept
        elif kept is not None:
            advice = kept
        filed = f"Kept as try {attempt.number} of job {into}."
    if refused is not None:
        code, answer = refused.code, (refused.message, refused.next_step)
    else:
        none = None if advice is not None else why_none(sides)
        code, answer = none or (None, () if advice is None else advice.answer)
    results = _mark(sides.results, drawn, the_axle, advice)
    if json:
        print_json({
            "schema": 1,
            "photos": [result.to_json() for result in results],
            "sides": sides.to_json(),
            "axle": axle_name or None,
            "backlash_mm": list(gaps),
            "job": into,
            "advice": None if advice is None else advice.to_json(),
            "no_advice": None if advice is not None else " ".join(answer),
            "no_advice_code": code,
            "answer": list(answer),
            "estimated": _estimates(the_axle) if advice is not None else {},
        })  # fmt: skip
    else:
        if explain or sources:
            _explain(results, advice, the_axle, sources)
        named = "" if the_axle is None else the_axle.name[:30] or Path(axle_name).name
        by = f"By the usual axle, {named}." if usual else ""
        _show(results, sides.of, advice, answer, the_axle, filed or by)
    complete = refused is None and all(result.reading is not None for result in results)
    return 0 if complete else EXIT_SOME_REFUSED


def _ahead(axle: Axle | None) -> None:
    """What the photos and then advice on this axle will need: read, imported and drawn while the photos are
    decoded and looked at.
    """
    from contactread.flank.networks import load_ahead

    Thread(target=load_ahead, daemon=True).start()
    for module in _AHEAD:
        import_module(f"contactread.{module}")
    from skimage.measure import find_contours  # noqa: F401 (it loads what outlines patches)

    from contactread.advice.rough import unknown_axle
    from contactread.belief.draws import draw_ahead
    from contactread.facts import facts

    draw_ahead(axle or unknown_axle())
    for name in ("rules", "cautions"):
        facts(name)


def _mark(
    results: Sequence[Result], pictures: Pictures | None, axle: Axle | None, advice: Advice | None
) -> list[Result]:
    """The results with their marked-up pictures written."""
    from contactread.cli.reading_job import marked_up

    if pictures is None:
        return [*results]
    expected = None if advice is None else advice.expected
    out = []
    for result in results:
        after = None
        if expected is not None and result.reading is not None:
            after = expected.centre(result.reading.side.role)
        out.append(marked_up(result, pictures, axle, after))
    return out


def _show(
    results: Sequence[Result],
    sides: Mapping[Role, Result],
    advice: Advice | None,
    answer: Sequence[str],
    axle: Axle | None,
    note: str = "",
) -> None:
    """What fits on one screen: both flanks, what may be wrong, and the answer in its box, last."""
    from contactread.cli.read_input import taken_apart
    from contactread.flags import flag
    from contactread.show.answer_box import CAUTION, box, flanks_page, one_line, screen_of, shown_sides

    screen = screen_of()
    lines: list[str] = []
    if sides:
        read = [(r.reading.side, r.path.name) for r in sides.values() if r.reading is not None]
        lines += flanks_page(shown_sides(read, advice, axle), screen)
    doubts = [
        f"{result.path.name}: {', '.join(flag(code).short for code in result.reading.flags)}"
        for result in results
        if result.reading is not None and result.reading.flags
    ]
    if apart := taken_apart([result.path for result in results if result.reading is not None]):
        doubts.insert(0, apart)
    if advice is not None:  # else the answer tells it
        doubts += [f"{r.path.name} not read: {r.refusal.message}" for r in results if r.refusal]
    if doubts:
        lines.append(one_line("! " + "; ".join(dict.fromkeys(doubts)), screen))
    folder = next((result.picture.parent for result in results if result.picture is not None), None)
    where = "" if folder is None else f"Marked-up: {folder}   "
    note = f"{printable(note)} " if note else ""
    why = "Why: --explain" if note else "Why, and all numbers: --explain"
    lines.append(one_line(f"{note}{where}{why}", screen))
    lines.append(one_line(CAUTION, screen))
    print("\n".join([*lines, *box(answer, screen)]))


def _explain(results: Sequence[Result], advice: Advice | None, axle: Axle | None, sources: bool) -> None:
    """Everything: each photo, what the pair says and why."""
    from contactread.show.axle_table import estimate_words
    from contactread.show.refusal import refusal_text
    from contactread.show.terminal import console, print_advice, print_reading

    for result in results:
        if result.reading is not None:
            print_reading(console(), str(result.path), result.reading, axle, result.picture)
        elif result.refusal is not None:
            print(refusal_text(str(result.path), result.refusal))
    if advice is not None:
        estimated = "" if axle is None else estimate_words(axle.gears)
        print_advice(console(), advice, estimated, with_sources=sources, boxed=False)


def _estimates(axle: Axle | None) -> dict[str, Any]:
    """What the advice had to estimate of the gear set."""
    if axle is None:
        return {}
    from contactread.mesh.estimate import gear_inputs
    from contactread.show.axle_table import estimates_to_json

    return estimates_to_json(gear_inputs(axle.gears))
