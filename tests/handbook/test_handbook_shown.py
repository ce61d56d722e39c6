"""The handbook where it is read: terminal, site, phone page; and what the shell completes."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from contactread.cli.main import main
from contactread.cli.reference import REFERENCE
from contactread.handbook.html import page_html
from contactread.handbook.pages import PAGES


@pytest.mark.parametrize("name", [*PAGES, *REFERENCE])
def test_pages_on_the_terminal(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["guide", name]) == 0
    shown = capsys.readouterr().out
    assert "\x1b" not in shown
    assert "```" not in shown and ".md)" not in shown
    from contactread.cli.guide import text_of

    whole = set(shown.split())
    for word in re.findall(
        r"(?<![\w`/.-])[A-Za-z]{3,30}(?![\w`/.-])",
        re.sub(r"```.*?```|`[^`]*`", "", text_of(name), flags=re.S),
    ):
        assert any(word in each for each in whole), f"{name}: {word} is broken"


def test_the_list_and_a_picture(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["guide"]) == 0
    listed = capsys.readouterr().out
    assert all(f"\n{name} " in f"\n{listed}" for name in (*PAGES, *REFERENCE))
    assert main(["guide", "--picture", str(tmp_path / "cutter.svg")]) == 0
    assert "turns over" in (tmp_path / "cutter.svg").read_text(encoding="utf-8")
    assert main(["guide", "--picture", str(tmp_path / "nothing.svg")]) == 1
    assert main(["guide", "--schema", "read"]) == 0
    assert main(["guide", "--schema", "nothing"]) == 1
    assert main(["guide", "--manual", "--schema", "read"]) == 2


@pytest.mark.parametrize("name", ["index", "patterns", "decide", "cutting"])
def test_pages_for_the_phone(name: str) -> None:
    page = page_html(name)
    assert (
        "<script" not in page
        and "style=" not in page
        and "http" not in page.replace("http://www.w3.org/2000/svg", "")
    )
    for linked in re.findall(r'href="([^"]*)"', page):
        assert linked.removeprefix("/guide/") in PAGES
    assert "picture-" not in page


def test_the_site_builds_without_a_warning_and_loads_nothing_from_outside(tmp_path: Path) -> None:
    pytest.importorskip("furo")
    folder = tmp_path / "site"
    assert main(["guide", "--site", str(folder)]) == 0
    pages = {path.stem: path.read_text(encoding="utf-8") for path in folder.glob("*.html")}
    assert {*PAGES, *REFERENCE} <= set(pages)
    for name, page in pages.items():
        for loaded in re.findall(r'<(?:script|img|link|iframe)[^>]*(?:src|href)="([^"]+)"', page):
            assert not loaded.startswith(("http", "//")), f"{name} loads {loaded}"
            place = loaded.partition("?")[0].partition("#")[0]
            assert not place or (folder / place).exists(), f"{name} loads {loaded}"
        for linked in re.findall(r'<a[^>]*href="([^"]+)"', page):
            place, _, part = linked.partition("#")
            if place.startswith("http") or not place.endswith(".html"):
                continue
            assert place.removesuffix(".html") in pages, f"{name} links to {linked}"
            if part:
                assert f'id="{part}"' in pages[place.removesuffix(".html")], f"{name} links to {linked}"
    assert main(["guide", "--site", str(folder)]) == 1  # what lies there is left alone


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_completion_scripts(shell: str) -> None:
    out = ours(["completion", shell])
    assert "_CONTACTREAD_COMPLETE" in out and "contactread" in out


def test_what_is_completed() -> None:
    def asked(words: str) -> list[str]:
        count = str(len(words.split(" ")) - 1)
        return ours([], _CONTACTREAD_COMPLETE="complete_bash", COMP_WORDS=words, COMP_CWORD=count).split()

    assert asked("contactread pr") == ["predict", "practice"]
    assert "record" in asked("contactread try re")
    assert "--pinion-shim" in asked("contactread predict --p")


@pytest.mark.parametrize("shell", ["zsh", "fish", "powershell"])
def test_every_shell_is_answered_and_never_disturbed(shell: str) -> None:
    given = {"_CONTACTREAD_COMPLETE": f"complete_{shell}", "_TYPER_COMPLETE_FISH_ACTION": "get-args"}
    asked = {"_TYPER_COMPLETE_ARGS": "contactread job sh", "_TYPER_COMPLETE_WORD_TO_COMPLETE": "sh"}
    assert "sheet" in ours([], **given, **asked) and "strike" not in ours([], **given, **asked)
    ours([], **given, _TYPER_COMPLETE_ARGS="contactread job 'sh")
    assert ours([], _CONTACTREAD_COMPLETE="complete_bash") == ""  # without what bash says with it


def ours(arguments: list[str], **variables: str) -> str:
    import os

    done = subprocess.run(
        [sys.executable, "-m", "contactread.cli.main", *arguments],
        capture_output=True, text=True, env=os.environ | variables,
    )  # fmt: skip
    assert done.stderr == ""
    return done.stdout
