"""Pages from templates: safe whatever a user wrote."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from contactread.show.text import printable


@cache
def templates(folder: Path) -> Environment:
    """The templates of a folder, beside what a page that is one whole file begins with (`whole_page.html`).

    Every value is escaped unless it is a drawing (`Markup`).
    """
    return Environment(
        loader=FileSystemLoader((folder, Path(__file__).parent)),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_safe,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def typeface() -> Markup:
    """The style that brings our typeface along; nothing of a user's is in it."""
    from contactread.show.typeface import font_faces

    return Markup(font_faces(False, True))


def _safe(value: Any) -> Any:
    """Control and invisible characters spelled out; autoescape then takes care of markup."""
    return value if isinstance(value, Markup) or not isinstance(value, str) else printable(value)
