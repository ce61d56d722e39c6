"""What is made of the readings of a command: both sides, each sure enough, or what is lacking."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from made_reading import made_reading

from contactread.cli.output import page_bytes
from contactread.cli.reading_job import Result, advice_for, lacking, sides_of
from contactread.show import printing


@pytest.mark.parametrize(
    "drive, coast, told", [(0.9, 0.5, "coast (50% sure)"), (0.5, 0.9, "drive (50% sure)")]
)
def test_one_side_that_is_not_sure_is_enough_for_no_advice(drive: float, coast: float, told: str) -> None:
    sides = sides_of([
        Result(Path("a.jpg"), replace(made_reading(flank="convex"), confidence=drive), None),
        Result(Path("b.jpg"), replace(made_reading(flank="concave"), confidence=coast), None),
    ])  # fmt: skip
    assert advice_for(sides, None, ()) is None
    assert lacking(sides)[0] == f"Take it again: {told}."


def test_a_page_is_printed_where_its_name_says_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(printing, "page_as_pdf", lambda page: b"printed " + page.encode())
    assert page_bytes("page", Path("A.PDF")) == b"printed page"
    assert page_bytes("page", Path("a.html")) == b"page"
