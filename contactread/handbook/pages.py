"""The pages of the handbook: which there are, and how what is computed gets into them.

A page is Markdown. A fenced block whose first word stands in braces is filled in when the page is shown:

    {picture} NAME         a picture of `pictures.py`; below, in the block, its caption
    {output}               in the block one command of contactread; what it prints follows
    {cautions} ID ...      cautions of shared/cautions.toml, in full
    {rules} TOPIC          rules of shared/rules.toml, with their sources and who says otherwise
    {glossary}, {targets}, {sign-off}, {sources}   those files of shared/, as lists
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from contactread.errors import ContactreadError
from contactread.facts import FOLDER, facts

HANDBOOK = FOLDER / "handbook"
# In the order in which a mechanic needs them.
PAGES = (
    "index", "paint", "photograph", "read", "decide", "move", "measure", "sign-off", "patterns", "cutting",
    "used", "not-a-shim", "instructor", "library", "glossary", "sources", "changelog",
)  # fmt: skip
_BLOCK = re.compile(r"^```\{([a-z-]+)\}([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
# What commands in the pages may name; made before the first of them runs.
AXLE_FILE = "axle new my-axle.toml --pinion-teeth 11 --ring-teeth 41 --ring-diameter '222 mm'"

# Turns a picture's name and caption, with the command that draws it, into Markdown.
Place = Callable[[str, str], str]


@dataclass(frozen=True)
class Page:
    """One page. name: as it is asked for. title: its headline. text: Markdown, blocks not yet filled in."""

    name: str
    title: str
    text: str


@cache
def load_page(name: str) -> Page:
    """The page of that name. Raises `ContactreadError` guide-page-missing."""
    if name not in PAGES:
        raise ContactreadError(
            "guide-page-missing",
            f"The handbook has no page '{name[:40]}'.",
            f"The pages are: {', '.join(PAGES)}.",
        )
    text = (HANDBOOK / f"{name}.md").read_text(encoding="utf-8")
    return Page(name, text.partition("\n")[0].removeprefix("# "), text)


def filled(page: Page, place: Place) -> str:
    """The page's Markdown with every block filled in; `place` puts the pictures."""

    def fill(block: re.Match[str]) -> str:
        kind, words, body = block[1], block[2].split(), block[3].strip()
        if kind == "picture":
            drawn_by = f"contactread guide --picture {words[0]}.svg"
            return place(words[0], f"{' '.join(body.split())} (`{drawn_by}`)")
        if kind == "output":
            command = body.replace("\\\n", " ")  # one that goes on in the next line
            return f"```text\n$ {body}\n{output(command)}\n```"
        return _FILLERS[kind](*words)

    return _BLOCK.sub(fill, page.text)


def blocks(page: Page) -> list[tuple[str, list[str], str]]:
    """The page's blocks: kind, words behind it, what stands in it."""
    return [(b[1], b[2].split(), b[3].strip()) for b in _BLOCK.finditer(page.text)]


@cache
def output(command: str) -> str:
    """What a command of contactread prints, run for real in an empty folder with a fresh axle file.

    Raises `ContactreadError` guide-output-failed.
    """
    program, *arguments = shlex.split(command)
    assert program == "contactread", command
    with tempfile.TemporaryDirectory() as folder:
        if "my-axle.toml" in arguments:
            _run(shlex.split(AXLE_FILE), folder)
        return _run(arguments, folder)


def _run(arguments: list[str], folder: str) -> str:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("CONTACTREAD_")}
    place = str(Path(folder) / "settings.toml")
    done = subprocess.run(
        [sys.executable, "-m", "contactread.cli.main", *arguments], cwd=folder, capture_output=True,
        encoding="utf-8", timeout=120, stdin=subprocess.DEVNULL,
        env=kept | {"CONTACTREAD_SETTINGS": place, "COLUMNS": "78", "PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip
    if done.returncode != 0:
        raise ContactreadError(
            "guide-output-failed",
            f"A command of the handbook failed: contactread {' '.join(arguments)}: {done.stderr.strip()}",
            "Please report it.",
        )
    return done.stdout.rstrip()


def _cautions(*names: str) -> str:
    held = facts("cautions")
    told = (f"> - {held[name]['full']} [{', '.join(held[name]['sources'])}]" for name in names)
    return "> **Caution**\n>\n" + "\n".join(told)


def _rules(topic: str) -> str:
    lines = []
    for rule in facts("rules").values():
        if rule["topic"] != topic:
            continue
        line = f"- {rule['says']} [{', '.join(rule['sources'])}]"
        if "contradicted_by" in rule:
            line += f" *Otherwise [{', '.join(rule['contradicted_by'])}]: {rule['instead']}*"
        lines.append(line)
        lines += [f"  - look at: {what}" for what in rule.get("inspect", ())]
    return "\n".join(lines)


def _glossary() -> str:
    held = sorted(facts("glossary").values(), key=lambda each: each["term"].lower())
    return "\n".join(f"- **{each['term']}**: {each['means']} [{', '.join(each['sources'])}]" for each in held)


def _targets() -> str:
    held = facts("targets")
    return "\n".join(
        f"- `{name}`: {each['says']} [{', '.join(each['sources'])}]" for name, each in held.items()
    )


def _sign_off() -> str:
    held = facts("sign_off")
    return "\n".join(f"- {each['words']} [{', '.join(each['sources'])}]" for each in held["confirm"].values())


def _all_sources() -> str:
    words = {
        "seen": "text seen",
        "doubtful": "text seen, layout in doubt",
        "derived": "worked out from these",
    }

    def line(name: str, each: dict[str, Any]) -> str:
        seen = words.get(each["confidence"], "from memory, not seen")
        return f"- **{name}** {each['title']} ({seen}): {each['says']}"

    return "\n".join(line(name, each) for name, each in facts("sources").items())


_FILLERS: dict[str, Callable[..., str]] = {
    "cautions": _cautions, "rules": _rules, "glossary": _glossary, "targets": _targets,
    "sign-off": _sign_off, "sources": _all_sources,
}  # fmt: skip
