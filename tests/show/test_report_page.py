"""The one-page report: what it says, how it is laid out, what it keeps to itself."""

from __future__ import annotations

import base64
import html
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from report_browser import laid_out, needs_chromium
from report_shop import SECRET, finished_job, made_book

from contactread.records.advising import advise_try
from contactread.records.book import Book
from contactread.records.jobs import open_job
from contactread.records.photos import keep_photo
from contactread.records.review import ReadTask, read_photo
from contactread.records.sign_off import reopen
from contactread.records.slips import strike_try
from contactread.records.tries import record, start_try
from contactread.show.report_page import report_html, report_page


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with made_book(tmp_path) as opened:
        yield opened


@pytest.fixture
def page(book: Book) -> str:
    return report_html(report_page(book, finished_job(book)))


def words_of(page: str) -> str:
    text = re.sub(r"<style>.*?</style>|<[^>]+>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(text).split())


def test_it_says_what_a_customer_asks(page: str) -> None:
    words = words_of(page)
    for wanted in (
        "Job 1: Loader 7, north pit", "Signed off by Ana", "Runout agreed with the owner.",
        "Left open: Ring-gear runout is outside its limit by 0.01 mm (0.4 thou).",
        "Fernhill 21, 41:11, 3.73 to 1",
        "OUTSIDE, 0.01 mm (0.4 thou) too much", "0.15 to 0.17 mm (5.9 to 6.7 thou)",
        "pinion shim 1.080 mm (0.0425 in)", "does not certify an axle", "Drive side, convex flank",
        "All marking compound is washed off the gears.", "One person turns the gears.",
    ):  # fmt: skip
        assert wanted in words, wanted


def test_nothing_is_asked_from_outside_and_nothing_of_exif_comes_through(page: str) -> None:
    tags = HTMLParser()
    addresses: list[str] = []
    tags.handle_starttag = lambda tag, attrs: addresses.extend(  # type: ignore[method-assign]
        value or "" for name, value in attrs if name in ("src", "href", "srcset", "action", "data")
    )
    tags.feed(page)
    assert len(addresses) == 2 and all(a.startswith("data:image/jpeg;base64,") for a in addresses)
    for address in addresses:
        picture = base64.b64decode(address.partition(",")[2])
        assert SECRET not in picture and b"Exif" not in picture
    assert "<script" not in page and "@import" not in page
    assert page.count("url(") == page.count("url(data:font/ttf;base64,") == 2
    assert "default-src &#39;none&#39;" in page or "default-src 'none'" in page


def test_a_lost_photo_is_told_and_the_rest_is_shown(book: Book) -> None:
    job = finished_job(book)
    for file in list(book.photos.files()):
        file.write_bytes(b"altered")
    words = words_of(report_html(report_page(book, job)))
    assert "The stored photo can't be shown" in words and "Drive pattern (convex flank)" in words


def test_an_empty_job_has_a_report_too(book: Book) -> None:
    job = finished_job(book)
    from contactread.records.jobs import find_job, open_job

    second = open_job(book, vehicle="Unit 2", axle_text=find_job(book, job).axle_text, who="Ana")
    assert "Open: not ready for its cover" in words_of(report_html(report_page(book, second.id)))


@needs_chromium
@pytest.mark.parametrize("width", [794, 390], ids=["A4", "phone"])
def test_layout_has_no_overflow_no_clipped_text_and_contrast(page: str, width: int, tmp_path: Path) -> None:
    found = laid_out(page, width, tmp_path)
    assert found["bad"] == []
    assert found["texts"] > 80 and found["pictures"] == 2 and found["lowest"] >= 4.5
    assert found["asked"] == []


SAMPLES = Path(__file__).parents[2] / "sample_images"


def sample_set_ups() -> list[Path]:
    return sorted(
        p.parent for p in SAMPLES.glob("*/axle.toml") if (p.parent / "coast_corners.json").is_file()
    )


@needs_chromium
@pytest.mark.skipif(not sample_set_ups(), reason="there are no sample pictures yet")
def test_layout_of_a_sample_set_up(book: Book, tmp_path: Path) -> None:
    """The way of the README's demo: an axle file and two photos of our invented shop."""
    folder = sample_set_ups()[0]
    axle_text = (folder / "axle.toml").read_text(encoding="utf-8")
    job = open_job(book, vehicle="Invented unit", axle_text=axle_text, who="Ana")
    attempt = start_try(book, job.id, pinion_shim_mm=1.0)
    record(book, job.id, backlash_mm=[0.15, 0.16, 0.17, 0.16])
    for side in ("drive", "coast"):
        photo = folder / f"{side}.jpg"
        task = ReadTask(photo, corners=folder / f"{side}_corners.json", axle_text=axle_text)
        data = photo.read_bytes()
        keep_photo(book, data, name=photo.name, who="Ana", try_id=attempt.id, reading=read_photo(task))
    advise_try(book, job.id)
    page = report_html(report_page(book, job.id))
    for width in (794, 390):
        found = laid_out(page, width, tmp_path)
        assert found["bad"] == [] and found["pictures"] == 2


@needs_chromium
def test_the_layout_test_can_fail(page: str, tmp_path: Path) -> None:
    worse = page.replace("</h1>", "</h1><p style='width:3000px;color:#999'>wide and pale</p>", 1)
    worse += "<p style='width:40px;overflow:hidden;white-space:nowrap'>words that are cut off</p>"
    found = " ".join(laid_out(worse, 794, tmp_path)["bad"])
    assert "page is" in found and "contrast" in found and "clipped" in found


@needs_chromium
def test_long_words_stay_on_the_page(book: Book, tmp_path: Path) -> None:
    fields = ("vehicle", "gear_set", "who", "compound", "fastener", "photo", "axle")
    long = dict.fromkeys(fields, "W" * 290)
    page = report_html(report_page(book, finished_job(book, long | {"notes": "W" * 2000})))
    assert laid_out(page, 390, tmp_path)["bad"] == []


def test_it_tells_what_was_left_open_done_struck_and_corrected_since(book: Book) -> None:
    job = finished_job(book)
    found = report_page(book, job, "Invented Axles, Mill Lane 1")
    assert found.state == "open" and ("Shop", "Invented Axles, Mill Lane 1") in found.about
    assert "pinion shim +0.080 mm" in found.tries[0].done and found.tries[-1].done == "signed off"
    reopen(book, job, who="Ben", reason="came back")
    record(book, job, who="Ben", ring_runout_mm=0.05)
    strike_try(book, job, 1, who="Ben", reason="another axle")
    again = report_page(book, job)
    assert again.tries[0].struck == "another axle" and "Reopened by Ben" in again.corrected[0]
    assert any("ring runout: 0.07 mm (2.8 thou) became 0.05 mm" in words for words in again.corrected)
    written = words_of(report_html(again))
    assert "Corrected after sign-off" in written and "Signature" in written
