"""The reference's page of errors, read from the package's own source: ``python -m calibration.errors_page``
writes it; a test keeps it true.
"""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterable, Iterator
from functools import cache
from itertools import product
from pathlib import Path
from typing import NamedTuple

import contactread
from contactread import errors
from contactread.flags import FLAGS
from contactread.handbook.reference import ERRORS, safe

PACKAGE = Path(contactread.__file__).parent
_KINDS = {name for name, each in vars(errors).items() if inspect.isclass(each)}
# Here the code of another error is handed on: nothing new to list.
_HANDED_ON = ("error.code", "self.code")
Texts = dict[str, list[str]]


class Coded(NamedTuple):
    """One place that raises an error. code, message, next_step: an ellipsis stands for what is filled in."""

    code: str
    kind: str
    message: str
    next_step: str


class _Place(NamedTuple):
    """A call in the package's source. within: the function it stands in. texts: what the names in its reach
    can say, as far as they are texts."""

    path: Path
    within: ast.FunctionDef | None
    call: ast.Call
    texts: Texts


@cache
def coded_errors() -> tuple[list[Coded], list[str]]:
    """Every error that the package can raise, read from its own source; and the places where that failed."""
    found = [Coded("extra-missing", "MissingExtraError",
                   "… needs the optional part '…', which isn't installed.",
                   "Install it with: pip install 'contactread[…]'")]  # fmt: skip
    found += [Coded(f.code, "PhotoError", f.meaning, f.next_step) for f in FLAGS if f.refuses]
    unread = []
    modules = {path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(PACKAGE.rglob("*.py"))}
    calls = [place for path, module in modules.items() for place in _calls(path, module)]
    for place in calls:
        if not _is_coded(place.call):
            continue
        kind, parts = _name(place.call.func), place.call.args
        told = [each for texts in _reaching(place, calls) for each in _told(kind, parts, texts)]
        if not told and isinstance(parts[0], ast.Name):  # taken from a table of this file
            tables_ = (node for node in ast.walk(modules[place.path]) if isinstance(node, ast.Tuple))
            told = [each for table in tables_ for each in _told(kind, table.elts, place.texts)]
        found += told
        if not told and ast.unparse(parts[0]) not in _HANDED_ON:
            unread.append(f"{place.path.relative_to(PACKAGE)}:{place.call.lineno}")
    return sorted(set(found)), unread


def _is_coded(call: ast.Call) -> bool:
    return _name(call.func) in _KINDS and len(call.args) >= 3


def _calls(path: Path, module: ast.Module) -> Iterator[_Place]:
    """Every call in a file."""
    named = _assigned(module.body, {})
    nodes = [*ast.walk(module)]
    homes: dict[ast.AST, ast.FunctionDef] = {}
    inside: dict[ast.FunctionDef | None, Texts] = {None: named}
    for home in (node for node in nodes if isinstance(node, ast.FunctionDef)):  # outer ones first
        own = [*ast.walk(home)]
        homes |= {node: home for node in own if isinstance(node, ast.Call)}
        usual = zip(reversed(home.args.args), reversed(home.args.defaults), strict=False)
        given = {each.arg: _texts(value, named) for each, value in usual}
        inside[home] = named | given | _assigned(own, named)
    for node in nodes:
        if isinstance(node, ast.Call):
            yield _Place(path, homes.get(node), node, inside[homes.get(node)])


def _assigned(nodes: Iterable[ast.AST], known: Texts) -> Texts:
    """What the names that these nodes set can say."""
    found: dict[str, list[str]] = {}
    for node in nodes:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            found.setdefault(node.targets[0].id, []).extend(_texts(node.value, known))
    return found


def _reaching(place: _Place, calls: list[_Place]) -> list[Texts]:
    """The texts that an error is made of, for each call of the function that makes it, where callers give
    them."""
    helper = place.within
    given = set() if helper is None else {each.arg for each in (*helper.args.args, *helper.args.kwonlyargs)}
    code, *words = place.call.args[:3]
    used = {node.id for node in (*ast.walk(code), *words) if isinstance(node, ast.Name)}
    if helper is None or not used & given:
        return [place.texts]
    by_callers = [
        texts | _assigned(ast.walk(helper), texts)
        for other in calls
        if _name(other.call.func) == helper.name
        and (other.path == place.path or not helper.name.startswith("_"))
        and (texts := place.texts | _given(helper, other))
    ]
    return by_callers or [place.texts]


def _given(helper: ast.FunctionDef, place: _Place) -> Texts:
    """What a call gives a function, by the names of its arguments."""
    given = {each.arg: part for each, part in zip(helper.args.args, place.call.args, strict=False)}
    given |= {each.arg: each.value for each in place.call.keywords if each.arg is not None}
    return {name: texts for name, part in given.items() if (texts := _texts(part, place.texts))}


def _told(kind: str, parts: list[ast.expr], given: Texts) -> list[Coded]:
    """The errors that these three parts make; none where the first is no code."""
    if len(parts) < 3:
        return []
    code, one, other = parts[:3]
    if isinstance(one, ast.IfExp) and isinstance(other, ast.IfExp) and _same(one.test, other.test):
        branches = [code, one.body, other.body], [code, one.orelse, other.orelse]
        return [each for branch in branches for each in _told(kind, branch, given)]
    codes = [each for each in _texts(code, given) if re.fullmatch(r"[a-z…][a-z0-9…-]*", each)]
    words = (_texts(part, given) or ["…"] for part in (one, other))
    return [Coded(*told) for told in product(codes, [kind], *words)]


def _same(one: ast.expr, other: ast.expr) -> bool:
    return ast.dump(one) == ast.dump(other)


def _name(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else ""


def _texts(node: ast.expr, given: Texts) -> list[str]:
    """What a text can be, with an ellipsis for each value that is put into it; none where it isn't a text."""
    if isinstance(node, ast.Name):
        return given.get(node.id, [])
    if isinstance(node, ast.FormattedValue):
        told = _texts(node.value, given) if isinstance(node.value, ast.Name) else []
        return told if told and "…" not in told else ["…"]
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.JoinedStr):
        return ["".join(parts) for parts in product(*(_texts(value, given) for value in node.values))]
    if isinstance(node, ast.BinOp):
        return ["".join(parts) for parts in product(_texts(node.left, given), _texts(node.right, given))]
    if isinstance(node, ast.IfExp):
        either = _texts(node.body, given), _texts(node.orelse, given)
        return [text for texts in either for text in texts or ["…"]] if any(either) else []
    return []


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


if __name__ == "__main__":
    ERRORS.write_text(errors_page(), encoding="utf-8")
