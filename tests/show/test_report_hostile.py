"""Fifty hostile strings in every field a user can fill: pages, drawings, CSV, terminal, search, files."""

from __future__ import annotations

import csv
import io
import sys
import unicodedata
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from report_shop import finished_job, made_book

sys.path.insert(0, str(Path(__file__).parents[1] / "records"))
from hostile import HOSTILE

from contactread.belief.targets import target_for
from contactread.errors import BookError
from contactread.records import questions
from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.jobs import find_job, list_jobs
from contactread.records.sheet import set_up_sheet
from contactread.records.transfer import export_book, import_book
from contactread.records.tries import tries_of
from contactread.show.report_page import report_html, report_page
from contactread.show.sheet_text import sheet_text
from contactread.show.shop_charts import shims_chart, tries_chart
from contactread.show.table import WIDTH, answer_table, csv_table, width_of
from contactread.show.walk_chart import walk_chart

FIELDS = (
    "vehicle", "gear_set", "who", "notes", "axle", "compound", "drag", "photo", "fastener", "reason",
    "advice",
)  # fmt: skip


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    """Job 1 is harmless; job n + 2 has hostile string n in every field."""
    with made_book(tmp_path_factory.mktemp("hostile")) as opened:
        finished_job(opened)
        for text in HOSTILE:
            # A TOML file can't hold half characters; NUL can't be in a file name.
            axle = text.encode("utf-8", "replace").decode("utf-8")
            finished_job(opened, dict.fromkeys(FIELDS, text) | {"axle": axle})
        yield opened


class Tags(HTMLParser):
    """The skeleton of a page: tags with the names of their attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, tuple[str, ...]]] = []
        self.odd: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        # A long text may take the whole width: that class is ours.
        self.found.append((tag, tuple(name for name, _ in attrs if name != "class")))

    def handle_comment(self, data: str) -> None:
        self.odd.append(data)

    def handle_pi(self, data: str) -> None:
        self.odd.append(data)

    def unknown_decl(self, data: str) -> None:
        self.odd.append(data)


def skeleton(page: str) -> Tags:
    tags = Tags()
    tags.feed(page)
    tags.close()
    return tags


def unsafe_for_terminal(text: str) -> list[str]:
    return [c for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")]


def test_pages(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    # Drawing on two hundred photos takes long, and no words go into them.
    monkeypatch.setattr("contactread.show.report_page.marked_photo", lambda book, photo: b"picture")
    harmless = skeleton(report_html(report_page(book, 1))).found
    for number, text in enumerate(HOSTILE):
        page = report_html(report_page(book, number + 2))
        tags = skeleton(page)
        assert tags.found == harmless, text
        assert tags.odd == [], text
        assert unsafe_for_terminal(page.replace("\u200d", "")) == [], text
        assert "49 " not in page.split("</h1>")[0].split("<h1>Job")[1].partition(":")[2], text


def test_drawings(book: Book) -> None:
    target = target_for(find_job(book, 1).axle)
    harmless = [
        e.tag for e in ElementTree.fromstring(walk_chart(questions.walk(book, 1), target).svg()).iter()
    ]
    for number, text in enumerate(HOSTILE):
        drawn = ElementTree.fromstring(walk_chart(questions.walk(book, number + 2), target).svg())
        assert [e.tag for e in drawn.iter()] == harmless, text
    for chart in (
        tries_chart(questions.tries_per_job(book, by_person=True)),
        shims_chart(questions.start_shims(book)),
    ):
        tags = {e.tag.rpartition("}")[2] for e in ElementTree.fromstring(chart.svg()).iter()}
        assert tags == {"svg", "title", "desc", "rect", "path", "text", "style"}


def answers(book: Book) -> Iterator[questions.Answer]:
    for job in list_jobs(book, most=100):
        yield questions.walk(book, job.id)
    yield questions.tries_per_job(book, by_person=True)
    yield questions.start_shims(book)
    yield questions.runout_hints(book, length=0.0, height=0.0)
    yield questions.search(book, "convex", 1000)
    yield questions.search(book, "done", 1000)


def test_spreadsheets(book: Book) -> None:
    for answer in answers(book):
        rows = list(csv.reader(io.StringIO(csv_table(answer.columns, answer.rows), newline="")))
        assert len(rows) == len(answer.rows) + 1
        assert {len(row) for row in rows} == {len(answer.columns)}
        for row, given in zip(rows[1:], answer.rows, strict=True):
            for cell, value in zip(row, given, strict=True):
                assert not isinstance(value, str) or not cell.lstrip().startswith(("=", "+", "-", "@")), cell


def test_terminal(book: Book) -> None:
    for answer in answers(book):
        text = answer_table(answer.columns, answer.rows)
        assert unsafe_for_terminal(text) == []
        assert max(map(width_of, text.splitlines())) <= WIDTH
    for job in list_jobs(book, most=100):
        attempts = tries_of(book, job.id)
        assert unsafe_for_terminal(sheet_text(job, attempts, set_up_sheet(job, attempts[-1]))) == []


def test_search_takes_anything(book: Book) -> None:
    for text in HOSTILE:
        try:
            questions.search(book, text)
        except BookError as error:
            assert error.code == "search-words"
    assert questions.search(book, "DROP TABLE job").rows


def test_book_and_files(book: Book, tmp_path: Path) -> None:
    assert check_book(book).clean
    rows = export_book(book, tmp_path / "out")
    assert import_book(tmp_path / "out", tmp_path / "copy.sqlite") == rows
    with Book(tmp_path / "copy.sqlite") as copy:
        assert list_jobs(copy, most=100) == list_jobs(book, most=100)
    assert {p.parent.parent for p in book.photos.files()} == {book.photos.folder}
