"""Three long walks: a mechanic's, a foreman's and an instructor's, each from the first command to the last;
and the day the disk died. Every answer keeps the promises of the command line (calibration/fuzz/console.py).
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from calibration.fuzz.console import judged, run

SAMPLES = Path(__file__).parents[2] / "sample_images"
DEEP, GOOD = SAMPLES / "ash_too_deep", SAMPLES / "ash_good"
AXLE = str(GOOD / "axle.toml")


@pytest.fixture(autouse=True)
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty shop in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CONTACTREAD_BOOK", str(tmp_path / "b.sqlite"))
    monkeypatch.setenv("CONTACTREAD_SETTINGS", str(tmp_path / "s.toml"))
    monkeypatch.setenv("CONTACTREAD_DEBUG", "")
    return tmp_path


def said(*arguments: str, ends: int = 0) -> str:
    """What a command printed; it must end as foreseen."""
    code, out, err = run(arguments)
    judged(arguments, code, out, err)
    assert code == ends, (arguments, out, err)
    return out


def told(*arguments: str, ends: int = 0) -> Any:
    """What a command printed as JSON."""
    return json.loads(said(*arguments, "--json", ends=ends))


def test_a_mechanic_sets_an_axle(shop: Path) -> None:
    said("settings", "person", "Ana")
    said(
        "axle", "new", "mine.toml", "--pinion-teeth", "11", "--ring-teeth", "41", "--ring-diameter", "222 mm"
    )
    assert "estimate" in said("axle", "show", "mine.toml")
    said("settings", "axle", AXLE)
    photos = [str(DEEP / "drive.jpg"), str(DEEP / "coast.jpg")]
    first = told("read", *photos, "--backlash", "0.18 mm")
    assert "THINNER" in " ".join(first["answer"])
    said("job", "open", "Bench axle 3")
    said("try", "start", "--pinion-shim", "0.864 mm")
    said("try", "photo", *photos)
    said("try", "record", *[word for _ in range(4) for word in ("--backlash", "0.18 mm")])
    advised = told("try", "advise")["advice"]
    assert advised["moves"]
    told("predict", AXLE, "--pinion-shim", "-0.2 mm")
    said("try", "start", "--pinion-shim", "0.664 mm")
    said("try", "photo", str(GOOD / "drive.jpg"), str(GOOD / "coast.jpg"))
    said("try", "record", *[word for _ in range(4) for word in ("--backlash", "0.19 mm")])
    said("try", "advise")
    said("undo")
    said("try", "advise")
    sheet = said("job", "sheet")
    assert "0.664" in sheet and "0.19" in sheet
    said("report", "-o", "report.html")
    assert "Bench axle 3" in Path("report.html").read_text(encoding="utf-8")
    said("job", "close", "--despite", "a test", ends=1)  # the check-list first
    assert told("log")["entries"]
    said("check")
    assert (DEEP / "drive.jpg").read_bytes() == Path(photos[0]).read_bytes()


def test_a_foreman_keeps_the_book(shop: Path) -> None:
    said("settings", "person", "Kim")
    for job, source in (("Unit 7", DEEP), ("Unit 8", GOOD)):
        (shop / "photos" / job / "try 1").mkdir(parents=True)
        for side in ("drive", "coast"):
            shutil.copy(source / f"{side}.jpg", shop / "photos" / job / "try 1")
    (shop / "photos" / "Unit 8" / "try 1" / "notes.jpg").write_bytes(b"no photo")
    said("review", "photos", "--axle", AXLE, "--dry-run")
    review = ["review", "photos", "--axle", AXLE, "--yes", "--workers", "1"]
    assert told(*review, ends=3)["summary"]["counts"] == {"read": 4, "refused": 1}
    assert told(*review)["summary"]["counts"]["known"] == 5
    assert len(told("job", "list")["jobs"]) == 2
    for question in ("jobs", "tries", "shims", "refused", "runout"):
        told("ask", question)
        said("ask", question)
    assert told("ask", "search", "Unit")["rows"]
    said("ask", "walk", "1")
    rows = told("export", "out")["rows"]
    assert told("import", "out", "--book", "second.sqlite")["rows"] == rows
    assert not told("import", "out")["merged"]["conflicts"]  # merged with itself: all the same
    told("backup")
    told("restore", "out", "--book", "third.sqlite")
    said("check", "--book", "second.sqlite")
    said("check")


def test_an_instructor_teaches(shop: Path) -> None:
    said("practice", "topics")
    Path("answers.txt").write_text("a\n" * 6, encoding="utf-8")
    for who in ("Bo", "Di"):
        said("practice", "learn", "--who", who, "--questions", "5", "--answers", "answers.txt")
        told("practice", "test", "--seed", "3", "--questions", "6", "--who", who, "--answers", "answers.txt")
    said("practice", "sheet", "sheet.html", "--seed", "3")
    assert "default-src 'none'" in Path("sheet.html").read_text(encoding="utf-8")
    assert "Bo" in said("practice", "progress")
    told("practice", "progress")
    said("practice", "rules")
    said("practice", "readers", ends=1)  # nobody marked a photograph yet
    said("check")


@pytest.mark.skipif(os.name == "nt", reason="ends a process as POSIX does")
def test_the_disk_died(shop: Path) -> None:
    """Killed in a review, carried on; then half of the file is lost, found, put back, and carried on."""
    (shop / "photos").mkdir()
    for number, photo in enumerate(sorted(SAMPLES.glob("*/*.jpg"))[:4]):
        shutil.copy(photo, shop / "photos" / f"{number}.jpg")
    said("job", "open", "Unit 1", "--axle", AXLE, "--who", "Ana")
    command = [sys.executable, "-m", "contactread.cli.main", "review", "photos", "--who", "Ana", "--yes"]
    with subprocess.Popen(
        [*command, "--workers", "1"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as killed:
        time.sleep(2.0)
        killed.send_signal(signal.SIGKILL)
    said("check")
    first = told("review", "photos", "--who", "Ana", "--yes", "--workers", "1")["summary"]["counts"]
    assert sum(first.values()) == 4
    told("backup")
    said("job", "open", "Unit 2", "--axle", AXLE, "--who", "Ana")  # after the backup: lost with the disk
    book = shop / "b.sqlite"
    data = book.read_bytes()
    for side in ("-wal", "-shm"):
        Path(f"{book}{side}").unlink(missing_ok=True)
    book.write_bytes(data[: len(data) // 2] + bytes(len(data) - len(data) // 2))
    said("check", ends=5)
    said("job", "open", "Unit 3", "--axle", AXLE, "--who", "Ana", ends=5)
    put_back = told("restore")
    assert put_back
    said("check")
    assert len(told("job", "list")["jobs"]) == 1
    again = told("review", "photos", "--who", "Ana", "--yes", "--workers", "1")["summary"]["counts"]
    assert again["known"] == 4
    said("job", "open", "Unit 2", "--axle", AXLE, "--who", "Ana")
    said("check")
