"""Fixtures of the shop book's tests."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from made_axle import AXLE
from records_shop import Ticking

from contactread.records.book import Book
from contactread.records.jobs import open_job
from contactread.records.nouns import Job


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "shop" / "book.sqlite"


@pytest.fixture
def book(place: Path) -> Iterator[Book]:
    with Book(place, write=True, clock=Ticking()) as opened:
        yield opened


@pytest.fixture
def new_job(book: Book) -> Callable[..., Job]:
    def make(**more: Any) -> Job:
        return open_job(book, **({"vehicle": "Unit 7", "axle_text": AXLE, "who": "Ana"} | more))

    return make


@pytest.fixture
def job(new_job: Callable[..., Job]) -> Job:
    return new_job()
