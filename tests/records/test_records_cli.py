"""The shop book's commands: what they print, their JSON, their exit codes."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from made_axle import AXLE

from contactread.cli.main import main
from contactread.records.book import Book
from contactread.records.sign_off import check_list


class Shell:
    """Runs commands against one book."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.book, self._capsys = folder / "book.sqlite", capsys

    def __call__(self, *words: str, code: int = 0) -> str:
        found = main([*words, "--book", str(self.book)])
        out, talk = self._capsys.readouterr()
        assert found == code, out + talk
        return out if code in (0, 3, 5) else talk

    def json(self, *words: str, code: int = 0) -> Any:
        found = main([*words, "--json", "--book", str(self.book)])
        out = self._capsys.readouterr().out
        assert found == code, out
        return json.loads(out)


@pytest.fixture
def shell(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Shell:
    (tmp_path / "axle.toml").write_text(AXLE, encoding="utf-8")
    return Shell(tmp_path, capsys)


def open_job(shell: Shell) -> None:
    shell("job", "open", "Unit 7", "--axle", str(shell.book.with_name("axle.toml")), "--who", "Ana")


RECORD = (
    "try", "record", "1", "--backlash", "6 thou", "--backlash", "0.16 mm", "--runout", "0.07 mm",
    "--pinion-torque", "22 in-lb", "--bearings", "new", "--manual-torque", "bearing caps: 100 N·m to 120 N·m",
    "--tightened", "bearing caps: 130 N·m",
)  # fmt: skip


def test_a_photo_that_is_missing_is_named_and_none_is_kept(shell: Shell, tmp_path: Path) -> None:
    open_job(shell)
    shell("try", "start", "1")
    (tmp_path / "empty.jpg").write_bytes(b"")
    told = shell("try", "photo", "1", str(tmp_path / "empty.jpg"), str(tmp_path / "lost.jpg"), code=1)
    assert "lost.jpg" in told and "[photo-missing]" in told
    assert shell.json("try", "record", "1", "--compound", "yellow")["attempt"]["photos"] == []


def test_the_sheet_of_an_open_job_names_the_next_command(shell: Shell) -> None:
    open_job(shell)
    assert "Next: contactread try start 1" in shell("job", "sheet", "1")
    assert "Next: contactread try photo 1" in shell("try", "start", "1")


def test_backlash_at_all_places_in_one_value(shell: Shell) -> None:
    open_job(shell)
    shell("try", "start", "1")
    recorded = shell.json("try", "record", "1", "--backlash", "0.15 0.18 0.17 mm", "--backlash", "7 thou")
    assert recorded["attempt"]["backlash_mm"] == pytest.approx([0.15, 0.18, 0.17, 0.1778])
    assert shell.json("try", "record", "1", "--backlash", "", code=2)["error"]["code"] == "length-number"


def test_from_opening_to_closing(shell: Shell) -> None:
    open_job(shell)
    first = shell.json("try", "start", "1", "--compound", "yellow", "--drag", "rag")
    assert first["schema"] == 1 and first["attempt"]["pinion_shim_mm"] == 1.0
    recorded = shell.json(*RECORD)
    assert recorded["attempt"]["backlash_mm"] == pytest.approx([0.1524, 0.16])
    verdicts = {m["name"]: (m["verdict"], m["missed_by"]) for m in recorded["sheet"]["measures"]}
    assert verdicts["Ring-gear runout"] == ("outside", pytest.approx(0.01))
    assert verdicts["bearing caps"] == ("outside", pytest.approx(10.0))
    sheet = shell("job", "sheet", "1")
    assert "OUTSIDE   Ring-gear runout: 0.07 mm (2.8 thou), 0.01 mm (0.4 thou) too much" in sheet
    assert "missing: No readable photo shows the drive side." in sheet
    refused = shell("job", "close", "1", "--who", "Ana", code=1)
    assert "not ready for its cover" in refused and "[record-half]" in refused
    confirmed = [word for code in check_list() for word in ("--confirm", code)]
    closed = shell.json("job", "close", "1", "--who", "Ana", "--despite", "a test", *confirmed)
    assert closed["job"]["sign_off"]["outcome"] == "done"
    assert "Unit 7" in shell("job", "list") and "signed off" in shell("job", "list")
    assert "[job-closed]" in shell("try", "start", "1", code=1)


def test_commands_on_a_missing_book_make_none(shell: Shell) -> None:
    for words in (
        ("job", "list"), ("job", "sheet", "1"), ("try", "start", "1"), ("check",), ("backup",),
        ("ask", "shims"), ("export", str(shell.book.with_name("out"))), ("report", "1"),
    ):  # fmt: skip
        assert "[book-missing]" in shell(*words, code=1)
    assert sorted(p.name for p in shell.book.parent.iterdir()) == ["axle.toml"]
    assert shell.json("check", code=1)["error"]["code"] == "book-missing"


def test_usage(shell: Shell) -> None:
    open_job(shell)
    assert "[usage]" in shell("try", "record", "1", "--tightened", "no colon", code=2)
    assert "[notches]" in shell("try", "start", "1", "--ring-notches", "half a turn", code=2)
    assert "[length-unit-missing]" in shell("try", "start", "1", "--pinion-shim", "1.0", code=2)


def test_refused_photo_is_kept_and_exit_code_says_so(shell: Shell, tmp_path: Path) -> None:
    open_job(shell)
    shell("try", "start", "1")
    (tmp_path / "empty.jpg").write_bytes(b"")
    (tmp_path / "words.jpg").write_bytes(b"these are only words")
    shown = shell("try", "photo", "1", str(tmp_path / "empty.jpg"), str(tmp_path / "words.jpg"), code=3)
    assert "empty.jpg: refused (photo-empty)" in shown and "words.jpg: refused (photo-" in shown
    rows = shell.json("ask", "refused")["rows"]
    assert {row["photo"] for row in rows} == {"empty.jpg", "words.jpg"}
    assert all(row["job"] == 1 and row["why"] for row in rows)


def test_review_summary(shell: Shell, tmp_path: Path) -> None:
    folder = tmp_path / "photos" / "crane 5"
    folder.mkdir(parents=True)
    (folder / "a.jpg").write_bytes(b"")
    command = ["review", str(folder.parent), "--who", "Ana", "--workers", "1"]
    assert "[review-axle-missing]" in shell(*command, code=1)
    command += ["--axle", str(shell.book.with_name("axle.toml"))]
    found = shell.json(*command, code=3)
    assert found["summary"]["counts"] == {"refused": 1}
    assert found["photos"][0]["path"] == "crane 5/a.jpg" and found["photos"][0]["job"] == 1
    assert "0 read, 0 refused, 1 known already" in shell(*command)
    assert "Taken back: review 1 with 2 entries, 1 to 2." in shell("undo", "--who", "Ana")
    assert shell.json("job", "list")["jobs"] == []
    assert "Taken back: undo 3 with 2 entries, 3 to 4." in shell("undo", "--who", "Ana", "--entry", "3")


def test_check_tells_and_exits_with_five(shell: Shell, tmp_path: Path) -> None:
    open_job(shell)
    shell("try", "start", "1")
    (tmp_path / "a.jpg").write_bytes(b"some words")
    shell("try", "photo", "1", str(tmp_path / "a.jpg"), code=3)
    assert "The shop book is sound." in shell("check")
    with Book(shell.book) as book:
        next(book.photos.files()).write_bytes(b"some Words")
    assert "altered photo: " in shell("check", code=5)
    assert shell.json("check", code=5)["clean"] is False


def test_export_import_backup_report(shell: Shell, tmp_path: Path) -> None:
    open_job(shell)
    out, second = tmp_path / "out", tmp_path / "second.sqlite"
    assert shell.json("export", str(out))["rows"]["job"] == 1
    assert "[export-exists]" in shell("export", str(out), code=1)
    assert Path(shell.json("backup")["backup"]).is_file()
    shell.book = second
    assert shell.json("import", str(out))["rows"]["job"] == 1
    merged = shell("import", str(out), "--who", "Ben")
    assert "the same: 1 job, 0 tries" in merged and "The log of the other book stays in" in merged
    page = tmp_path / "r.html"
    shell("report", "1", "-o", str(page))
    assert "Unit 7" in page.read_text(encoding="utf-8")
    assert "[file-exists]" in shell("report", "1", "-o", str(page), code=1)


def test_tables_csv_and_charts(shell: Shell, tmp_path: Path) -> None:
    open_job(shell)
    shell("try", "start", "1")
    assert "pinion shim," in shell("ask", "walk", "1")
    assert shell("ask", "walk", "1", "--csv").startswith("try,made_at,person,pinion_shim_mm,")
    for number, words in enumerate((("walk", "1"), ("tries",), ("shims",))):
        chart = tmp_path / f"{number}.svg"
        shell("ask", *words, "--svg", str(chart))
        assert chart.read_text(encoding="utf-8").startswith("<svg ")
    assert shell.json("ask", "search", "unit")["rows"][0]["job"] == 1
    shell("try", "record", "1", "--clear", "pinion-shim")
    shell("ask", "walk", "1", "--svg", str(tmp_path / "bare.svg"))
    assert "Try 1: pinion shim not known" in (tmp_path / "bare.svg").read_text(encoding="utf-8")


def test_slips_are_put_right_by_commands(shell: Shell, tmp_path: Path) -> None:
    open_job(shell)
    shell("try", "start")  # the one open job
    assert "[record-doubt]" in shell("try", "record", "--pinion-shim", "34 mm", code=1)
    shell("try", "record", "--pinion-shim", "34 mm", "--sure")
    shell("try", "record", "--pinion-shim", "0.034 in", "--sure", "--reason", "mm for in")
    sheet = shell("job", "sheet")
    assert "34.000 mm (1.3386 in) became 0.864 mm (0.0340 in), by Ana" in sheet and "mm for in" in sheet
    assert "Taken back: entry 4" in shell("undo", "--who", "Ana")
    assert shell.json("job", "sheet")["attempt"]["pinion_shim_mm"] == 34.0
    shell("job", "correct", "--vehicle", "Unit 8", "--customer", "Invented Farm", "--axle",
          str(shell.book.with_name("axle.toml")))  # fmt: skip
    sheet = shell("job", "sheet")
    assert "Job 1: Unit 8" in sheet and "Customer: Invented Farm" in sheet
    assert "vehicle: Unit 7 became Unit 8" in sheet
    shell("job", "open", "Unit 9", "--axle", str(shell.book.with_name("axle.toml")), "--who", "Ben")
    assert "[job-which]" in shell("job", "sheet", code=1)
    (tmp_path / "empty.jpg").write_bytes(b"")
    shell("try", "photo", "1", str(tmp_path / "empty.jpg"), code=3)
    shell("try", "start", "2")
    shell("photo", "move", "1", "2", "--who", "Ben")
    assert "photo 1: empty.jpg: refused" in shell("job", "sheet", "2")
    assert "STRUCK OUT, blurred" in shell("photo", "strike", "1", "--who", "Ben", "--reason", "blurred")
    shell("try", "move", "2", "1", "1")
    shell("job", "merge", "2", "1", "--reason", "one axle")
    assert "STRUCK OUT: merged into job 1" in shell("job", "sheet", "2")
    shell("try", "strike", "1", "2", "--reason", "another axle")
    assert "STRUCK OUT, another axle" in shell("job", "sheet", "1")
    told = shell("log")
    assert "try 2 of job 1 struck out" in told and all(len(line) <= 80 for line in told.splitlines())
    confirmed = [word for code in check_list() for word in ("--confirm", code)]
    shell("job", "close", "--who", "Ana", "--despite", "a test", *confirmed)
    assert "[record-half]" in shell("job", "reopen", "1", code=1)
    shell("job", "reopen", "1", "--reason", "came back", "--who", "Ben")
    assert "Reopened by Ben" in shell("job", "sheet", "1")
    assert "The shop book is sound." in shell("check")


@pytest.mark.parametrize(
    "slip",
    [
        ("start", "--pinion-shim", "0.86 cm"),
        ("start", "--pinion-shim", "1 mm", "--ring-shim", "0.62CM", "--opposite-shim", "7 mm"),
        ("record", "--backlash", "0.02 cm"),
        ("record", "--backlash", "1.8 mm", "--sure"),  # with which no advice could be had
        ("record", "--runout", "0.004 cm"),
        ("record", "--side-preload", "0.02 cm"),
    ],
)
def test_centimetres_and_what_cannot_be_never_reach_the_book(shell: Shell, slip: tuple[str, ...]) -> None:
    open_job(shell)
    shell("try", "start")
    entries = shell.json("log")["entries"]
    assert "-impossible]" in shell("try", *slip, code=2)
    assert shell.json("log")["entries"] == entries


def test_settings_spare_typing(shell: Shell) -> None:
    assert main(["settings", "person", "Dora"]) == main(["settings", "units", "mm"]) == 0
    assert main(["settings", "axle", str(shell.book.with_name("axle.toml"))]) == 0
    shell("job", "open", "Unit 7")
    shown = shell("try", "start")
    assert "Try 1 by Dora" in shown and "pinion shim 1.000 mm;" in shown and " in)" not in shown
    assert "try started in job 1" in shell("undo")
    assert shell.json("log")["entries"][0]["undoes"] == 2


def test_no_number_breaks_a_command(shell: Shell) -> None:
    open_job(shell)
    big = "99999999999999999999"
    for words in (("job", "sheet", big), ("undo", "--entry", big), ("photo", "move", big, "1", "--who", "A")):
        assert "[record-value]" in shell(*words, code=1)


class Terminal(io.StringIO):
    """What a person types."""

    def isatty(self) -> bool:
        return True


def test_the_check_list_is_ticked_off_at_the_terminal(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    open_job(shell)
    shell("try", "start")
    lines = len(check_list())
    monkeypatch.setattr("sys.stdin", Terminal("a test\n" + "y\n" * (lines - 1) + "n\n"))
    shell("job", "close", code=130)  # one line isn't confirmed
    assert shell.json("job", "sheet")["job"]["sign_off"] is None
    monkeypatch.setattr("sys.stdin", Terminal("\n"))
    shell("job", "close", code=130)  # no reason for what is open
    monkeypatch.setattr("sys.stdin", Terminal("a test\n" + "y\n" * lines + "Dora\n"))
    assert "Signed off by Dora" in shell("job", "close")
    closed = shell.json("job", "sheet", "1")["job"]["sign_off"]
    assert closed["reason"] == "a test" and closed["confirmed"] == check_list()


def test_an_odd_value_is_asked_about_at_the_terminal(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    open_job(shell)
    monkeypatch.setattr("sys.stdin", Terminal("n\n"))
    assert "[record-doubt]" in shell("try", "start", "--pinion-shim", "34 mm", code=1)
    monkeypatch.setattr("sys.stdin", Terminal("y\n"))
    told = shell.json("try", "start", "--pinion-shim", "34 mm", code=1)  # a program is never asked
    assert told["error"]["code"] == "record-doubt"
    assert "34.000 mm" in shell("try", "start", "--pinion-shim", "34 mm")


def test_a_book_moved_without_its_photos_says_which_folder_is_missing(shell: Shell, tmp_path: Path) -> None:
    shell("job", "open", "Unit 7", "--axle", str(shell.book.with_name("axle.toml")), "--who", "Ana")
    shell("try", "start")
    (tmp_path / "empty.jpg").write_bytes(b"")
    shell("try", "photo", "1", str(tmp_path / "empty.jpg"), code=3)
    with Book(shell.book) as book:
        folder = book.photos.folder
    folder.rename(tmp_path / "elsewhere")
    told = shell("check", code=5)
    assert f"{folder}, isn't there: put it back beside the book" in " ".join(told.split())


def test_a_manifest_whose_values_look_like_slips_is_taken_where_they_are_right(
    shell: Shell, tmp_path: Path
) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").write_bytes(b"")
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("photo,job,try,pinion_shim\na.jpg,Crane 5,1,0.06 mm\n", encoding="utf-8")
    command = ["review", str(tmp_path / "photos"), "--manifest", str(sheet), "--who", "Ana", "--workers", "1"]
    command += ["--axle", str(shell.book.with_name("axle.toml"))]
    open_job(shell)
    refused = shell(*command, code=1)
    assert "[record-doubt]" in refused and "--sure" in refused
    assert shell.json(*command, "--sure", code=3)["photos"][0]["job"] == 2
