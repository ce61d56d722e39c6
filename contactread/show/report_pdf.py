"""The one-page report as a PDF, by the extra `pdf`."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from contactread.errors import MissingExtraError
from contactread.show.report_page import MeasureLine, ReportPage, SideBlock
from contactread.show.text import printable

# A font of the system shows any name; the PDF's own fonts know Latin letters only.
_FONTS = (
    ("/usr/share/fonts/truetype/liberation", "LiberationSans-Regular.ttf", "LiberationSans-Bold.ttf"),
    ("/usr/share/fonts/truetype/dejavu", "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
    ("/usr/share/fonts/dejavu-sans-fonts", "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
    ("/usr/share/fonts/TTF", "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
    ("C:/Windows/Fonts", "arial.ttf", "arialbd.ttf"),
    ("/System/Library/Fonts/Supplemental", "Arial.ttf", "Arial Bold.ttf"),
)
_PLAIN = str.maketrans({"–": "-", "…": "...", "’": "'", "“": '"', "”": '"'})
_STATE_INK = {"good": (19, 92, 58), "open": (122, 74, 5), "stopped": (140, 29, 24)}
INK = (28, 36, 48)
MARGIN, WIDE = 10.0, 190.0  # mm on A4; fits the width of Letter too


def report_pdf(page: ReportPage) -> bytes:
    """The PDF's bytes. Raises `MissingExtraError`."""
    try:
        import fpdf
    except ImportError:
        raise MissingExtraError("pdf", "A report as PDF") from None
    sheet = _Sheet(fpdf.FPDF(format="A4"))
    sheet.words("CONTACT PATTERN REPORT", 9, bold=True)
    sheet.words(page.title, 19, bold=True)
    sheet.verdict(page)
    sheet.pairs(page.about)
    if page.sides:
        sheet.heading("Contact pattern")
        sheet.sides(page.sides)
        sheet.words(page.legend, 8.5)
    if page.measures:
        sheet.heading("Measured, against the limits of this axle's file")
        rows = [(m.name, m.value, m.limit, m.verdict) for m in page.measures]
        sheet.table(
            ("Measured", "Value", "Limit", "Verdict"), rows, (40, 50, 58, 42), _outside(page.measures)
        )
    if page.tries:
        sheet.heading("Moves made, try by try")
        lines = [(f"{t.number}, {t.by}", t.built, t.found, t.advice or "none") for t in page.tries]
        sheet.table(
            ("Try", "Built with", "Found (centre: length / height)", "Advice"), lines, (22, 54, 70, 44), set()
        )
        if page.earlier_tries:
            sheet.words(f"{page.earlier_tries} earlier tries are in the shop book.", 9)
    if page.confirmed:
        sheet.gap(1)
        words = " ".join(page.confirmed)
        sheet.words(f"Confirmed on the axle by the person who signed: {words}", 9)
    sheet.gap(2)
    sheet.words(page.statement, 10.5, bold=True)
    sheet.words(" ".join(page.cautions), 9.5)
    sheet.words(page.footer, 8.5)
    return sheet.data()


def _outside(measures: tuple[MeasureLine, ...]) -> set[int]:
    return {number for number, line in enumerate(measures) if line.sign == "✗"}


