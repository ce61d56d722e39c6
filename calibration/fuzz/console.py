"""The command line in this process: what it printed, and whether that keeps its promises."""

from __future__ import annotations

import io
import json
import os
import sys
import unicodedata
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from typing import Any, NoReturn

EXITS = (0, 1, 2, 3, 5)
_UNSHOWN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


class Broken(AssertionError):
    """A promise of the command line that wasn't kept."""


def run(arguments: Sequence[str]) -> tuple[int, str, str]:
    """Exit code, stdout and stderr of a command; a fault is let through."""
    from contactread.cli.main import main

    os.environ["CONTACTREAD_DEBUG"] = "1"
    out, err = io.StringIO(), io.StringIO()
    stdin, sys.stdin = sys.stdin, io.StringIO("")
    try:
        with redirect_stdout(out), redirect_stderr(err):
            code = main(list(arguments))
    finally:
        sys.stdin = stdin
    return code, out.getvalue(), err.getvalue()


def answered(arguments: Sequence[str]) -> str:
    """How a command ended: "done", "refused", or the code of its error. Raises Broken."""
    code, out, err = run(arguments)
    return judged(arguments, code, out, err)


def judged(arguments: Sequence[str], code: int, out: str, err: str) -> str:
    """The same of what a command printed. Raises Broken."""
    if code not in EXITS:
        raise Broken(f"exit status {code}: {err[-300:]}")
    if "Traceback" in err:
        raise Broken(err[-300:])
    for text in (out, err):
        if odd := {c for c in text if c not in "\n\t" and unicodedata.category(c) in _UNSHOWN}:
            raise Broken(f"characters that a terminal obeys: {sorted(odd)[:5]!a}")
    if "--json" in arguments:
        try:
            told: Any = json.loads(out, parse_constant=_no_number)
        except ValueError as error:
            raise Broken(f"not JSON ({error}): {out[:200]!a}") from error
        if code in (1, 2, 5) and arguments[0] != "check":
            return _sound(str(told["error"]["code"]), out)
    elif code in (1, 2, 5) and not (arguments[0] == "check" and out):  # which lists what it found
        last = err.strip().splitlines()[-1] if err.strip() else ""
        if not (last.startswith("[") and last.endswith("]")):
            raise Broken(f"no code: {err[-200:]!a}")
        return _sound(last[1:-1], err)
    return "done" if code == 0 else "refused"


def _sound(code: str, words: str) -> str:
    if code in ("fault", "out-of-memory"):
        raise Broken(ascii(words[:300]))
    return code


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} isn't JSON")
