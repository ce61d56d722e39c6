"""`contactread ask`: questions to the shop book, as tables, CSV, JSON and charts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from contactread.cli import options
from contactread.cli.book import chosen_job, open_book
from contactread.cli.output import print_records, say, write_new

if TYPE_CHECKING:
    from contactread.records.questions import Answer
    from contactread.show.drawing import Drawing

app = options.group("Questions to the shop book, as tables, CSV, JSON and charts.")

Svg = Annotated[Path | None, options.file("Also write a chart into this new file.")]


@app.command("walk")
def walk(
    job: options.Job = None, svg: Svg = None, csv: options.Csv = False, json: options.Json = False,
    book: options.Book = None,
) -> None:  # fmt: skip
    """How a set-up walked to its pattern, try by try."""
    from contactread.belief.targets import target_for
    from contactread.records import questions
    from contactread.records.jobs import find_job
    from contactread.show.walk_chart import walk_chart

    with open_book(book) as opened:
        number = chosen_job(opened, job)
        answer = questions.walk(opened, number)
        target = target_for(find_job(opened, number).axle)
    _show(answer, csv, json, svg, lambda: walk_chart(answer, target))


@app.command("jobs")
def jobs(
    most: options.Most = 50, csv: options.Csv = False, json: options.Json = False, book: options.Book = None
) -> None:
    """Each job in one row: its verdict, its trend from the first try to the last, what was changed."""
    from contactread.records import questions

    _show(_asked(book, questions.verdicts, most=most), csv, json)


@app.command("tries")
def tries(
    by: Annotated[Literal["month", "year", "all"], options.option("The time that a row covers.")] = "month",
    person: Annotated[bool, options.option("A row for each person who opened jobs.", "--person")] = False,
    since: Annotated[str, options.value("DATE", "From this day on, as 2026-01-31.")] = "",
    until: Annotated[str, options.value("DATE", "Before this day.")] = "9999",
    svg: Svg = None,
    csv: options.Csv = False,
    json: options.Json = False,
    book: options.Book = None,
) -> None:
    """How many tries a job took, over time and for each person."""
    from contactread.records import questions
    from contactread.show.shop_charts import tries_chart

    answer = _asked(book, questions.tries_per_job, period=by, by_person=person, since=since, until=until)
    _show(answer, csv, json, svg, lambda: tries_chart(answer))


@app.command("shims")
def shims(
    svg: Svg = None, csv: options.Csv = False, json: options.Json = False, book: options.Book = None
) -> None:
    """Start shim against final shim for each kind of axle: where to start the next one."""
    from contactread.records import questions
    from contactread.show.shop_charts import shims_chart

    answer = _asked(book, questions.start_shims)
    _show(answer, csv, json, svg, lambda: shims_chart(answer))


@app.command("refused")
def refused(
    count: Annotated[bool, options.option("Only how many for each reason.", "--count")] = False,
    most: options.Most = 100,
    csv: options.Csv = False,
    json: options.Json = False,
    book: options.Book = None,
) -> None:
    """Which photos were refused, and why."""
    from contactread.records import questions

    found = _asked(book, questions.refusals) if count else _asked(book, questions.refused_photos, most)
    _show(found, csv, json)


@app.command("runout")
def runout(
    most: options.Most = 100, csv: options.Csv = False, json: options.Json = False, book: options.Book = None
) -> None:
    """Tries whose spread, of the pattern or of the backlash, hints at runout."""
    from contactread.records import questions

    _show(_asked(book, questions.runout_hints, most=most), csv, json)


@app.command("search")
def search(
    words: Annotated[list[str], options.argument("WORDS", "Words or their beginnings; all must be found.")],
    most: options.Most = 100,
    csv: options.Csv = False,
    json: options.Json = False,
    book: options.Book = None,
) -> None:
    """Find jobs, tries, photos and readings by anything written about them."""
    from contactread.records import questions

    _show(_asked(book, questions.search, " ".join(words), most), csv, json)


def _asked(book: Path | None, question: Callable[..., Answer], *values: Any, **named: Any) -> Answer:
    with open_book(book) as opened:
        return question(opened, *values, **named)


def _show(
    answer: Answer, csv: bool, json: bool, svg: Path | None = None, draw: Callable[[], Drawing] | None = None
) -> None:
    from contactread.show.table import answer_table, csv_table

    if svg is not None and draw is not None:
        write_new(svg, draw().svg().encode())
        say(f"Chart: {svg}")
    if json:
        print_records(title=answer.title, rows=answer.records())
    elif csv:
        print(csv_table(answer.columns, answer.rows), end="")
    elif answer.rows:
        print(answer_table(answer.columns, answer.rows))
    else:
        say(f"{answer.title}: nothing is found.")
