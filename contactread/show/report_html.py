"""The one-page report as one HTML file: no outside request, no script, safe whatever a user wrote."""

from __future__ import annotations

import base64
from pathlib import Path
from typing import Any

from markupsafe import Markup

from contactread.show import measure_text
from contactread.show.report_page import ReportPage
from contactread.show.templates import templates, typeface
from contactread.show.typeface import FAMILY


def report_html(page: ReportPage, paper: str = "auto") -> str:
    """The file's text. Prints on A4 and Letter; narrow screens get one column.

    paper: what it is printed on, "auto" for what the printer holds, else "A4" or "letter".
    """
    return (
        templates(Path(__file__).parent)
        .get_template("report.html")
        .render(
            page=page,
            paper=paper,
            typeface=typeface(),
            family=FAMILY,
            picture=_picture,
            chart=_chart,
            words=measure_text,
        )
    )


def _picture(jpeg: bytes) -> str:
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")


def _chart(chart: Any) -> Markup:
    # The drawing escapes its own words.
    return Markup(chart.svg(alone=False))