class _Sheet:
    """The page being written, from top to bottom."""

    def __init__(self, pdf: Any) -> None:
        self._pdf = pdf
        pdf.set_margin(MARGIN)
        pdf.set_auto_page_break(True, MARGIN)
        self._family = "helvetica"
        for folder, regular, bold in _FONTS:
            if all((Path(folder) / name).is_file() for name in (regular, bold)):
                pdf.add_font("page", "", Path(folder) / regular)
                pdf.add_font("page", "B", Path(folder) / bold)
                self._family = "page"
                break
        pdf.add_page()
        pdf.set_text_color(*INK)
        pdf.set_draw_color(*INK)

    def data(self) -> bytes:
        return bytes(self._pdf.output())

    def gap(self, mm: float) -> None:
        self._pdf.ln(mm)

    def words(self, text: str, size: float, bold: bool = False) -> None:
        self._font(size, bold)
        self._pdf.multi_cell(0, size * 0.45, self._safe(text), new_x="LMARGIN", new_y="NEXT", align="L")

    def pairs(self, pairs: Sequence[tuple[str, str]]) -> None:
        """Names and words; two short ones share a line."""
        left = True
        for number, (name, words) in enumerate(pairs):
            self._font(10, True)
            self._pdf.cell(24, 4.3, self._safe(name))
            self._font(10, False)
            short = [self._pdf.get_string_width(self._safe(w)) < WIDE / 2 - 25 for _, w in pairs]
            shares = left and short[number] and number + 1 < len(pairs) and short[number + 1]
            if shares:
                self._pdf.cell(WIDE / 2 - 24, 4.3, self._safe(words))
            else:
                self._pdf.multi_cell(0, 4.3, self._safe(words), new_x="LMARGIN", new_y="NEXT", align="L")
            left = not shares

    def heading(self, text: str) -> None:
        self.gap(1.2)
        y = self._pdf.get_y()
        self._pdf.set_line_width(0.8)
        self._pdf.line(MARGIN, y, MARGIN + WIDE, y)
        self._pdf.set_line_width(0.2)
        self.gap(1)
        self.words(text, 13, bold=True)
        self.gap(0.5)

    def verdict(self, page: ReportPage) -> None:
        """The verdict beside a thick bar; its words say what the bar's colour does."""
        self.gap(1.5)
        top = self._pdf.get_y()
        self._pdf.set_left_margin(MARGIN + 7)
        self._pdf.set_x(MARGIN + 7)
        self.words(page.headline, 16, bold=True)
        for sentence in page.details:
            self.words(f"- {sentence}", 10.5)
        self._pdf.set_left_margin(MARGIN)
        self._pdf.set_fill_color(*_STATE_INK[page.state])
        self._pdf.rect(MARGIN, top, 4, self._pdf.get_y() - top, style="F")
        self._pdf.set_fill_color(255, 255, 255)
        self.gap(2)

    def sides(self, sides: tuple[SideBlock, ...]) -> None:
        """Two columns: words, photo, chart."""
        column, top, lowest = (WIDE - 6) / 2, self._pdf.get_y(), 0.0
        for number, side in enumerate(sides):
            left = MARGIN + number * (column + 6)
            self._pdf.set_xy(left, top)
            self._font(12, True)
            self._pdf.multi_cell(column, 5.4, self._safe(side.heading), new_x="LEFT", new_y="NEXT", align="L")
            self._font(9.5, False)
            self._pdf.multi_cell(column, 4.2, self._safe(side.words), new_x="LEFT", new_y="NEXT", align="L")
            y = self._pdf.get_y() + 1
            if side.photo:
                y += self._picture(side.photo, left, y, column, 34) + 1
            if side.chart:
                y += self._picture(side.chart.png(3), left, y, column, 33)
            lowest = max(lowest, y)
        self._pdf.set_xy(MARGIN, lowest)

    def table(
        self,
        heads: tuple[str, ...],
        rows: Sequence[tuple[str, ...]],
        widths: tuple[int, ...],
        marked: set[int],
    ) -> None:
        self._font(9, False)
        from fpdf.enums import TableBordersLayout
        from fpdf.fonts import FontFace

        with self._pdf.table(
            col_widths=widths, text_align="LEFT", line_height=4.0, width=int(WIDE), align="LEFT",
            borders_layout=TableBordersLayout.HORIZONTAL_LINES, headings_style=FontFace(emphasis="BOLD"),
            padding=(0.4, 1, 0.4, 0),
        ) as table:  # fmt: skip
            table.row([self._safe(head) for head in heads])
            for number, row in enumerate(rows):
                style = FontFace(fill_color=(251, 227, 224), emphasis="BOLD") if number in marked else None
                table.row([self._safe(cell) for cell in row], style=style)

    def _picture(self, data: bytes, x: float, y: float, width: float, height: float) -> float:
        """A picture inside a box, in its own proportions; its height."""
        import PIL.Image

        with PIL.Image.open(io.BytesIO(data)) as image:
            share = min(width / image.width, height / image.height)
            wide, tall = image.width * share, image.height * share
        self._pdf.image(io.BytesIO(data), x=x, y=y, w=wide, h=tall)
        return tall

    def _font(self, size: float, bold: bool) -> None:
        self._pdf.set_font(self._family, "B" if bold else "", size)

    def _safe(self, text: str) -> str:
        words = printable(text)
        if self._family == "page":
            return words
        return words.translate(_PLAIN).encode("latin-1", "replace").decode("latin-1")
