"""The one-page report as one HTML file: no outside request, no script, safe whatever a user wrote."""

from __future__ import annotations

import base64
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from contactread.show.report_page import ReportPage
from contactread.show.text import printable
from contactread.show.typeface import FAMILY, font_faces


def report_html(page: ReportPage, paper: str = "auto") -> str:
    """The file's text. Prints on A4 and Letter; narrow screens get one column.

    paper: what it is printed on, "auto" for what the printer holds, else "A4" or "letter".
    """
    environment = Environment(
        loader=PackageLoader("contactread.show", "."),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_safe,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    typeface = Markup(font_faces(False, True))  # our own file: nothing of a user's is in it
    return environment.get_template("report.html").render(
        page=page, paper=paper, typeface=typeface, family=FAMILY, picture=_picture, chart=_chart
    )


def _safe(value: Any) -> Any:
    """Control and invisible characters spelled out; autoescape then takes care of markup."""
    return value if isinstance(value, Markup) or not isinstance(value, str) else printable(value)


def _picture(jpeg: bytes) -> str:
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")


def _chart(chart: Any) -> Markup:
    # The drawing escapes its own words.
    return Markup(chart.svg(alone=False))
