"""The report printed: one sheet, one layout, on any machine; and what is said where nothing can print it."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from report_browser import NO_SANDBOX, needs_chromium, only_fonts, sheets, unpacked
from report_shop import SECRET, finished_job, made_book

from contactread.errors import ContactreadError
from contactread.show import printing
from contactread.show.report_page import ReportPage, report_html, report_page
from contactread.show.typeface import FAMILY, font_file

DEJAVU = Path("/usr/share/fonts/truetype/dejavu")


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ReportPage]:
    with made_book(tmp_path_factory.mktemp("printing")) as book:
        yield report_page(book, finished_job(book))


def no_browser(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(printing, "browsers", lambda: [])


def no_weasyprint(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)


@needs_chromium
@pytest.mark.parametrize("fonts", ["the system's", "DejaVu", "none"])
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_browser_prints_one_sheet_whatever_fonts_are_there(
    report: ReportPage, paper: str, fonts: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if fonts == "DejaVu" and not DEJAVU.is_dir():
        pytest.skip("DejaVu isn't installed (Debian: fonts-dejavu-core)")
    if fonts != "the system's":
        settings = only_fonts(tmp_path, DEJAVU if fonts == "DejaVu" else None)
        monkeypatch.setenv("FONTCONFIG_FILE", str(settings))
    monkeypatch.setattr(printing, "FLAGS", (*printing.FLAGS, NO_SANDBOX))
    no_weasyprint(monkeypatch)
    data = printing.page_as_pdf(report_html(report, paper))
    assert sheets(data) == 1
    assert SECRET not in data and FAMILY.replace(" ", "").encode() in data


def test_weasyprint_lays_out_the_same_page_on_one_sheet(
    report: ReportPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError) as error:
        pytest.skip(f"WeasyPrint (extra 'pdf') can't be loaded: {error}")
    try:
        tempfile.gettempdir().encode()
    except UnicodeEncodeError:
        pytest.skip("WeasyPrint takes no temporary folder whose name isn't text")
    no_browser(monkeypatch)
    data = printing.page_as_pdf(report_html(report, "A4"))
    assert data.startswith(b"%PDF-") and sheets(data) == 1
    assert data.count(b"/Subtype /Image") == 2
    assert SECRET not in data and FAMILY.replace(" ", "-").encode() in unpacked(data)


def test_without_browser_and_extra_it_says_how_to_print(
    report: ReportPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    no_browser(monkeypatch)
    no_weasyprint(monkeypatch)
    with pytest.raises(ContactreadError) as told:
        printing.page_as_pdf(report_html(report, "A4"))
    assert told.value.code == "pdf-no-printer"
    assert "open it in any browser" in told.value.next_step and "contactread[pdf]" in told.value.next_step


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in for a browser is a shell script")
@pytest.mark.parametrize(
    ("deeds", "word"),
    [
        ("sleep 300 & sleep 300", "not ready after"),
        ("exit 7", "ended with 7"),
        ("exit 0", "No such file"),
        ("for word; do case $word in --print-to-pdf=*) echo no > ${word#*=};; esac; done", "no PDF"),
    ],
    ids=["hangs", "fails", "writes nothing", "writes something else"],
)
def test_a_browser_that_cannot_print_is_told(
    deeds: str, word: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = tmp_path / "broken-browser"
    broken.write_text(f"#!/bin/sh\n{deeds}\n", "utf-8")
    broken.chmod(0o755)
    monkeypatch.setattr(printing, "browsers", lambda: [broken])
    monkeypatch.setattr(printing, "TIME_LIMIT_S", 0.5)
    no_weasyprint(monkeypatch)
    started = time.monotonic()
    with pytest.raises(ContactreadError, match=f"broken-browser can't print it .*{word}") as told:
        printing.page_as_pdf("<p>page</p>")
    assert told.value.code == "pdf-no-printer" and time.monotonic() - started < 20


def test_the_typeface_has_every_sign_of_our_own_words() -> None:
    """A letter that it lacks would come from the system, or not at all."""
    from PIL import ImageFont

    for bold in (False, True):
        font = ImageFont.truetype(str(font_file(bold)), 40)
        missing = bytes(font.getmask("\uffff"))
        lacking = [c for c in map(chr, (*range(33, 127), *map(ord, "äéñøßŁč·–—…’“”°±×≤≥→µΩЖя"))) if
                   bytes(font.getmask(c)) == missing]  # fmt: skip
        assert lacking == []
        assert font_file(bold).stat().st_size < 60_000
    assert "SIL Open Font License" in (font_file(False).parent / "OFL.txt").read_text("utf-8")
