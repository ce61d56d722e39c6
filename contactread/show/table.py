"""Tables for the terminal and for spreadsheets. Text from users can't act in either."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Sequence

from contactread.show.text import printable
from contactread.units import MM_PER_THOU

Cell = str | int | float | None
# A spreadsheet takes a cell that begins with one of these for a formula (OWASP, "CSV Injection").
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def text_table(columns: Sequence[str], rows: Sequence[Sequence[Cell]], widest: int = 44) -> str:
    """Columns side by side; numbers to the right; long words cut with an ellipsis."""
    cells = [[_shown(cell, widest) for cell in row] for row in rows]
    widths = [
        max([_width(name), *(_width(row[i]) for row in cells)], default=0) for i, name in enumerate(columns)
    ]
    right = [any(isinstance(row[i], int | float) for row in rows) for i in range(len(columns))]
    lines = [_line([printable(name) for name in columns], widths, right), "  ".join("-" * w for w in widths)]
    return "\n".join([*lines, *(_line(row, widths, right) for row in cells)])


def answer_table(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> str:
    """A table for reading: lengths in mm and thousandths, days instead of moments, empty columns left out."""
    kept = [
        i for i, name in enumerate(columns) if name != "sha256" and any(row[i] is not None for row in rows)
    ]
    names = [_heading(columns[i]) for i in kept]
    return text_table(names, [[_readable(columns[i], row[i]) for i in kept] for row in rows])


def csv_table(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> str:
    """CSV by RFC 4180. Text that a spreadsheet would run as a formula gets an apostrophe before it."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_harmless(cell) for cell in row] for row in rows)
    return out.getvalue()


def _heading(column: str) -> str:
    if column.endswith(("_u", "_v")):  # centres of patterns, as fractions of the flank
        return f"{column[:-2]}, from {'toe' if column.endswith('_u') else 'root'}"
    words = column.removesuffix("_mm").removesuffix("_at").replace("_", " ")
    return f"{words}, mm (thou)" if column.endswith("_mm") else words


def _readable(column: str, cell: Cell) -> Cell:
    if column.endswith("_mm") and isinstance(cell, int | float):
        return f"{cell:.3f} ({cell / MM_PER_THOU:.1f})"
    if column.endswith("_at") and isinstance(cell, str):
        return cell[:10]
    if column.endswith(("_u", "_v")) and isinstance(cell, float):
        return f"{cell:.0%}"
    if column == "advice" and isinstance(cell, str):
        return cell.replace("_", " ")
    return cell


def _harmless(cell: Cell) -> Cell:
    if not isinstance(cell, str):
        return cell
    text = "".join(c for c in cell if c in "\n\t" or unicodedata.category(c) not in ("Cc", "Cs"))
    # Leading blanks don't stop every spreadsheet from seeing the formula behind them.
    return f"'{text}" if text.lstrip().startswith(_FORMULA) or text.startswith(_FORMULA) else text


def _shown(cell: Cell, widest: int) -> str:
    if cell is None:
        return "-"
    if isinstance(cell, float):
        return f"{cell:.3f}"
    text = printable(cell)
    return text if _width(text) <= widest else text[: widest - 1] + "…"


def _line(cells: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> str:
    padded = []
    for cell, width, to_right in zip(cells, widths, right, strict=True):
        space = " " * (width - _width(cell))
        padded.append(space + cell if to_right else cell + space)
    return "  ".join(padded).rstrip()


def _width(text: str) -> int:
    """Columns that a text takes in a terminal: wide characters take two, combining ones none."""
    wide = sum(unicodedata.east_asian_width(c) in "WF" for c in text)
    return len(text) + wide - sum(unicodedata.combining(c) > 0 for c in text)
