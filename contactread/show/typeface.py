"""The open typeface that comes with contactread, so that pages and drawings look the same on every machine.

Its files and licence lie in `fonts/`. It has Latin, Greek and Cyrillic letters; others come from the system.
"""

from __future__ import annotations

import base64
from functools import cache
from pathlib import Path

FAMILY = "Contact Sheet Sans"
# Names without quotes: they stand in attributes as well.
FALLBACK = "Arial, Helvetica, sans-serif"


def font_file(bold: bool) -> Path:
    """The TrueType file of one weight."""
    return Path(__file__).parent / "fonts" / f"sheet-{'bold' if bold else 'regular'}.ttf"


@cache
def font_faces(*weights: bool) -> str:
    """CSS that brings the typeface along inside the file. weights: False for regular, True for bold."""
    faces = []
    for bold in weights:
        data = base64.b64encode(font_file(bold).read_bytes()).decode("ascii")
        faces.append(
            f"@font-face {{ font-family: '{FAMILY}'; font-weight: {700 if bold else 400}; "
            f"src: url(data:font/ttf;base64,{data}) format('truetype'); }}"
        )
    return "\n".join(faces)
