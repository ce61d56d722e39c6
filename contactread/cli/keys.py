"""A patch drawn with the keys of a terminal."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator

import typer

from contactread.practice.placing import Key, Placing

_WAYS: tuple[Key, ...] = ("up", "down", "right", "left")
# What terminals send for them, and what Windows gives.
_KEYS: dict[str, Key] = {
    **{start + end: key for start in ("\x1b[", "\x1bO") for end, key in zip("ABCD", _WAYS, strict=True)},
    **{start + end: key for start in ("\x00", "\xe0") for end, key in zip("HPMK", _WAYS, strict=True)},
    **{"\r": "enter", "\n": "enter", "\x7f": "back", "\x08": "back"},
}


def draw_patch(plain: bool) -> str | None:
    """The answer of somebody who draws it; None where it is to be typed (t), or where no key can be read.

    Raises KeyboardInterrupt on Ctrl-C.
    """
    if not can_draw():
        return None
    placing = Placing()
    print("(t: type it instead)")
    print("\n".join(placing.lines(plain)), flush=True)
    for key in _pressed():
        placing = placing.press(key)
        lines = placing.lines(plain)
        print(f"\x1b[{len(lines)}A" + "\n".join(lines), flush=True)
        if placing.done:
            return placing.answer()
    return None


def can_draw() -> bool:
    """Whether keys can be read one by one and the screen be drawn over."""
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "") != "dumb"


def _pressed() -> Iterator[Key]:
    """Keys as they are pressed, until somebody wishes to type."""
    typed = ""
    while True:
        try:
            typed += typer.getchar()
        except EOFError:  # Ctrl-D
            return
        if not typed or typed[0] in "tT":
            return
        while typed:
            name = next((n for n in _KEYS if typed.startswith(n)), None)
            if name is None and any(n.startswith(typed) for n in _KEYS):
                break  # the rest of this key is still to come
            if name is not None:
                yield _KEYS[name]
            typed = typed[len(name) if name else 1 :]
