"""Text from outside, made safe to print: file names, notes and EXIF words can carry control characters."""

from __future__ import annotations

import unicodedata

# Cc: control codes (a terminal obeys them). Cf: invisible marks that reorder or hide text.
# Cs: half characters from undecodable file names. Zl, Zp: line breaks that aren't "\n".
_UNSAFE = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def printable(text: object) -> str:
    """The text on one line, with every control or invisible character spelled out as an escape."""
    told = str(text)
    if told.isprintable():  # none of those, as nearly all text
        return told
    return "".join(
        char.encode("unicode_escape").decode("ascii") if unicodedata.category(char) in _UNSAFE else char
        for char in told
    )


def shortened(words: str, most: int) -> str:
    """At most so many characters."""
    return words if len(words) <= most else words[: most - 1] + "…"
