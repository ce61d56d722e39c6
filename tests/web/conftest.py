"""One running page for the tests that only ask it."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest

from calibration.web.page import SAMPLES, paired, served
from contactread.web.serve import Running


@pytest.fixture(scope="session")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with served(tmp_path_factory.mktemp("shop") / "book.sqlite", SAMPLES / "ash_too_deep/axle.toml") as page:
        yield page


@pytest.fixture
def client(page: Running) -> Iterator[httpx.Client]:
    with paired(page) as client:
        yield client
