"""A patch marked with a finger on the practice page, in a browser with a phone's screen and touch."""

from __future__ import annotations

import re
from typing import Any

import pytest
from phone_browser import Phone, needs_phone

from calibration.web.page import base_of
from contactread.practice.catalog import Catalog
from contactread.records.book import Book
from contactread.web import tasks
from contactread.web.serve import Running

pytestmark = needs_phone


@pytest.fixture
def pad(hand: Phone, fresh: Running, monkeypatch: pytest.MonkeyPatch) -> Phone:
    """The page that asks for a patch on a photograph; the course comes to that only after many answers."""
    run = fresh.site.workers.run

    async def asked(task: str, *arguments: Any, **named: Any) -> Any:
        if task != "question":
            return await run(task, *arguments, **named)
        with Book(fresh.site.shop.path) as book:
            catalog = Catalog(book)
            return tasks._asked(catalog.question(catalog.stored("photo")[0]))

    monkeypatch.setattr(fresh.site.workers, "run", asked)
    hand.open(base_of(fresh) + "/practice")
    hand.find("#pad")
    return hand


def place(phone: Phone) -> tuple[float, float, float, float]:
    """Where the pad is on the screen: left, top, width, height."""
    x, y, width, height = phone.js(
        "const b = document.getElementById('pad').getBoundingClientRect();"
        "return [b.x, b.y, b.width, b.height]"
    )
    return x, y, width, height


def tap(phone: Phone, along: float, up: float) -> str:
    """Touch the pad at shares of length and height; what the page then asks for."""
    x, y, width, height = place(phone)
    phone.touch([(x + along * width, y + (1 - up) * height)])
    return str(phone.js("return document.getElementById('pad-says').textContent"))


def given(phone: Phone) -> list[int]:
    """The numbers in the field."""
    return [
        int(number)
        for number in re.findall(r"\d+", phone.js("return document.getElementById('given').value"))
    ]


def test_a_patch_is_marked_with_a_finger(pad: Phone, fresh: Running) -> None:
    pad.js("document.getElementById('pad').scrollIntoView({block: 'center'})")
    before = place(pad)
    assert before[3] >= 100  # a finger covers 44
    assert "begins" in tap(pad, 0.55, 0.5)
    assert "ends" in tap(pad, 0.3, 0.2)
    assert given(pad) == []  # not before all three are there
    assert "ends" in tap(pad, 0.2, 0.6)  # an end before its beginning is none
    assert "anew" in tap(pad, 0.8, 0.9)
    assert given(pad) == pytest.approx([30, 80, 20, 90, 55, 50], abs=1)
    assert place(pad) == before  # it doesn't move under the finger
    assert pad.js("return getComputedStyle(document.querySelector('#pad .box')).visibility") == "visible"
    pad.shot("pad")
    tap(pad, 0.5, 0.5)  # once more from the beginning
    assert pad.js("return getComputedStyle(document.querySelector('#pad .box')).visibility") == "hidden"
    tap(pad, 0.25, 0.1)
    tap(pad, 0.75, 0.95)
    answer = given(pad)
    assert answer == pytest.approx([25, 75, 10, 95, 50, 50], abs=1)
    pad.tap("button.answer")
    pad.find(".verdict h2")
    assert "You answered" in pad.text() and f"{answer[0]}" in pad.text()
    with Book(fresh.site.shop.path) as book:
        assert book.value("SELECT count(*) FROM practice_answer") == 1
    assert pad.complaints() == []
