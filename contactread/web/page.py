"""Templates, and what all of them know."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from contactread.advice.spoken import percent
from contactread.errors import ContactreadError
from contactread.show.templates import templates
from contactread.web.pairing import Session

HERE = Path(__file__).parent
# Of a page that is one whole file, with its own style and pictures: it may run and load nothing.
SANDBOX = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; "
    "frame-ancestors 'none'; sandbox"
)

# The point of a number with its unit behind it, as nothing but numbers for people has one. What stands in a
# field is left as it is: it must read back, and "1,024 mm" could be a thousand.
_POINT = re.compile(
    r'(value="[^"]*")|(?<![\d.])(\d+)\.'
    r"(?=\d+(?:\s|&nbsp;)?(?:mm|thou|in\b|in-lb|ft-lb|N·m|%(?![0-9A-F]{2})|notch|tries))"
)
# Languages that write a comma before decimals, and countries that don't (from memory, of Unicode's CLDR).
_COMMA = (
    "af be bg bs ca cs da de el es et eu fi fr gl hr hu id is it ka kk lt lv mk nb nl nn no pl pt ro ru sk "
    "sl sq sr sv tr uk vi"
)
_POINT_AFTER_ALL = ("es-mx", "es-us", "es-gt", "es-hn", "es-ni", "es-pa", "es-pe", "es-pr", "es-sv", "de-ch",
                    "de-li", "it-ch")  # fmt: skip


_COMMAND = re.compile(r"'contactread |--[a-z]")
_HERE = {
    "record-half": "Go back and fill in what is missing, then send it again.",
    "record-doubt": "Go back and check the number and its unit. If it is right, tick 'Right as written'.",
    "job-missing": "Choose a job under Jobs.",
    "job-struck": "Open the job and press 'Undo my last entry', or work on another job.",
    "job-closed": "Open the job and choose 'Open it again', or open a new one if the axle came back.",
    "photo-in-another-try": "Check that it is the right photo: one photo shows one try. 'Look' can move it.",
    "photo-copied": "Open that photo with 'Look', strike it out, and photograph again.",
    "try-missing": "Send the photos of a first try, then come back.",
    "photo-unknown": "Go back and send the photo again.",
    "same-side-twice": "Send a photo of the other side. If one shows that already, use 'Correct it' and swap "
    "its side.",
    "undo-nothing": "Go back to the job.",
    "undo-done": "Go back to the job.",
    "undo-built-upon": "Take later entries back first, or correct the value.",
}


@cache
def _environment() -> Environment:
    environment = templates(HERE / "templates")
    environment.globals |= {"points": points, "percent": percent}
    return environment


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page from its template."""
    session: Session | None = getattr(request.state, "session", None)
    known = {"paired": session is not None, "key": "" if session is None else session.key}
    comma = decimal_mark(request.headers.get("accept-language", ""), session) == ","
    text = _environment().get_template(template).render(**known, comma=comma, **values)
    return HTMLResponse(_POINT.sub(lambda found: found[1] or f"{found[2]},", text) if comma else text, status)


def decimal_mark(languages: str, session: Session | None) -> str:
    """ "," or ".": what the person chose on this phone, else what goes with the phone's first language."""
    if session is not None and session.decimals:
        return session.decimals
    tag = languages.split(",")[0].split(";")[0].strip().lower()
    return "," if tag.split("-")[0] in _COMMA.split() and tag not in _POINT_AFTER_ALL else "."


def error_page(error: ContactreadError, status: int, paired: bool) -> HTMLResponse:
    """What happened, why, and what to do next."""
    text = (
        _environment()
        .get_template("error.html")
        .render(error=error, next_step=next_step(error), paired=paired, comma=False)
    )
    return HTMLResponse(text, status)


def next_step(error: ContactreadError) -> str:
    """What to do next, in the page's own words where the error's name a command or an option."""
    if not _COMMAND.search(error.next_step):
        return error.next_step
    return _HERE.get(error.code, f"On the computer that serves this page: {error.next_step}")


def points(line: list[list[float]]) -> Markup:
    """Points of a line as SVG wants them."""
    return Markup(" ".join(f"{x:g},{y:g}" for x, y in line))
