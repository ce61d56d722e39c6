"""The tag directory shared by TIFF files and EXIF blocks (TIFF 6.0, section 2)."""

from __future__ import annotations

import struct
from collections.abc import Sequence

ORIENTATION = 274
_LETTERS = {1: "B", 3: "H", 4: "I", 13: "I", 16: "Q", 18: "Q"}
# Our choices; a camera writes some dozens of tags.
_MOST_TAGS = 1000
_MOST_VALUES = 200_000


class BadDirectory(ValueError):
    """The tag directory contradicts itself or ends early."""


class Directory:
    """The first tag directory of `data`, classic TIFF or BigTIFF. Raises BadDirectory."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        if data[:2] not in (b"II", b"MM"):
            raise BadDirectory("no byte order mark")
        self._order = "<" if data[:2] == b"II" else ">"
        version = self._number("H", 2)
        if version not in (42, 43):
            raise BadDirectory("not a TIFF directory")
        self._big = version == 43
        offset = self._number("Q", 8) if self._big else self._number("I", 4)
        count = self._number("Q" if self._big else "H", offset)
        if count > _MOST_TAGS:
            raise BadDirectory("too many tags")
        first, size = (offset + 8, 20) if self._big else (offset + 2, 12)
        self._entries: dict[int, tuple[int, int, int]] = {}
        for place in range(first, first + count * size, size):
            tag, kind = self._number("H", place), self._number("H", place + 2)
            values = self._number("Q" if self._big else "I", place + 4)
            self._entries.setdefault(tag, (kind, values, place + (12 if self._big else 8)))

    def __contains__(self, tag: int) -> bool:
        return tag in self._entries

    def values(self, tag: int, default: Sequence[int] = ()) -> Sequence[int]:
        """The whole numbers of a tag; `default` where the tag is absent or holds something else."""
        if tag not in self._entries:
            return default
        kind, count, place = self._entries[tag]
        if kind not in _LETTERS or not 0 < count <= _MOST_VALUES:
            return default
        if count * struct.calcsize(f"={_LETTERS[kind]}") > (8 if self._big else 4):
            place = self._number("Q" if self._big else "I", place)
        try:
            return struct.unpack_from(f"{self._order}{count}{_LETTERS[kind]}", self._data, place)
        except (struct.error, OverflowError) as error:
            raise BadDirectory("a tag points outside the file") from error

    def value(self, tag: int, default: int) -> int:
        """The first whole number of a tag."""
        return self.values(tag, (default,))[0]

    def _number(self, letter: str, place: int) -> int:
        try:
            number: int = struct.unpack_from(self._order + letter, self._data, place)[0]
        except (struct.error, OverflowError) as error:
            raise BadDirectory("the directory ends early") from error
        return number


def exif_orientation(block: bytes) -> int:
    """The orientation (1 to 8) that an EXIF block asks for; 1 where it says nothing usable."""
    try:
        orientation = Directory(block).value(ORIENTATION, 1)
    except BadDirectory:  # a picture with spoilt EXIF is still a picture
        return 1
    return orientation if 1 <= orientation <= 8 else 1
