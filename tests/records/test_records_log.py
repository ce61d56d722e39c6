"""The log's chain, and the doubts that come before it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from made_axle import AXLE

from contactread.records.book import Book
from contactread.records.doubts import value_doubts
from contactread.records.nouns import Job


def test_an_entry_tells_by_its_digest_what_came_before_it(tmp_path: Path) -> None:
    digests = []
    for name in ("one", "two"):
        with Book(
            tmp_path / f"{name}.sqlite", write=True, clock=lambda: datetime(2026, 3, 31, tzinfo=UTC)
        ) as book:
            for what in (name, "the same"):
                with book.writing(what, who="Ana"):
                    book.insert("axle", {"sha256": f"{what:0>64}", "text": what, "kind": "a"})
            digests.append([row["digest"] for row in book.rows("SELECT digest FROM entry ORDER BY id")])
    assert digests[0][0] != digests[1][0] and digests[0][1] != digests[1][1]


@pytest.mark.parametrize(
    "before, now, doubtful",
    [
        (2.0, 3.0, False),
        (0.1, 0.4, False),
        (0.0, 0.2, False),
        (0.3, 1.2, True),
        (1.2, 0.3, True),
        (0.711, 0.028, True),
        (0.3, 0.012, True),
        (0.864, 0.0762, True),
        (0.864, 0.0864, True),
        (None, 0.5, False),
        (None, 0.034, True),
        (None, 34.0, True),
    ],
)
def test_a_shim_is_doubted_where_it_leaps_both_in_size_and_in_ratio(
    new_job: Callable[..., Job], before: float | None, now: float, doubtful: bool
) -> None:
    doubts = value_doubts(new_job(), {"pinion_shim_mm": before}, {"pinion_shim_mm": now})
    assert bool(doubts) == doubtful


def test_a_pack_that_the_axle_file_has_in_inches_is_asked_about_at_the_first_try(
    new_job: Callable[..., Job],
) -> None:
    slip = new_job(axle_text=AXLE.replace('thickness = "1.00 mm"', 'thickness = "0.864 in"'))
    (told,) = value_doubts(slip, None, {"pinion_shim_mm": slip.axle.pinion_shim.thickness_mm})
    assert "pinion shim 21.946 mm" in told
    assert not value_doubts(new_job(), None, {"pinion_shim_mm": 1.0})
