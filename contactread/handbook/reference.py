"""The reference that the code writes of itself: errors, signs, settings, axle keys, JSON, public names."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import NamedTuple, TypeGuard

import contactread
from contactread import errors
from contactread.axle_file.keys import tables
from contactread.flags import FLAGS
from contactread.handbook.schemas import SCHEMAS, fields, schema_of
from contactread.settings import HELP, VARIABLE

PACKAGE = Path(contactread.__file__).parent
VARIABLES = {
    VARIABLE: "where the settings file lies",
    "CONTACTREAD_BOOK": "the shop book's file, for every command that has --book",
    "CONTACTREAD_CACHE": "the folder where an axle's sums are kept for the next time; never needed",
    "CONTACTREAD_DEBUG": "set to 1, a fault of contactread shows where it happened",
    "NO_COLOR": "set to anything, nothing is printed in colour or bold",
}
_KINDS = {name for name, each in vars(errors).items() if inspect.isclass(each)}
# Here the code of another error is handed on: nothing new to list.
_HANDED_ON = ("error.code", "self.code")


class Coded(NamedTuple):
    """One place that raises an error. code, message, next_step: an ellipsis stands for what is filled in."""

    code: str
    kind: str
    message: str
    next_step: str


@cache
def coded_errors() -> tuple[list[Coded], list[str]]:
    """Every error that the package can raise, read from its own source; and the places where that failed."""
    found = [Coded("extra-missing", "MissingExtraError",
                   "… needs the optional part '…', which isn't installed.",
                   "Install it with: pip install 'contactread[…]'")]  # fmt: skip
    found += [Coded(f.code, "PhotoError", f.meaning, f.next_step) for f in FLAGS if f.refuses]
    unread = []
    files = {
        path: [*ast.walk(ast.parse(path.read_text(encoding="utf-8")))]
        for path in sorted(PACKAGE.rglob("*.py"))
    }
    by_helper = {}
    for path, nodes in files.items():
        for helper in (node for node in nodes if isinstance(node, ast.FunctionDef)):
            for raised in _worded_by(helper):
                by_helper[raised] = [
                    worded
                    for place, calls in files.items()
                    if place == path or not helper.name.startswith("_")
                    for call in calls
                    if isinstance(call, ast.Call) and _name(call.func) == helper.name
                    and (worded := _told(_name(raised.func), raised.args, _given(helper, call)))
                ]  # fmt: skip
    for path, nodes in files.items():
        constants = _constants(nodes[0])
        for node in nodes:
            if not _is_coded(node):
                continue
            if by_helper.get(node):
                found += by_helper[node]
                continue
            told = [_told(_name(node.func), node.args, constants)]
            if told == [None] and isinstance(node.args[0], ast.Name):  # taken from a table of this file
                told = [_told(_name(node.func), n.elts) for n in nodes if isinstance(n, ast.Tuple)]
            coded = [each for each in told if each is not None]
            found += coded
            if not coded and ast.unparse(node.args[0]) not in _HANDED_ON:
                unread.append(f"{path.relative_to(PACKAGE)}:{node.lineno}")
    return sorted(set(found)), unread


def _is_coded(node: ast.AST) -> TypeGuard[ast.Call]:
    return isinstance(node, ast.Call) and _name(node.func) in _KINDS and len(node.args) >= 3


def _worded_by(helper: ast.FunctionDef) -> list[ast.Call]:
    """The errors in a function whose words its callers give: it makes the error for all of them."""
    given = {each.arg for each in (*helper.args.args, *helper.args.kwonlyargs)}
    return [
        node
        for node in ast.walk(helper)
        if _is_coded(node) and any(isinstance(part, ast.Name) and part.id in given for part in node.args[1:3])
    ]


def _constants(module: ast.AST) -> dict[str, str]:
    """The texts that a file names."""
    assert isinstance(module, ast.Module)
    named = {
        target.id: _template(each.value)
        for each in module.body
        if isinstance(each, ast.Assign)
        for target in each.targets
        if isinstance(target, ast.Name)
    }
    return {name: text for name, text in named.items() if text is not None}


def _given(helper: ast.FunctionDef, call: ast.Call) -> dict[str, str]:
    """What a call gives a function, where that is a text: name of the argument to text."""
    given = {each.arg: part for each, part in zip(helper.args.args, call.args, strict=False)}
    given |= {each.arg: each.value for each in call.keywords if each.arg is not None}
    return {name: text for name, part in given.items() if (text := _template(part)) is not None}


def _told(kind: str, parts: list[ast.expr], given: Mapping[str, str] | None = None) -> Coded | None:
    """The error of these three parts; None where the first is no code. given: texts by name."""
    code = _template(parts[0]) if len(parts) >= 3 else None
    if code is None or not re.fullmatch(r"[a-z…][a-z0-9…-]*", code):
        return None
    message, next_step = (_template(part, given) or "…" for part in parts[1:3])
    return Coded(code, kind, message, next_step)


def _name(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else ""


def _template(node: ast.expr, given: Mapping[str, str] | None = None) -> str | None:
    """A text as written, with an ellipsis for each value that is put into it; None where it isn't a text.
    given: texts by name.
    """
    if isinstance(node, ast.Name):
        return (given or {}).get(node.id)
    if isinstance(node, ast.FormattedValue):
        return _template(node.value, given) or "…" if isinstance(node.value, ast.Name) else "…"
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(_template(value, given) or "" for value in node.values)
    if isinstance(node, ast.BinOp):
        parts = _template(node.left, given), _template(node.right, given)
        return None if None in parts else "".join(p or "" for p in parts)
    return None


def errors_page() -> str:
    """Every error code with what it says and what to do."""
    lines = [
        "# Errors",
        "",
        "Each error says what happened, why, and what to do next; the meaning of its code never changes. "
        "Exit codes: 0 done, 1 error, 2 usage, 3 some photos refused, 5 damaged shop book, 130 stopped. … "
        "stands for what is filled in.",
    ]
    last = ""
    for error in coded_errors()[0]:
        if error.code != last:
            lines += ["", f"## {error.code}", ""]
            last = error.code
        lines.append(f"- {safe(error.message)} *Next:* {safe(error.next_step)}")
    return "\n".join(lines) + "\n"


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
