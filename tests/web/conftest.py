"""One running page and one browser for all tests here; each test that writes gets a book of its own."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from phone_browser import Phone, phone_browser

from calibration.web.page import SAMPLES, base_of, paired, served
from contactread.records.book import Book
from contactread.web.serve import Running
from contactread.web.shop import Shop


@pytest.fixture(scope="session")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A running page, whose usual axle is that of the first sample."""
    with served(
        tmp_path_factory.mktemp("shop") / "book.sqlite", SAMPLES / "ash_too_shallow/axle.toml"
    ) as page:
        yield page


@pytest.fixture
def client(page: Running) -> Iterator[httpx.Client]:
    with paired(page) as client:
        yield client


@pytest.fixture
def fresh(page: Running, tmp_path: Path) -> Iterator[Running]:
    """The running page with an empty book: nothing of it but the book's place is kept between requests."""
    before = page.site.shop
    page.site.shop = Shop(tmp_path / "book.sqlite")
    with Book(page.site.shop.path, write=True):
        pass
    yield page
    page.site.shop = before


@pytest.fixture
def own(fresh: Running) -> Iterator[Running]:
    """As `fresh`, without a usual axle."""
    axle, fresh.site.axle_text = fresh.site.axle_text, None
    yield fresh
    fresh.site.axle_text = axle


@pytest.fixture(scope="session")
def browser() -> Iterator[Phone]:
    shots = os.environ.get("CONTACTREAD_SHOTS")
    with phone_browser(Path(shots) if shots else None) as phone:
        yield phone


@pytest.fixture
def hand(browser: Phone, fresh: Running) -> Phone:
    """A phone that was just paired, on the first page."""
    browser.begin(base_of(fresh))
    browser.open(fresh.new_address())
    browser.tap("button.answer")
    browser.find("#gallery")
    browser.taps = 0
    return browser
