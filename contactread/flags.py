"""The one registry of quality flags (`flags.toml`): what can be wrong with a photo or a reading.

A flag either refuses the photo (``refuses``) or is carried with the reading. Help, reports, practice
and the JSON output all take their words from here; nothing else spells out what a flag means.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from contactread.errors import PhotoError


@dataclass(frozen=True)
class Flag:
    """One thing that can be wrong with a photo or a reading.

    code: stable kebab-case name, the same in JSON, help and the shop book.
    short: two to four words for a table.
    meaning: what it is and why it matters, one sentence.
    next_step: what a mechanic does about it, one sentence.
    refuses: True where a photo with this flag isn't read at all.
    """

    code: str
    short: str
    meaning: str
    next_step: str
    refuses: bool = False

    def refusal(self, detail: str = "") -> PhotoError:
        """The error that refuses a photo for this flag; `detail` is one more sentence of fact."""
        message = f"{self.meaning} {detail}".strip()
        return PhotoError(self.code, message, self.next_step)


def _flags() -> tuple[Flag, ...]:
    text = Path(__file__).with_suffix(".toml").read_text(encoding="utf-8")
    return tuple(Flag(code, **told) for code, told in tomllib.loads(text).items())


FLAGS = _flags()
_BY_CODE = {flag.code: flag for flag in FLAGS}


def flag(code: str) -> Flag:
    """The flag with this code; KeyError where there is none."""
    return _BY_CODE[code]
