"""`contactread practice`: learn to read a pattern, take a test, see how everybody gets on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from contactread.cli import options
from contactread.cli.book import book_if, open_book
from contactread.cli.output import page_bytes, print_json, print_records, say, write_new

if TYPE_CHECKING:
    from contactread.practice.shop_questions import RightMove

app = options.group("Learn to read a pattern: questions worked out from the mechanics of invented axles.")

Apprentice = Annotated[str, options.name("The apprentice. Answers are kept by name.", "--who")]
Answers = Annotated[
    Path | None, options.file("A file with one answer a line, or - for standard input; asks nothing.")
]
Topic = Annotated[
    list[str] | None, options.value("TOPIC", "Only this topic; give it again for more. See 'topics'.")
]
Level = Annotated[int | None, options.number("Only the topics of this level. See 'topics'.", least=1, most=6)]
Consent = Annotated[
    bool | None,
    options.option("Whether what you mark in photographs is kept by name, to measure how well people read."),
]
Photos = Annotated[Path | None, options.folder("A folder of photographs with truth beside them.")]
HowMany = Annotated[int, options.number("How many.", least=1, most=200)]


@app.command("learn")
def learn(
    who: Apprentice,
    questions: HowMany = 10,
    topic: Topic = None,
    level: Level = None,
    answers: Answers = None,
    photos: Photos = None,
    consent: Consent = None,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """The course, weak topics more often.

    Asks one apprentice the next questions. A new topic begins with a short lesson.
    Every answer is kept at once in the shop book. Stop at any time with Ctrl-C.
    """
    from contactread.cli.practice_session import Session
    from contactread.practice.catalog import Catalog, course_questions

    with open_book(book, write=True, create=True) as opened:
        catalog = Catalog(opened, photos)
        asked = course_questions(catalog, opened, who, questions, _only(topic, level, catalog.topics()))
        Session(opened, who, answers=answers, json=json, lessons=True, consent=consent).run(asked, questions)


@app.command("test")
def test(
    seed: Annotated[int, options.number("The same number gives the same test.", least=0)],
    questions: HowMany = 15,
    topic: Topic = None,
    level: Level = None,
    who: Annotated[str | None, options.name("The apprentice; without it nothing is kept.")] = None,
    answers: Answers = None,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """The same test for everybody.

    The same seed asks the same questions.
    """
    from contactread.cli.practice_session import Session
    from contactread.practice.questions import same_test
    from contactread.practice.topics import GENERATED

    asked = same_test(seed, questions, _only(topic, level, GENERATED) or GENERATED)
    with book_if(bool(who), book, begin=True) as opened:
        Session(opened, who or "", answers=answers, json=json, test=seed).run(iter(asked), questions)


@app.command("sheet")
def sheet(
    file: Annotated[Path, options.argument("FILE", "The page to write: test.html or test.pdf.")],
    seed: Annotated[int, options.number("The same number as for 'test'.", least=0)] = 1,
    questions: Annotated[int, options.number("How many.", least=1, most=60)] = 10,
    topic: Topic = None,
    level: Level = None,
    question: Annotated[
        list[str] | None, options.value("ID", "Only this question, by its id; again for more.")
    ] = None,
    photos: Photos = None,
    book: options.Book = None,
) -> None:
    """A sheet to print, answers apart.

    Writes the questions of a test, three or more a page, then the answers on sheets of their own.
    """
    from contactread.practice.catalog import Catalog
    from contactread.practice.questions import same_test
    from contactread.practice.sheet import sheet_page
    from contactread.practice.topics import GENERATED

    chosen = question or []
    with book_if(any(q.startswith("shop-") for q in chosen), book) as opened:
        if chosen:
            asked, title = [Catalog(opened, photos).question(q) for q in chosen], "Practice questions"
        else:
            topics = _only(topic, level, GENERATED) or GENERATED
            asked, title = same_test(seed, questions, topics), f"Practice test, seed {seed}"
        write_new(file, page_bytes(sheet_page(asked, title), file))
    say(f"Wrote {file}. The answers begin on a sheet of their own.")


@app.command("progress")
def progress(
    who: Annotated[str | None, options.name("Only this apprentice.", "--who")] = None,
    page: Annotated[Path | None, options.file("Write it as a page (.html or .pdf).")] = None,
    book: options.Book = None,
    json: options.Json = False,
    csv: options.Csv = False,
) -> None:
    """Who stands where, who needs what.

    For the instructor: people against topics; one of them topic by topic.
    """
    from contactread.practice import progress as shown

    with open_book(book) as opened:
        found = shown.progress_of(opened, who)
    if page is not None:
        write_new(page, page_bytes(shown.class_page(found), page))
        say(f"Wrote {page}.")
    if json:
        print_json(shown.progress_json(found))
    elif csv:
        print(shown.class_csv(found), end="")
    elif page is None:
        print("\n".join(shown.one_lines(found[0]) if who is not None else shown.class_lines(found)))


@app.command("rules")
def rules(
    codes: Annotated[
        list[str] | None, options.argument("CODE...", "Rules, sources or trade words; none: all rules.")
    ] = None,
    html: Annotated[Path | None, options.file("Write them as a page to this file.")] = None,
) -> None:
    """What a rule says, and who says so.

    A code is the name of a rule (both-high), a source (A11) or a word of the trade (toe).
    """
    from contactread.practice.present import wrapped
    from contactread.practice.rules import explained, rule_codes, rules_page

    asked = codes or list(rule_codes())
    if html is not None:
        write_new(html, rules_page(asked).encode())
        say(f"Wrote {html}.")
        return
    for code in asked:
        says, titles = explained(code)
        for line in (*wrapped(f"{code}: {says}", "", "  "), *(x for t in titles for x in wrapped(t, "    "))):
            print(line)


@app.command("readers")
def readers(
    photos: Photos = None,
    tool: Annotated[
        bool, options.option("Let the tool read the same photographs, beside the people.", "--tool/--no-tool")
    ] = True,
    book: options.Book = None,
    json: options.Json = False,
    csv: options.Csv = False,
) -> None:
    """How well people read patterns.

    Bias and spread of the centre by person, agreement between people, with oneself and with the tool, each
    with its 95 % bounds. Only answers to photographs that were kept with consent count.
    """
    from contactread.practice import agreement
    from contactread.practice.agreement_shown import comparison_json, comparison_rows
    from contactread.show.table import csv_table, text_table

    with open_book(book) as opened:
        reads = agreement.kept_reads(opened)
    questions = agreement.questions_of(reads, photos)
    found = agreement.compare(
        [*reads, *(agreement.tool_reads(questions.values()) if tool else [])], questions
    )
    if json:
        print_json(comparison_json(found))
        return
    one, of_readers, two, of_pairs = comparison_rows(found)
    for columns, rows in ((one, of_readers), (two, of_pairs)):
        print(csv_table(columns, rows) if csv else text_table(columns, rows) + "\n")
    if not csv:
        print(
            "Bias: positive toward heel and top. Bounds: 95 %. See also 'contactread practice readers "
            "--help'."
        )


@app.command("add")
def add(
    job: options.JobNumber,
    number: Annotated[int, options.argument("TRY", "The try that is shown.")],
    who: Annotated[str, options.name("Who makes it a question.", "--who")],
    right: Annotated[
        str | None,
        options.value(
            "MOVE", "The move that proved right; else what the job's later tries moved.", "--right"
        ),
    ] = None,
    says: Annotated[str, options.words("What proved it, in your words.", "--says")] = "",
    book: options.Book = None,
) -> None:
    """Ask about a job of your own.

    Turns a try from the shop book, with the answer that proved right, into a question.
    """
    from contactread.practice.shop_questions import MOVES, make_question_of

    if right is not None and right not in MOVES:
        raise typer.BadParameter(f"Use one of: {', '.join(MOVES)}.", param_hint="--right")
    move: RightMove | None = next((m for m in MOVES if m == right), None)
    with open_book(book, write=True) as opened:
        made = make_question_of(opened, job, number, who=who, right=move, says=says)
    say(f"Made the question {made}. Look at it with: contactread practice sheet own.html --question {made}")


@app.command("topics")
def topics(photos: Photos = None, book: options.Book = None, json: options.Json = False) -> None:
    """What there is to learn."""
    from contactread.practice.catalog import Catalog
    from contactread.practice.progress import topic_lines
    from contactread.practice.topics import TOPICS
    from contactread.records.place import default_place

    place = book or default_place()
    with book_if(place.is_file(), place) as opened:
        stored = {t: Catalog(opened, photos).stored(t) for t in ("photo", "shop")}
    if json:
        listed = [
            {"id": t.id, "level": t.level, "heading": t.heading, "lesson": t.lesson, "terms": list(t.terms)}
            for t in TOPICS.values()
        ]
        print_records(topics=listed, stored_questions=stored)
    else:
        print("\n".join(topic_lines(stored)))


def _only(named: list[str] | None, level: int | None, at_hand: tuple[str, ...]) -> tuple[str, ...]:
    """The topics that were asked for by name or by level; empty where neither was given."""
    from contactread.practice.topics import TOPICS

    of_level = [t for t in at_hand if TOPICS[t].level == level]
    return (*(named or ()), *(t for t in of_level if t not in (named or ())))
