"""CSV for a spreadsheet: nothing in it is run as a formula, whatever blanks stand before it."""

from __future__ import annotations

import csv
import io

import pytest

from contactread.show.table import csv_table


@pytest.mark.parametrize("blank", ["", " ", "  ", "\t", "\n", "\u00a0", "\u3000", "\x0b "])
@pytest.mark.parametrize("formula", ["=1+1", "+1", "-1", "@SUM(A1)"])
def test_a_formula_behind_blanks_is_text(blank: str, formula: str) -> None:
    (_, (cell,)) = csv.reader(io.StringIO(csv_table(("notes",), [(blank + formula,)]), newline=""))
    assert cell.startswith("'") and cell.endswith(formula)


def test_numbers_and_plain_words_stay() -> None:
    rows = list(csv.reader(io.StringIO(csv_table(("a", "b"), [(-1.5, "5 - 3 = 2")]), newline="")))
    assert rows[1] == ["-1.5", "5 - 3 = 2"]
