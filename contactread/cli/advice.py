"""`contactread try advise` and `advice`: asking for advice on a try, and what was given before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from contactread.cli import options
from contactread.cli.book import chosen_job, open_book, person
from contactread.cli.output import print_records, say

if TYPE_CHECKING:
    from rich.console import Console

    from contactread.advice.answer import Advice
    from contactread.axle import GearSet


def advise(
    job: options.Job = None,
    number: options.Try = None,
    last_move_checked: Annotated[
        bool,
        options.option(
            "The move before this try was inspected and is as recorded: it is no longer doubted.",
            "--last-move-checked",
        ),
    ] = False,
    who: options.Who = None,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Advice on a try, from its photos, its backlash and the tries before it. It is kept with the try."""
    from contactread.records.advising import advise_try
    from contactread.records.jobs import find_job
    from contactread.show.terminal import console

    with open_book(book, write=True) as opened:
        the_job = chosen_job(opened, job)
        advice, attempt = advise_try(
            opened, the_job, number, last_move_checked=last_move_checked, who=person(who), show=_advice_words
        )
        gears = find_job(opened, the_job).axle.gears
    if json:
        print_records(advice=advice.to_json(), attempt=attempt)
    else:
        _print_advice(console(), advice, gears)
        if advice.verdict == "check_last_move":
            which = f"{the_job}" if number is None else f"{the_job} --try {number}"
            print(
                f"\nNext: if another shim was fitted, correct it with 'contactread try record {which}'. If "
                f"the move is as recorded, 'contactread try advise {which} --last-move-checked'."
            )


def given(
    job: options.Job = None, number: options.Try = None, book: options.Book = None, json: options.Json = False
) -> None:
    """Show all advice that was given on a try, as it was given."""
    from contactread.records.given_advice import is_outgrown, why_outgrown
    from contactread.records.jobs import find_job
    from contactread.records.moments import day
    from contactread.records.tries import find_try, tries_of
    from contactread.show.sheet_text import advised_text

    with open_book(book) as opened:
        the_job = find_job(opened, chosen_job(opened, job))
        attempt = find_try(opened, the_job.id, number)
        outgrown = is_outgrown(the_job, tries_of(opened, the_job.id), attempt)
    found = (*attempt.earlier_advice, *([attempt.advice] if attempt.advice else []))
    if json:
        print_records(advice=found, outgrown=outgrown)
    elif not found:
        say(f"No advice was given on try {attempt.number}.")
    for advice in () if json else found:
        print(
            f"Given on {day(advice.given_at)} by contactread {advice.program}, axle file version "
            f"{advice.axle_version}:\n\n{advice.words or advised_text(advice)}\n"
        )
    if outgrown and not json:
        say(why_outgrown(the_job))


def _print_advice(out: Console, advice: Advice, gears: GearSet) -> None:
    from contactread.show.axle_table import estimate_words
    from contactread.show.terminal import print_advice

    print_advice(out, advice, estimate_words(gears))


def _advice_words(advice: Advice, gears: GearSet) -> str:
    """Advice as it is shown, as plain text: kept with the try."""
    import io

    from rich.console import Console

    text = io.StringIO()
    _print_advice(Console(file=text, width=80, color_system=None), advice, gears)
    return text.getvalue().rstrip()
