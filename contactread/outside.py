"""The one strict reader of what comes from outside: ordinary files of bounded size, text in UTF-8, JSON and
TOML of bounded depth with plain numbers.

Every room that takes a file from somebody reads it here and turns `Unfit` into its own coded error.
"""

from __future__ import annotations

import math
import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, NoReturn

DEEPEST = 32  # tables or lists inside each other
_LONGEST_NUMBER = 40  # characters; a float64 needs 24
_LARGEST_COUNT = 2**63

Kind = Literal["missing", "folder", "special", "too-big", "unreadable", "syntax"]


class Unfit(Exception):
    """What is wrong with something from outside, as words to follow "...: ", without a full stop."""

    def __init__(self, kind: Kind, reason: str) -> None:
        super().__init__(reason)
        self.kind = kind


def read_bytes(path: Path, most: int) -> bytes:
    """All bytes of an ordinary file of at most `most`. Raises Unfit; never waits for a pipe or a device."""
    try:
        _refuse_special(path.stat().st_mode)  # opening some devices already does something
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        with open(os.open(path, flags), "rb") as file:  # noqa: PTH123 (a handle, not a path)
            about = os.fstat(file.fileno())
            _refuse_special(about.st_mode)  # another may lie there now
            data = b"" if about.st_size > most else file.read(most + 1)
    except FileNotFoundError as error:
        raise Unfit("missing", "there is no such file") from error
    except OSError as error:
        raise Unfit("unreadable", error.strerror or "the system gave no reason") from error
    except ValueError as error:  # a null or an undecodable character in the name
        raise Unfit("missing", "no file can have such a name") from error
    if len(data) > most or about.st_size > most:
        raise Unfit("too-big", f"it is too big; at most {most / 1e6:g} MB are read")
    return data


def _refuse_special(mode: int) -> None:
    if stat.S_ISDIR(mode):
        raise Unfit("folder", "it is a folder, not a file")
    if not stat.S_ISREG(mode):
        raise Unfit("special", "it is a pipe or a device, not a file")


def read_text(path: Path, most: int) -> str:
    """The text of an ordinary file in UTF-8, with or without a byte order mark. Raises Unfit."""
    try:
        return read_bytes(path, most).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Unfit("unreadable", f"it isn't text in UTF-8 (byte {error.start + 1})") from error


def read_json(path: Path, most: int) -> Any:
    """What a JSON file says, see `from_json`. Raises Unfit."""
    return from_json(read_text(path, most))


def from_json(text: str | bytes) -> Any:
    """What JSON says. Raises Unfit (syntax): not JSON, a key twice, a number that isn't finite or is far too
    large, half a character, too deep.
    """
    import json

    try:
        found = json.loads(
            text, object_pairs_hook=_once, parse_constant=_no_number, parse_float=_decimal, parse_int=_whole
        )
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise Unfit("syntax", f"it isn't valid JSON ({error.msg}, {place})") from error
    except RecursionError as error:
        raise _too_deep() from error
    except UnicodeDecodeError as error:
        raise Unfit("unreadable", "it isn't text in UTF-8") from error
    _check(found)
    return found


def from_toml(text: str) -> dict[str, Any]:
    """What TOML says. Raises Unfit (syntax) as `from_json`."""
    import tomllib

    try:
        found = tomllib.loads(text, parse_float=_decimal)
    except RecursionError as error:
        raise _too_deep() from error
    except ValueError as error:  # also a whole number of thousands of digits
        raise Unfit("syntax", f"it isn't valid TOML: {error}") from error
    _check(found)
    return found


def toml_string(text: str) -> str:
    """The text as TOML and JSON write it, in quotes."""
    import json

    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in found if names.count(name) > 1)
        raise Unfit("syntax", f"the key {_short(twice)} stands there twice")
    return found


def _no_number(word: str) -> NoReturn:
    raise Unfit("syntax", f"{word} is not a number")


def _decimal(word: str) -> float:
    if len(word) > _LONGEST_NUMBER or not math.isfinite(value := float(word)):
        raise Unfit("syntax", f"the number {_short(word)} can't be used")
    return value


def _whole(word: str) -> int:
    if len(word) > _LONGEST_NUMBER or abs(value := int(word)) >= _LARGEST_COUNT:
        raise Unfit("syntax", f"the number {_short(word)} can't be used")
    return value


def _check(found: Any) -> None:
    """Depth, numbers and characters of what was parsed; level by level, so that no depth costs a stack."""
    level = [found]
    for _ in range(DEEPEST + 1):
        inside: list[Any] = []
        for each in level:
            if isinstance(each, str):
                if not each.isascii() and any("\ud800" <= char <= "\udfff" for char in each):
                    raise Unfit("syntax", "it holds half a character (a lone surrogate)")
            elif isinstance(each, int) and abs(each) >= _LARGEST_COUNT:
                raise Unfit("syntax", f"the number {_short(hex(each))} can't be used")
            elif isinstance(each, dict):
                inside += [*each, *each.values()]
            elif isinstance(each, list):
                inside += each
        level = inside
        if not level:
            return
    raise _too_deep()


def _too_deep() -> Unfit:
    return Unfit("syntax", f"its parts lie more than {DEEPEST} deep in each other")


def _short(text: str) -> str:
    return ascii(text if len(text) <= 40 else f"{text[:37]}...")


@dataclass(frozen=True)
class Given:
    """A value from outside and its place, taken apart with a check at each step; each raises Unfit naming the
    place, such as ``photos[0].pattern.centroid``.
    """

    value: Any
    place: str = ""

    def key(self, name: str) -> Given:
        """The value under a key that must be there."""
        found = self.get(name)
        if found is None:
            raise Unfit("syntax", f"{self.place or 'it'} lacks {name!r}")
        return found

    def get(self, name: str) -> Given | None:
        """The value under a key; None where it is absent or null."""
        if not isinstance(self.value, dict):
            raise self._wrong("an object")
        value = self.value.get(name)
        return None if value is None else Given(value, f"{self.place}.{name}".lstrip("."))

    def each(self, most: int) -> Iterator[Given]:
        """The values of a list of at most so many."""
        if not isinstance(self.value, list) or len(self.value) > most:
            raise self._wrong(f"a list of at most {most}")
        return (Given(value, f"{self.place}[{at}]") for at, value in enumerate(self.value))

    def number(self, least: float, most: float) -> float:
        """A number within limits."""
        fine = isinstance(self.value, int | float) and not isinstance(self.value, bool)
        if not fine or not least <= self.value <= most:
            raise self._wrong(f"a number from {least:g} to {most:g}")
        return float(self.value)

    def pair(self, least: float, most: float) -> tuple[float, float]:
        """Two numbers within limits."""
        if not isinstance(self.value, list) or len(self.value) != 2:
            raise self._wrong("two numbers")
        first, second = (each.number(least, most) for each in self.each(2))
        return first, second

    def span(self, least: float, most: float) -> tuple[float, float]:
        """Two numbers within limits, the lesser first."""
        first, second = self.pair(least, most)
        if first > second:
            raise self._wrong("two numbers in rising order")
        return first, second

    def text(self) -> str:
        """Words."""
        if not isinstance(self.value, str):
            raise self._wrong("words")
        return self.value

    def _wrong(self, expected: str) -> Unfit:
        return Unfit("syntax", f"{self.place or 'it'} isn't {expected}")
