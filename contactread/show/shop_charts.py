"""Charts of a whole shop: tries for each job over time, start shim against final shim."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from contactread.records.questions import Answer
from contactread.show.drawing import Drawing, Point, box, ring
from contactread.show.flank_chart import AFTER_EDGE, AFTER_FILL, INK, PAPER, QUIET, STEEL, ZONE
from contactread.show.text import shortened
from contactread.units import show_clearance

LEFT, TOP, WIDE, TALL = 64.0, 78.0, 660.0, 240.0
MOST_PERIODS, MOST_LINES, MOST_KINDS = 36, 8, 30
_INKS = (INK, AFTER_EDGE, ZONE, "#0b4f8a")


def tries_chart(answer: Answer) -> Drawing:
    """The chart of `questions.tries_per_job`: one line, or one for each person (the busiest eight)."""
    rows = answer.records()
    periods = sorted({row["period"] for row in rows})[-MOST_PERIODS:]
    lines: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        if row["period"] in periods:
            lines.setdefault(row.get("person", ""), []).append(row)
    busiest = sorted(lines, key=lambda who: -sum(row["jobs"] for row in lines[who]))[:MOST_LINES]
    most = max([row["tries_per_job"] for who in busiest for row in lines[who]], default=1.0)
    names = [who for who in busiest if who]
    height = TOP + TALL + 40 + 26 * ((len(names) + 3) // 4)
    drawing = Drawing(LEFT + WIDE + 28, height, PAPER, answer.title)
    drawing.words((16, 34), shortened(answer.title, 70), 20, INK, bold=True)
    _grid(drawing, most)
    step = WIDE / max(len(periods), 1)
    for number, who in enumerate(busiest):
        places = [
            (LEFT + (periods.index(r["period"]) + 0.5) * step, _height(r["tries_per_job"], most))
            for r in lines[who]
        ]
        _series(drawing, number, who, places)
    every = -(-len(periods) // 9)
    for place, period in enumerate(periods):
        if place % every == 0:
            at = (LEFT + (place + 0.5) * step, TOP + TALL + 20)
            drawing.words(at, shortened(str(period), 10), 13, INK, "middle")
    return drawing


def shims_chart(answer: Answer) -> Drawing:
    """The chart of `questions.start_shims`: from the start (ring) to the final shim (disc), and the range."""
    rows = answer.records()[:MOST_KINDS]
    low = min([min(r["final_least_mm"], r["start_mean_mm"]) for r in rows], default=0.0)
    high = max([max(r["final_most_mm"], r["start_mean_mm"]) for r in rows], default=1.0)
    span = max(high - low, 1e-3)
    left, tall, wide = 230.0, 50.0, 470.0

    def x(mm: float) -> float:
        return left + (mm - low) / span * wide

    drawing = Drawing(left + wide + 28, 84 + len(rows) * tall, PAPER, answer.title)
    drawing.words((16, 34), shortened(answer.title, 70), 20, INK, bold=True)
    key = "ring: start in the mean. disc: final, of the middle job. bar: least to most final."
    drawing.words((16, 58), key, 14, QUIET)
    for number, row in enumerate(rows):
        y = 92 + number * tall
        drawing.words((16, y + 2), shortened(row["axle"], 24), 15, INK, bold=True)
        drawing.words((16, y + 19), f"{row['jobs']} jobs", 13, QUIET)
        start, final = x(row["start_mean_mm"]), x(row["final_median_mm"])
        drawing.shape(
            [(x(row["final_least_mm"]), y), (x(row["final_most_mm"]), y)], STEEL, width=9, closed=False
        )
        drawing.shape([(start, y), (final, y)], INK, width=2, closed=False)
        drawing.shape(ring((start, y), 5.5), INK, fill=PAPER, width=2)
        drawing.shape(ring((final, y), 5.5), AFTER_EDGE, fill=AFTER_FILL, width=2)
        drawing.words((left, y + 22), f"final: {show_clearance(row['final_median_mm'])}", 14, INK)
    return drawing


def _grid(drawing: Drawing, most: float) -> None:
    drawing.words((16, TOP - 16), "tries per job", 14, QUIET)
    drawing.shape([(LEFT, TOP + TALL), (LEFT + WIDE, TOP + TALL)], INK, width=1.5, closed=False)
    for number in range(1, int(most) + 1):
        y = _height(number, most)
        drawing.shape([(LEFT, y), (LEFT + WIDE, y)], STEEL, width=1.5, closed=False)
        drawing.words((LEFT - 10, y + 5), str(number), 14, INK, "end")


def _height(value: float, most: float) -> float:
    return TOP + TALL - value / max(most, 1.0) * TALL


def _series(drawing: Drawing, number: int, who: str, places: list[Point]) -> None:
    """A line with signs that differ by form; the second four are broken as well."""
    ink, dash = _INKS[number % 4], (7.0, 4.0) if number >= 4 else None
    for start, end in pairwise(places):
        drawing.shape([start, end], ink, width=2, dash=dash, closed=False)
    for place in places:
        _sign(drawing, number, place, ink)
    if who:
        x, y = LEFT + (number % 4) * 168, TOP + TALL + 46 + 26 * (number // 4)
        drawing.shape([(x - 14, y - 5), (x + 14, y - 5)], ink, width=2, dash=dash, closed=False)
        _sign(drawing, number, (x, y - 5), ink)
        drawing.words((x + 22, y), shortened(who, 16), 14, INK)


def _sign(drawing: Drawing, number: int, at: Point, ink: str) -> None:
    x, y = at
    forms = (
        ring(at, 5),
        box(x - 5, y - 5, 10, 10),
        [(x, y - 6), (x + 6, y + 5), (x - 6, y + 5)],
        ring(at, 5),
    )
    drawing.shape(forms[number % 4], ink, fill=PAPER if number % 4 == 3 else ink, width=2)
