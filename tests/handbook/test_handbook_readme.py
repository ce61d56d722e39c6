"""README: its order, pictures and printed answer; the examples of README and of the library's page run."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from calibration import readme_picture
from contactread import __version__
from contactread.handbook.pages import HANDBOOK

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SET_UP = ROOT / "sample_images" / "ash_too_shallow"
needs_samples = pytest.mark.skipif(not SET_UP.exists(), reason="the sample pictures aren't there")


def test_order_of_the_readme() -> None:
    headings = re.findall(r"^## (.*)$", README, re.M)
    assert headings == [
        "Install, and see it work", "Two photos in, the move out", "Taking the photos", "Your axle",
        "The record", "Practice", "How accurate it is", "As a library", "Cautions", "More",
    ]  # fmt: skip
    assert README.index("![") < README.index("```sh"), "the picture comes first"
    assert README.split("\n## ")[0].count("\n\n") == 3, "one paragraph and one picture before all else"


def test_pictures_are_small() -> None:
    for place in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README):
        assert (ROOT / place).stat().st_size < 200_000


@needs_samples
def test_the_picture_and_the_printed_answer_are_what_is_answered_now(tmp_path: Path) -> None:
    answer, _ = readme_picture.answer_and_photo(tmp_path / "marked")
    assert readme_picture.shown_answer() == answer, "run: python -m calibration.readme_picture"
    assert readme_picture.with_answer(README, answer) == README, "run the same"


def test_the_drawing_of_photos_is_the_one_that_is_drawn_now() -> None:
    assert readme_picture.PHOTOS.read_text(encoding="utf-8") == readme_picture.photos_svg()


def test_version_stands_in_one_place() -> None:
    assert 'dynamic = ["version"]' in (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    assert f"## {__version__}" in (HANDBOOK / "changelog.md").read_text(encoding="utf-8")


def examples() -> list[str]:
    page = (HANDBOOK / "library.md").read_text(encoding="utf-8")
    return re.findall(r"```python\n(.*?)```", README + page, re.DOTALL)


@needs_samples
@pytest.mark.parametrize("number", range(5))
def test_examples_run(
    number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert len(examples()) == 5
    for name in ("drive", "coast"):
        shutil.copy(SET_UP / f"{name}.jpg", tmp_path)
        (tmp_path / "photos").mkdir(exist_ok=True)
        shutil.copy(SET_UP / f"{name}.jpg", tmp_path / "photos")
    shutil.copy(ROOT / "sample_images/ash_too_shallow/axle.toml", tmp_path / "my-axle.toml")
    monkeypatch.chdir(tmp_path)
    exec(compile(examples()[number], "example", "exec"), {})
    said = capsys.readouterr().out
    if number < 3:
        assert "shim" in said.lower() or "backlash" in said.lower()
    if number == 4:
        lines = (tmp_path / "patterns.csv").read_text(encoding="utf-8").splitlines()
        assert lines[0] == "photo,side,length,height,refused"
        assert [line.split(",")[1] for line in lines[1:]] == ["coast", "drive"]
