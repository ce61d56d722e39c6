"""How a set-up walked to its pattern: both flanks with the numbered tries, and what was changed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from contactread.axle import ROLES
from contactread.belief.targets import Target, Zone
from contactread.records.questions import Answer
from contactread.show.drawing import Drawing, ring
from contactread.show.flank_chart import AFTER_FILL, INK, PAPER, QUIET, STEEL, STEEL_EDGE, ZONE, Frame
from contactread.show.text import shortened
from contactread.units import show_clearance, show_length

WIDE, TALL, LEFT, TOP, GAP = 440.0, 140.0, 28.0, 92.0, 44.0


def walk_chart(answer: Answer, target: Target | None = None) -> Drawing:
    """The chart of `questions.walk`. target: where the pattern is wanted, drawn where it is known."""
    rows = answer.records()
    below = TOP + TALL + 58
    story = [_try_words(row) for row in rows]
    drawing = Drawing(
        2 * LEFT + 2 * WIDE + GAP, below + 24 * len(rows), PAPER, answer.title, ". ".join(story)
    )
    drawing.words((LEFT, 38), shortened(answer.title, 80), 20, INK, bold=True)
    for place, role in enumerate(ROLES):
        frame = Frame(LEFT + place * (WIDE + GAP), TOP + TALL, WIDE, TALL)
        _flank(drawing, frame, f"{role} side", None if target is None else target.zone(role))
        path = [(r["try"], r[f"{role}_u"], r[f"{role}_v"]) for r in rows if r[f"{role}_u"] is not None]
        _path(drawing, frame, path)
    for number, words in enumerate(story):
        drawing.words((LEFT, below + 24 * number), words, 15, INK)
    return drawing


def _try_words(row: dict[str, float | None]) -> str:
    shim = row["pinion_shim_mm"]
    words = f"Try {row['try']}: pinion shim {'not known' if shim is None else show_length(shim)}"
    if row["backlash_mean_mm"] is not None:
        words += f", backlash {show_clearance(row['backlash_mean_mm'])} in the mean"
    return words


def _flank(drawing: Drawing, frame: Frame, words: str, zone: Zone | None) -> None:
    left = frame.left
    drawing.words((left, TOP - 10), words, 16, INK, bold=True)
    drawing.words((left + WIDE, TOP - 10), "top", 13, QUIET, "end")
    drawing.shape(frame.box(), STEEL_EDGE, fill=STEEL, width=2)
    if zone is not None:
        drawing.shape(frame.box(zone.u, zone.v), ZONE, width=2, dash=(2.5, 4))
    drawing.words((left, TOP + TALL + 18), "TOE", 13, INK, bold=True)
    drawing.words((left + WIDE / 2, TOP + TALL + 18), "root", 13, QUIET, "middle")
    drawing.words((left + WIDE, TOP + TALL + 18), "HEEL", 13, INK, "end", bold=True)


def _path(drawing: Drawing, frame: Frame, path: Sequence[tuple[int, float, float]]) -> None:
    """Numbered rings from try to try; the last one is filled."""
    places = [frame.at(min(max(u, 0.0), 1.0), min(max(v, 0.0), 1.0)) for _, u, v in path]
    for start, end in pairwise(places):
        drawing.shape([start, end], INK, width=2, closed=False)
    for (number, _, _), (x, y) in zip(path, places, strict=True):
        last = number == path[-1][0]
        drawing.shape(ring((x, y), 12), INK, fill=AFTER_FILL if last else PAPER, width=3 if last else 1.5)
        drawing.words((x, y + 5), str(number), 14, INK, "middle", bold=True)
