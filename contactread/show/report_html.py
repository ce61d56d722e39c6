"""The one-page report as one HTML file: no outside request, no script, safe whatever a user wrote."""

from __future__ import annotations

import base64
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from contactread.show.report_page import ReportPage
from contactread.show.text import printable


def report_html(page: ReportPage) -> str:
    """The file's text. Prints on A4 and Letter; narrow screens get one column."""
    environment = Environment(
        loader=PackageLoader("contactread.show", "."),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_safe,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html").render(page=page, picture=_picture, chart=_chart)


def _safe(value: Any) -> Any:
    """Control and invisible characters spelled out; autoescape then takes care of markup."""
    return value if isinstance(value, Markup) or not isinstance(value, str) else printable(value)


def _picture(jpeg: bytes) -> str:
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")


def _chart(chart: Any) -> Markup:
    # The drawing escapes its own words.
    return Markup(chart.svg())
