"""The reference that the code writes of itself: errors, signs, settings, axle keys, JSON, public names."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from pathlib import Path

import contactread
from contactread.axle_file.keys import tables
from contactread.flags import FLAGS
from contactread.handbook.schemas import SCHEMAS, fields, schema_of
from contactread.settings import HELP, VARIABLE

ERRORS = Path(__file__).with_name("errors.md")  # made by calibration.errors_page, which reads the source
VARIABLES = {
    VARIABLE: "where the settings file lies",
    "CONTACTREAD_BOOK": "the shop book's file, for every command that has --book",
    "CONTACTREAD_CACHE": "the folder where an axle's sums are kept for the next time; never needed",
    "CONTACTREAD_DEBUG": "set to 1, a fault of contactread shows where it happened",
    "NO_COLOR": "set to anything, nothing is printed in colour or bold",
}


def errors_page() -> str:
    """Every error code with what it says and what to do."""
    return ERRORS.read_text(encoding="utf-8")


def signs_page() -> str:
    """Every sign of a photo or a reading."""
    lines = ["# Signs of a photo", "", "What `contactread flags` lists."]
    for refuses, heading in ((True, "A photo is refused"), (False, "A reading carries a sign")):
        lines += ["", f"## {heading}", ""]
        lines += [
            f"- `{f.code}` ({f.short}): {f.meaning} {f.next_step}" for f in FLAGS if f.refuses == refuses
        ]
    return "\n".join(lines) + "\n"


def settings_page() -> str:
    """Settings and variables of the environment."""
    lines = ["# Settings", "", "Set once with `contactread settings NAME VALUE`.", ""]
    lines += [f"- `{name}`: {says}" for name, says in HELP.items()]
    lines += ["", "## Variables of the environment", ""]
    lines += [f"- `{name}`: {says}" for name, says in VARIABLES.items()]
    return "\n".join(lines) + "\n"


def axle_page() -> str:
    """Every key of the axle file."""
    lines = [
        "# The axle file",
        "",
        "`contactread axle new FILE` writes it with these words as comments. Lengths, torques and angles "
        "carry their unit, in quotes.",
    ]
    for table in tables():
        lines += ["", f"## {'[' + table.name + ']' if table.name else 'Above all tables'}", ""]
        if table.help:
            lines += [" ".join(table.help.split()), ""]
        for key in table.keys:
            needed = " Needed." if key.required else ""
            lines.append(f"- `{key.name} = {key.example}` ({key.kind}): {' '.join(key.help.split())}{needed}")
    return "\n".join(lines) + "\n"


def json_page() -> str:
    """Every field that --json prints, by command."""
    lines = [
        "# JSON",
        "",
        "`contactread guide --schema NAME` prints each as a JSON Schema. A failing command prints `error`.",
    ]
    for name in SCHEMAS:
        lines += ["", f"## {name}", ""]
        for path, kind, says in fields(schema_of(name)):
            lines.append(f"- `{path}` ({kind}): {says}" if says else f"- `{path}` ({kind})")
    return "\n".join(lines) + "\n"


def names_page() -> str:
    """Every public name of the library."""
    lines = [
        "# Public names",
        "",
        "What `import contactread` offers; [the library](library.md) shows them at work.",
    ]
    for name in contactread.__all__:
        each = getattr(contactread, name)
        lines += ["", f"## {name}", "", "```python", *_signature(name, each), "```", ""]
        lines += [_paragraph(text) + "\n" for text in (inspect.getdoc(each) or "").split("\n\n")]
    return "\n".join(lines) + "\n"


def _signature(name: str, each: object) -> Iterator[str]:
    if inspect.isclass(each) and issubclass(each, Exception):
        yield f"class {name}(code: str, message: str, next_step: str)"
        return
    assert callable(each)
    word = "class" if inspect.isclass(each) else "def"
    yield f"{word} {name}("
    for each_one in inspect.signature(each).parameters.values():
        default = "" if each_one.default is each_one.empty else f" = {each_one.default!r}"
        yield f"    {each_one.name}: {each_one.annotation}{default},".replace("<factory>", "...")
    yield ")"


def _paragraph(text: str) -> str:
    """A paragraph of a docstring: words, or a formula as it stands."""
    return f"```text\n{text}\n```" if text.startswith("  ") else safe(" ".join(text.split()))


def safe(text: str) -> str:
    """Plain words in Markdown: no sign of them is taken for markup."""
    return (
        text.replace("\\", "\\\\")
        .replace("*", "\\*")
        .replace("<", "&lt;")
        .replace("[", "\\[")
        .replace("_", "\\_")
    )
