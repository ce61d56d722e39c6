"""Templates, and what all of them know."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from contactread.errors import ContactreadError
from contactread.show.text import printable
from contactread.web.pairing import Session

HERE = Path(__file__).parent
# Of a page that is one whole file, with its own style and pictures: it may run and load nothing.
SANDBOX = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; "
    "frame-ancestors 'none'; sandbox"
)


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_safe,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["points"] = points
    return environment


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page from its template."""
    session: Session | None = getattr(request.state, "session", None)
    known = {"paired": session is not None, "key": "" if session is None else session.key}
    return HTMLResponse(_environment().get_template(template).render(**known, **values), status)


def error_page(error: ContactreadError, status: int, paired: bool) -> HTMLResponse:
    """What happened, why, and what to do next."""
    text = _environment().get_template("error.html").render(error=error, paired=paired)
    return HTMLResponse(text, status)


def points(line: list[list[float]]) -> str:
    """Points of a line as SVG wants them."""
    return " ".join(f"{x:g},{y:g}" for x, y in line)


def _safe(value: Any) -> Any:
    """Control and invisible characters spelled out; autoescape then takes care of markup."""
    return value if isinstance(value, Markup) or not isinstance(value, str) else printable(value)
