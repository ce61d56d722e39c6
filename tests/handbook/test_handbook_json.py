"""JSON Schemas against real output: each command that has --json prints what its schema says, and no more."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from contactread.cli.main import main
from contactread.cli.reference import REFERENCE, described
from contactread.handbook.schemas import SCHEMAS, fields, schema_of

SAMPLES = Path(__file__).parents[2] / "sample_images"
DEEP = SAMPLES / "ash_too_deep"
# Commands whose shape is another's.
SHARED = {
    "axle show": "axle", "sums mark": "sums", "sums distance": "sums", "sums housing": "sums",
    "sums gauge": "sums", "sums cone-centre": "sums", "photo move": "photo", "photo strike": "photo",
    "practice learn": "practice", "practice test": "practice",
}  # fmt: skip
pytestmark = pytest.mark.skipif(not DEEP.exists(), reason="the sample pictures aren't there")


class Shop:
    """Runs commands in a shop of its own and holds what they print against their schemas."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self.capsys = folder, capsys
        self.fitted: set[str] = set()

    def run(self, *arguments: str) -> Any:
        main(list(arguments))
        seen = self.capsys.readouterr()
        assert seen.out, seen.err
        return seen.out

    def fits(self, schema: str, *arguments: str) -> Any:
        found = json.loads(self.run(*arguments, "--json"))
        assert schema == "error" or "error" not in found, found
        jsonschema.validate(found, schema_of(schema))
        self.fitted.add(schema)
        return found


@pytest.fixture
def shop(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Shop:
    monkeypatch.setenv("CONTACTREAD_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("CONTACTREAD_BOOK", str(tmp_path / "book.sqlite"))
    monkeypatch.chdir(tmp_path)
    return Shop(tmp_path, capsys)


def test_schemas_are_schemas_and_stand_in_the_reference() -> None:
    text = REFERENCE["json"][1]()
    for name in SCHEMAS:
        jsonschema.Draft202012Validator.check_schema(schema_of(name))
        assert f"## {name}\n" in text
        assert all(f"`{path}`" in text for path, _, _ in fields(schema_of(name)))


def test_every_command_with_json_has_a_schema() -> None:
    for _, command in described():
        if not any(part.startswith("--json") for part, _ in command.parts):
            continue
        words = command.words
        job_like = words.startswith(("job ", "try ")) and words not in (
            "job list",
            "try advise",
            "try advice",
        )
        name = SHARED.get(words) or ("job" if job_like else words.replace(" ", "-"))
        name = "ask" if words.startswith("ask ") else name
        assert name in SCHEMAS, f"contactread {words} --json has no schema"


def test_reading_and_forecasts(shop: Shop) -> None:
    axle, bare = str(DEEP / "axle.toml"), "bare.toml"
    main(["axle", "new", bare, "--pinion-teeth", "11", "--ring-teeth", "41", "--ring-diameter", "222 mm"])
    shop.capsys.readouterr()
    photos = (str(DEEP / "drive.jpg"), str(DEEP / "coast.jpg"))
    read = shop.fits("read", "read", *photos, "--axle", axle, "--backlash", "0.18 mm", "--marked", "m")
    Path("reading.json").write_text(json.dumps(read), encoding="utf-8")
    shop.fits("read", "read", str(next((SAMPLES / "refused").glob("*.jpg"))))
    shop.fits("predict", "predict", axle, "--pinion", "0.1 mm")
    shop.fits("predict", "predict", bare, "--ring", "0.1 mm")
    shop.fits("predict", "predict", axle, "--ring", "0.1 mm", "--reading", "reading.json")
    for each in (axle, bare):
        shop.fits("axle", "axle", "show", each)
    shop.fits("error", "settings", "nothing", "of the kind")
    for name in ("flags", "cautions", "settings"):
        shop.fits(name, name)
    assert {"read", "predict", "axle", "error", "flags", "cautions", "settings"} == shop.fitted


def test_the_shop_book(shop: Shop) -> None:
    shutil.copy(DEEP / "axle.toml", "axle.toml")
    shop.fits("job", "job", "open", "Bench 1", "--axle", "axle.toml", "--who", "Ana")
    shop.fits("job", "try", "start", "--pinion-shim", "0.86 mm")
    shop.fits("job", "try", "photo", str(DEEP / "drive.jpg"), str(DEEP / "coast.jpg"))
    shop.fits("job", "try", "record", "--backlash", "0.18 mm", "--backlash", "0.19 mm", "--runout", "0.02 mm")
    shop.fits("try-advise", "try", "advise")
    shop.fits("try-advice", "try", "advice")
    shop.fits("job", "job", "sheet")
    shop.fits("job-list", "job", "list")
    shop.fits("photo", "photo", "strike", "1", "--who", "Ana", "--reason", "blurred")
    shop.fits("undo", "undo")
    shop.fits("log", "log")
    for words in (("walk", "1"), ("tries",), ("search", "Bench")):
        shop.fits("ask", "ask", *words)
    shop.fits("check", "check")
    shop.fits("backup", "backup")
    shop.fits("export", "export", "out")
    shop.fits("import", "import", "out", "--who", "Ana")
    shop.fits("import", "import", "out", "--book", "other.sqlite")
    shop.fits("report", "report", "1")
    shop.fits("restore", "restore")
    Path("photos").mkdir()
    shutil.copy(DEEP / "coast.jpg", "photos/1.jpg")
    shop.fits("review-dry-run", "review", "photos", "--dry-run")
    shop.fits("review", "review", "photos", "--axle", "axle.toml", "--who", "Ana", "--yes")


def test_sums_and_practice(shop: Shop) -> None:
    shop.fits("sums", "sums", "mark", "--plus", "adds", "--new", "+2", "--old", "-1")
    shop.fits("sums-side-shims", "sums", "side-shims", "--tool", "0.250 in", "--opposite", "0.265 in",
              "--away", "0.010 in", "--preload", "0.004 in")  # fmt: skip
    shop.fits(
        "sums-backlash", "sums", "backlash", "7 thou", "11 thou", "--least", "6 thou", "--most", "10 thou"
    )
    shop.fits("sums-backlash", "sums", "backlash", "7 thou")
    shop.fits("sums-runout", "sums", "runout", "1 thou")
    shop.fits("sums-ratio", "sums", "ratio", "--teeth", "11", "41")
    shop.fits("practice-topics", "practice", "topics")
    Path("answers.txt").write_text("1\n1\n1\n", encoding="utf-8")
    shop.fits("practice", "practice", "learn", "--who", "Ana", "--questions", "3", "--answers", "answers.txt")
    shop.fits("practice-progress", "practice", "progress")
