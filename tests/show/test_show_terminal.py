"""What the terminal shows of readings and advice."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from made_reading import made_reading, made_side
from rich.console import Console

from contactread.advice.advise import advise
from contactread.belief.targets import target_for
from contactread.errors import PhotoError
from contactread.flags import flag
from contactread.reading import pair
from contactread.show.flank_text import COLUMNS, ROWS, flank_lines
from contactread.show.refusal import refusal_text
from contactread.show.terminal import print_advice, print_reading
from contactread.show.text import printable


def printed(width: int = 100) -> tuple[Console, io.StringIO]:
    out = io.StringIO()
    return Console(file=out, width=width, highlight=False), out


def squeezed(out: io.StringIO) -> str:
    return " ".join(out.getvalue().split())


@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("centre", [(0.1, 0.2), (0.42, 0.35), (0.95, 0.99), (0.0, 0.0), (1.0, 1.0)])
def test_chart_shows_the_centre_in_its_place(centre: tuple[float, float], plain: bool) -> None:
    lines = flank_lines(made_side(centre=centre), target_for(None).zone("drive"), plain)
    assert len({len(line) for line in lines}) == 1
    mark = "+" if plain else "╋"
    inside = lines[1 : 1 + ROWS]
    found = [(line.index(mark), row) for row, line in enumerate(inside) if mark in line]
    column, row = found[0]
    assert abs((column - 1 + 0.5) / COLUMNS - centre[0]) < 1 / COLUMNS
    assert abs(1 - (row + 0.5) / ROWS - centre[1]) < 1 / ROWS
    words = "".join(lines)
    assert all(name in words for name in ("toe", "heel", "top", "root"))
    if plain:
        assert words.isascii()


@pytest.mark.parametrize("width", [60, 80, 120])
def test_reading_says_where_and_how_sure(width: int) -> None:
    to, out = printed(width)
    print_reading(to, "drive [1].jpg", made_reading())
    assert "drive [1].jpg" in out.getvalue()
    beside = COLUMNS + 4 if width >= 100 else 0  # where words stand beside the chart
    text = " ".join(" ".join(line[beside:] for line in out.getvalue().splitlines()).split())
    assert "42% of the length from the toe" in text
    assert "35% of the height from the root" in text
    assert "3 teeth were measured" in text
    for code in ("oblique", "scatter"):
        assert flag(code).short in text
    assert max(len(line) for line in out.getvalue().splitlines()) <= width


def test_refusal_says_what_to_do() -> None:
    text = refusal_text("evil\x1b[31m.jpg", PhotoError("too-dark", "It is too dark.", "Add a lamp. " * 9), 60)
    assert "\x1b" not in text
    assert "Add a lamp." in text
    assert "[too-dark]" in text
    assert max(len(line) for line in text.splitlines()) <= 63


def test_advice_shows_headline_cautions_and_sources() -> None:
    setup = pair(made_reading(centre=(0.42, 0.2)), made_reading(flank="concave", centre=(0.45, 0.2)))
    advice = advise(setup)
    to, out = printed()
    print_advice(to, advice)
    text = squeezed(out)
    assert advice.headline in text
    for caution in advice.cautions:
        assert text.count(caution[:30]) == 1
    assert "[A1" not in text
    to, out = printed()
    print_advice(to, advice, with_sources=True)
    assert any(f"[{', '.join(s.sources)}]" in squeezed(out) for s in advice.diagnosis)


def test_pair_sorts_sides_by_what_is_seen() -> None:
    drive, coast = made_reading(), made_reading(flank="concave")
    assert pair(coast, drive) == pair(drive, coast)
    with pytest.raises(Exception, match="--flank"):
        pair(drive, replace(drive))


def test_printable_spells_out_what_a_terminal_would_obey() -> None:
    assert printable("a\x1b[2Jb\nc\u202ed\ud800") == "a\\x1b[2Jb\\nc\\u202ed\\ud800"
    assert printable("Größe 測定 é") == "Größe 測定 é"
