"""A photo that wasn't read, in words; light, so that a refusal is as quick as it is plain."""

from __future__ import annotations

import shutil
import textwrap

from contactread.errors import ContactreadError
from contactread.show.text import printable


def refusal_text(name: str, error: ContactreadError, width: int | None = None) -> str:
    """Lines for the terminal: which photo, why it wasn't read, what to do, and the code."""
    width = width or min(shutil.get_terminal_size((80, 24)).columns, 100)
    shown = printable(name)
    lines = [
        f"{shown} " + "-" * max(3, width - len(shown) - 1),
        textwrap.fill(f"Not read. {printable(error.message)}", width, break_on_hyphens=False),
        textwrap.fill(f"Next: {printable(error.next_step)} [{error.code}]", width, break_on_hyphens=False),
    ]
    return "\n".join([*lines, ""])
