"""The handbook's pages: filled in, sourced, cautious, spelled, and with links that lead somewhere."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from contactread.cli.main import COMMANDS
from contactread.errors import ContactreadError
from contactread.facts import facts
from contactread.handbook.pages import HANDBOOK, PAGES, blocks, filled, load_page
from contactread.handbook.pictures import pictures
from contactread.pattern.quality import LEAST_SURE, SURE_ENOUGH

ROOT = Path(__file__).parents[2]
DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(HANDBOOK.glob("*.md"))]
# Where hands or lives are at stake, and what must then be said.
CAUTIONS = {
    "paint": {"hands-out", "lead"},
    "move": {"eyes", "hot-ring-gear", "crush-spacer", "torque-from-manual"},
    "measure": {"torque-from-manual", "hands-out"},
    "sign-off": {"torque-from-manual", "advice-only"},
    "instructor": {"hands-out", "eyes"},
}


def anchor(heading: str) -> str:
    """The anchor that a headline gets."""
    return re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-")


def prose(path: Path) -> str:
    """A document without its fenced blocks."""
    return re.sub(r"^```.*?^```$", "", path.read_text(encoding="utf-8"), flags=re.M | re.S)


def test_every_page_is_listed_and_every_listed_one_is_there() -> None:
    assert set(PAGES) == {path.stem for path in HANDBOOK.glob("*.md")}
    linked = re.findall(r"\]\(([\w-]+)\.md\)", load_page("index").text)
    assert set(linked) == set(PAGES) - {"index"}


@pytest.mark.parametrize("name", PAGES)
def test_pages_are_filled_in(name: str) -> None:
    page = load_page(name)
    text = filled(page, lambda picture, caption: f"<{picture}>\n{caption}")
    assert "```{" not in text
    for kind, words, body in blocks(page):
        if kind == "output":
            assert f"$ {body}\n" in text
        if kind == "picture":
            assert body.endswith("."), "a picture has its caption"
            assert f"<{words[0]}>\n" in text and words[0] in pictures()


def test_every_picture_is_used_and_can_be_seen_and_read() -> None:
    used = {words[0] for name in PAGES for kind, words, _ in blocks(load_page(name)) if kind == "picture"}
    held = pictures()
    assert used == set(held)
    for name, picture in held.items():
        drawing = picture.drawing()
        assert drawing.title and drawing.story, name
        assert "<script" not in drawing.svg(alone=False)
        for plain in (False, True):
            lines = picture.lines(plain)
            assert lines and all(len(line) <= 78 for line in lines), name
        assert all(line.isascii() for line in lines if "°" not in line), name


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_links_lead_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", prose(path)):
        assert not target.startswith(("http:", "https:", "/")), f"{target}: no address of ours is public"
        place, _, part = target.partition("#")
        there = path if not place else path.parent / place
        assert there.exists(), f"{path.name} links to {target}"
        if part:
            headings = re.findall(r"^#+ (.*)$", there.read_text(encoding="utf-8"), re.M)
            assert part in map(anchor, headings), f"{path.name} links to {target}"


def test_sources_are_known() -> None:
    known = set(facts("sources"))
    for name in PAGES:
        for group in re.findall(
            r"\[((?:[A-EH]\d+|contradiction-\d+|practice)[^\]]*)\](?!\()", prose(HANDBOOK / f"{name}.md")
        ):
            for one in re.split(r"[,;]\s*", group):
                assert one.removeprefix("against them ") in known, f"{name} names the source {one}"


def test_every_rule_stands_on_some_page() -> None:
    shown = {
        w for name in PAGES for kind, words, _ in blocks(load_page(name)) if kind == "rules" for w in words
    }
    assert shown == {rule["topic"] for rule in facts("rules").values()}


def test_cautions_stand_where_hands_and_lives_are_at_stake() -> None:
    for name, wanted in CAUTIONS.items():
        given = {w for kind, words, _ in blocks(load_page(name)) if kind == "cautions" for w in words}
        assert wanted <= given, name


def test_spelling() -> None:
    command = [
        sys.executable,
        "-m",
        "codespell_lib",
        "--builtin",
        "clear,rare,informal",
        "--ignore-words-list",
        "fro",
        *map(str, DOCUMENTS),
    ]
    command += [str(path) for path in sorted((ROOT / "shared").glob("*.toml"))]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_commands_and_options_in_the_documents_exist() -> None:
    from contactread.cli.reference import described

    known = {each.words: " ".join(name for name, _ in each.parts) for _, each in described()}
    first = {command.name for group in COMMANDS.values() for command in group} | {"help"}
    for path in DOCUMENTS:
        text = path.read_text(encoding="utf-8")
        code = "\n".join(" ".join(part.split()) for part in re.findall(r"`[^`]+`", prose(path)))
        code += "\n" + "\n".join(re.findall(r"^```(?:sh|\{output\})\n(.*?)^```$", text, re.M | re.S))
        for line in re.findall(r"contactread ([a-z][^`\n|]*)", code):
            words = line.split()
            assert words[0] in first, f"{path.name} names the command {words[0]}"
            command = next((" ".join(words[:n]) for n in (2, 1) if " ".join(words[:n]) in known), None)
            for option in re.findall(r"(--[a-z][a-z-]+)", line):
                options = known[command] if command else " ".join(known.values())
                assert option in options.split() or option in ("--help", "--version"), f"{path.name}: {line}"


def test_figures_that_the_code_decides_are_the_codes() -> None:
    text = " ".join((HANDBOOK / "read.md").read_text(encoding="utf-8").split())
    assert f"below {SURE_ENOUGH:.0%}".replace("%", " %") in text
    assert f"below {LEAST_SURE:.0%}".replace("%", " %") in text
    readme = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    assert f"Below {LEAST_SURE} a photo is refused, below {SURE_ENOUGH} no shim is moved" in readme


def test_code_isnt_broken_on_a_terminal() -> None:
    for name in PAGES:
        for kind in ("python", "sh", "json"):
            for code in re.findall(rf"^```{kind}\n(.*?)^```$", load_page(name).text, re.M | re.S):
                assert all(len(line) <= 78 for line in code.splitlines()), name
        for kind, _, body in blocks(load_page(name)):
            assert kind != "output" or all(len(line) <= 76 for line in body.splitlines()), name


def test_no_torque_stands_in_the_handbook_but_as_typed() -> None:
    for name in PAGES:
        if name in ("sources", "changelog"):
            continue
        found = re.findall(r"\d+ ?(?:N·m|lb-ft|in-lb)", load_page(name).text)
        assert found in ([], ["110 N·m", "110 N·m"]), name


def test_a_page_that_is_not_there() -> None:
    with pytest.raises(ContactreadError) as caught:
        load_page("torques")
    assert caught.value.code == "guide-page-missing"
    assert "paint" in caught.value.next_step
