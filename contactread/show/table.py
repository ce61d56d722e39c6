"""Tables for the terminal and for spreadsheets. Text from users can't act in either."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Sequence

from contactread.records.moments import day
from contactread.show.text import printable
from contactread.units import MM_PER_THOU, shown_in

Cell = str | int | float | None
WIDTH = 80  # of a terminal; every table fits
_NARROWEST = 8  # what a column of words is cut to, if need be
_WIDEST = 44  # what words are cut to in any case
_BESIDE = 24  # widest value of a row that stands beside others
_UNIT = {"both": "mm (thou)", "mm": "mm", "inch": "thou"}
# A spreadsheet takes a cell that begins with one of these for a formula (OWASP, "CSV Injection").
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def text_table(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> str:
    """Columns side by side in `WIDTH` columns; numbers to the right; long words cut with an ellipsis, long
    headings over several lines. Where that can't be, each row's values stand below one another instead."""
    heads = [printable(name).split(" ") for name in columns]
    cells = [[_shown(cell) for cell in row] for row in rows]
    widths = [
        max([*map(width_of, heads[i]), *(width_of(row[i]) for row in cells)], default=0)
        for i in range(len(columns))
    ]
    right = [any(isinstance(row[i], int | float) for row in rows) for i in range(len(columns))]
    least = [
        w if right[i] else min(w, max(_NARROWEST, *map(width_of, heads[i]))) for i, w in enumerate(widths)
    ]
    gaps = 2 * (len(columns) - 1)
    if sum(least) + gaps > WIDTH:
        return _sideways(columns, cells)
    while sum(widths) + gaps > WIDTH:
        widest_at = max((i for i in range(len(widths)) if widths[i] > least[i]), key=widths.__getitem__)
        widths[widest_at] -= 1
    titles = [_wrapped(words, width) for words, width in zip(heads, widths, strict=True)]
    tall = max(map(len, titles))
    head = [[""] * (tall - len(title)) + title for title in titles]
    lines = [_line([title[k] for title in head], widths, right) for k in range(tall)]
    lines.append("  ".join("-" * w for w in widths))
    cut = [[_cut(cell, width) for cell, width in zip(row, widths, strict=True)] for row in cells]
    return "\n".join([*lines, *(_line(row, widths, right) for row in cut)])


def answer_table(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> str:
    """A table for reading: lengths in the units that are shown, days instead of moments, empty columns left
    out."""
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
    return f"{words}, {_UNIT[shown_in()]}" if column.endswith("_mm") else words


def _readable(column: str, cell: Cell) -> Cell:
    if column.endswith("_mm") and isinstance(cell, int | float):
        mm, thou = f"{cell:.3f}", f"{cell / MM_PER_THOU:.1f}"
        return {"both": f"{mm} ({thou})", "mm": mm, "inch": thou}[shown_in()]
    if column.endswith("_at") and isinstance(cell, str):
        return day(cell)
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


def _shown(cell: Cell) -> str:
    if cell is None:
        return "-"
    if isinstance(cell, float):
        return f"{cell:.3f}"
    return _cut(printable(cell), _WIDEST)


def _cut(text: str, width: int) -> str:
    if width_of(text) <= width:
        return text
    while width_of(text) >= width:
        text = text[:-1]
    return text + "…"


def _wrapped(words: list[str], width: int) -> list[str]:
    lines = [words[0]]
    for word in words[1:]:
        if width_of(lines[-1]) + 1 + width_of(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _sideways(columns: Sequence[str], cells: Sequence[Sequence[str]]) -> str:
    """Each column as a line, the rows beside one another, as many as fit; the rest below."""
    names = [printable(name) for name in columns]
    label = max(map(width_of, names))
    most = WIDTH - label - 2
    blocks: list[str] = []
    start = 0
    while start < len(cells) or not blocks:
        widths: list[int] = []
        for row in cells[start:]:
            width = min(most, _BESIDE, max(map(width_of, row)))
            if widths and sum(widths) + 2 * len(widths) + width > most:
                break
            widths.append(width)
        group = cells[start : start + len(widths)]
        lines = []
        for i, name in enumerate(names):
            texts = [_cut(row[i], w) for row, w in zip(group, widths, strict=True)]
            lines.append(_line([name, *texts], [label, *widths], [False, *([True] * len(widths))]))
        blocks.append("\n".join(lines))
        start += max(1, len(widths))
    return "\n\n".join(blocks)


def _line(cells: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> str:
    padded = []
    for cell, width, to_right in zip(cells, widths, right, strict=True):
        space = " " * (width - width_of(cell))
        padded.append(space + cell if to_right else cell + space)
    return "  ".join(padded).rstrip()


def width_of(text: str) -> int:
    """Columns that a text takes in a terminal: wide characters take two, combining ones none."""
    wide = sum(unicodedata.east_asian_width(c) in "WF" for c in text)
    return len(text) + wide - sum(unicodedata.combining(c) > 0 for c in text)
