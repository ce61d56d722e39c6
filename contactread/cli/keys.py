"""Single keys from a terminal, and a patch drawn with them.

typer's own `getchar` goes in and out of raw mode for each key and loses those typed in between.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from contactread.practice.placing import Key, Placing

_ARROWS: dict[bytes, Key] = {b"A": "up", b"B": "down", b"C": "right", b"D": "left"}
_POSIX: dict[bytes, Key] = {
    **{start + end: key for start in (b"\x1b[", b"\x1bO") for end, key in _ARROWS.items()},
    **{b"\r": "enter", b"\n": "enter", b"\x7f": "back", b"\x08": "back"},
}
_WINDOWS: dict[str, Key] = {"H": "up", "P": "down", "M": "right", "K": "left"}


def draw_patch(plain: bool) -> str | None:
    """The answer of somebody who draws it; None where it is to be typed (t), or where no key can be read.

    Raises KeyboardInterrupt on Ctrl-C.
    """
    if not can_draw():
        return None
    placing = Placing()
    print("(t: type it instead)")
    print("\n".join(placing.lines(plain)), flush=True)
    with _single_keys() as keys:
        for key in keys:
            if key is None:
                return None
            placing = placing.press(key)
            lines = placing.lines(plain)
            print(f"\x1b[{len(lines)}A" + "\n".join(lines), flush=True)
            if placing.done:
                return placing.answer()
    return None


def can_draw() -> bool:
    """Whether keys can be read one by one and the screen be drawn over."""
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "") != "dumb"


@contextmanager
def _single_keys() -> Iterator[Iterator[Key | None]]:
    """Keys as they are pressed; None for the wish to type. The terminal is put back as it was."""
    if os.name == "nt":
        yield _windows_keys()
        return
    import termios
    import tty

    stream = sys.stdin.fileno()
    before: list[Any] = termios.tcgetattr(stream)
    try:
        tty.setcbreak(stream)  # Ctrl-C still stops
        yield _posix_keys(stream)
    finally:
        termios.tcsetattr(stream, termios.TCSADRAIN, before)


def _posix_keys(stream: int) -> Iterator[Key | None]:
    typed = b""
    while True:
        more = os.read(stream, 64)
        typed += more
        if not more or typed[:1] in (b"t", b"T", b"\x04"):
            yield None
            return
        while typed:
            name = next((n for n in _POSIX if typed.startswith(n)), None)
            if name is None and any(n.startswith(typed) for n in _POSIX):
                break  # the rest of this key is still to come
            if name is not None:
                yield _POSIX[name]
            typed = typed[len(name) if name else 1 :]


def _windows_keys() -> Iterator[Key | None]:
    import msvcrt

    read: Any = getattr(msvcrt, "getwch")  # noqa: B009  # not there on other systems
    while True:
        typed = read()
        if typed == "\x03":
            raise KeyboardInterrupt
        if typed in "tT":
            yield None
            return
        key: Key | None = None
        if typed in "\x00\xe0":
            key = _WINDOWS.get(read())
        elif typed in "\r\x08":
            key = "enter" if typed == "\r" else "back"
        if key is not None:
            yield key
