"""Data on stdout, talk on stderr."""

from __future__ import annotations

import sys
from typing import Any

from contactread.show.text import printable


def say(words: str) -> None:
    """One line of talk for the person at the terminal."""
    print(printable(words), file=sys.stderr, flush=True)


def print_json(value: Any) -> None:
    """One object for programs."""
    import json

    print(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1), flush=True)
