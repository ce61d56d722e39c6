"""What is made of the readings of a command: both sides, each sure enough, or what is lacking."""

from __future__ import annotations

import gc
import weakref
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from made_reading import made_reading

from contactread.cli import reading_job
from contactread.cli.output import page_bytes, write_new
from contactread.cli.reading_job import Result, advice_for, sides_of, why_none
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
    code, answer = why_none(sides) or ("", ())
    assert code == "reading-unsure" and answer[0] == f"Take it again: {told}."


def test_a_copy_of_a_photo_is_named_and_counts_once() -> None:
    one = Result(Path("a.jpg"), made_reading(flank="convex"), None)
    sides = sides_of([one, replace(one, path=Path("b.jpg"), reading=made_reading(flank="convex"))])
    assert [code for r in sides.results if r.reading for code in r.reading.flags].count("same-picture") == 1
    assert sides.views["drive"].reading.confidence == pytest.approx(0.9)


def test_a_page_is_printed_where_its_name_says_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(printing, "page_as_pdf", lambda page: b"printed " + page.encode())
    assert page_bytes("page", Path("A.PDF")) == b"printed page"
    assert page_bytes("page", Path("a.html")) == b"page"


class Pixels:
    """In a photo's place: something that can be watched."""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_file_that_a_full_disk_cuts_off_is_not_left_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = Path.open

    def full(path: Path, mode: str) -> Any:
        plain(path, mode).close()
        return plain(Path("/dev/full"), "wb")

    monkeypatch.setattr(Path, "open", full)
    with pytest.raises(OSError, match="No space left"):
        write_new(tmp_path / "report.html", b"x" * 100_000)
    assert not list(tmp_path.iterdir())


def test_few_photos_are_held_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    held: list[weakref.ref[Pixels]] = []

    def read_each(path: Path, *_: Any) -> list[Result]:
        pixels: Any = Pixels()
        held.append(weakref.ref(pixels))
        return [Result(path, None, None, photo=pixels)]

    monkeypatch.setattr(reading_job, "read_each", read_each)
    paths = [Path(f"{number}.jpg") for number in range(30)]
    for path, results in zip(paths, reading_job.read_all(paths, {}, [None] * 30, None), strict=True):
        assert [result.path for result in results] == [path]
        del results
        gc.collect()
        assert sum(each() is not None for each in held) <= reading_job.MOST_AHEAD + 1
    assert len(held) == 30
