"""A job whose axle file, kept by an older version, has limits that are refused today: all doors open."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from made_axle import AXLE

sys.path.insert(0, str(Path(__file__).parents[1] / "show"))
from report_shop import made_reading

from contactread.cli.main import main
from contactread.errors import AdviceError, AxleFileError
from contactread.records.advising import advise_try
from contactread.records.book import Book
from contactread.records.given_advice import WENT_BY, is_outgrown
from contactread.records.jobs import find_job, keep_axle, open_job
from contactread.records.photos import keep_advice, keep_photo
from contactread.records.review import ReadTask, read_photo
from contactread.records.tries import record, start_try, tries_of

OLD = {
    "no room": '["0.18 mm", "0.18 mm"]',
    "too wide": '["0.13 mm", "2.3 mm"]',
    "binding": '["0 mm", "0.20 mm"]',
}


def older_book(place: Path, limits: str) -> Book:
    """A book with a rolled try, its advice and, as an older version let it, an axle file with such limits."""
    book = Book(place, write=True)
    open_job(book, vehicle="Unit 7", axle_text=AXLE, who="Ana")
    made = start_try(book, 1)
    record(book, 1, backlash_mm=[0.16, 0.17, 0.16, 0.17])
    for flank, role in (("convex", "drive"), ("concave", "coast")):
        found = made_reading(flank, role, (0.5, 0.78))  # type: ignore[arg-type]
        keep_photo(book, f"{role}".encode(), name="a.jpg", who="Ana", try_id=made.id, reading=found)
    given = {"headline": "Pinion shim thicker", "moves": [], WENT_BY: "0" * 16}
    keep_advice(book, made.id, verdict="move", pinion_shim_change_mm=0.1, ring_move_mm=0.0, advice=given,
                words="", who="Ana")  # fmt: skip
    with book.writing("axle file of an older version", who="Ana", job_id=1):
        text = AXLE.replace('["0.13 mm", "0.20 mm"]', limits)
        book.update("job", {"id": 1}, {"axle_id": keep_axle(book, text, "Fernhill 21")})
    return book


@pytest.mark.parametrize("limits", OLD.values(), ids=OLD)
def test_limits_an_older_version_took_are_named_and_nothing_is_judged_by_them(
    tmp_path: Path, limits: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with older_book(tmp_path / "book.sqlite", limits) as book:
        with pytest.raises(AdviceError, match=r"limits\.backlash \(line") as told:
            advise_try(book, 1)
        assert told.value.code == "limits-unusable" and "job correct" in told.value.next_step
        job, tries = find_job(book, 1), tries_of(book, 1)
        assert is_outgrown(job, tries, tries[-1])
    assert main(["job", "sheet", "1", "--book", str(tmp_path / "book.sqlite")]) == 0
    sheet = capsys.readouterr().out
    assert "limits.backlash (line" in sheet and "(limits-unusable)" in sheet
    assert "Next: contactread job correct 1 --axle FILE" in sheet
    assert "has no limit for backlash" not in sheet and "limit: none to judge by" in sheet


def test_a_job_with_such_limits_goes_through_every_door(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place, axle = tmp_path / "book.sqlite", tmp_path / "axle.toml"
    axle.write_text(AXLE, encoding="utf-8")
    older_book(place, OLD["no room"]).close()
    with Book(tmp_path / "other.sqlite", write=True) as other:
        open_job(other, vehicle="Unit 8", axle_text=AXLE, who="Ben")

    def run(*words: str, code: int = 0, book: Path = place) -> str:
        assert main([*words, "--book", str(book)]) == code, (words, capsys.readouterr())
        shown = capsys.readouterr()
        return shown.out + shown.err

    run("job", "list")
    run("job", "list", "--json")
    assert "limits-unusable" in json.loads(run("job", "sheet", "1", "--json"))["sheet"]["missing"][0]
    run("ask", "search", "Unit")
    run("ask", "walk", "1")
    for question in ("jobs", "tries", "shims", "refused", "runout"):
        run("ask", question)
    assert "limits-unusable" in run("try", "advise", "1", code=1)
    assert "limits that can't be" in run("try", "advice", "1")
    run("report", "1", "-o", str(tmp_path / "report.html"))
    assert "limits-unusable" in (tmp_path / "report.html").read_text(encoding="utf-8")
    run("check")
    run("backup")
    run("log")
    run("export", str(tmp_path / "exported"))
    run("restore", str(tmp_path / "exported"), book=tmp_path / "restored.sqlite")
    assert "limits-unusable" in run("job", "sheet", "1", book=tmp_path / "restored.sqlite")
    run("import", str(tmp_path / "exported"), "--who", "Ben", book=tmp_path / "other.sqlite")
    assert "limits-unusable" in run("job", "sheet", "2", book=tmp_path / "other.sqlite")
    run("try", "record", "1", "--runout", "0.03 mm")
    run("try", "start", "1", "--who", "Ana")
    run("undo", "--who", "Ana")
    assert "limits" not in run("job", "correct", "1", "--axle", str(axle)).split("Corrected:")[0]
    run("try", "advise", "1")


def test_a_photo_of_such_a_job_is_still_read(tmp_path: Path) -> None:
    with older_book(tmp_path / "book.sqlite", OLD["too wide"]) as book:
        text = find_job(book, 1).axle_text
    read = read_photo(ReadTask(Path("a.jpg"), b"no photo", None, None, text))
    assert read["status"] == "refused"


def test_a_new_job_or_file_with_such_limits_is_still_refused(tmp_path: Path) -> None:
    text = AXLE.replace('["0.13 mm", "0.20 mm"]', OLD["binding"])
    with Book(tmp_path / "book.sqlite", write=True) as book, pytest.raises(AxleFileError):
        open_job(book, vehicle="Unit 7", axle_text=text, who="Ana")


def test_a_signed_job_says_that_its_limits_can_t_be(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    older_book(tmp_path / "book.sqlite", OLD["binding"]).close()
    words = [
        "job",
        "close",
        "1",
        "--stopped",
        "sold",
        "--who",
        "Ana",
        "--book",
        str(tmp_path / "book.sqlite"),
    ]
    assert main(words) == 0
    assert "(limits-unusable)" in capsys.readouterr().out
