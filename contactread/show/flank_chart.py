"""Two flanks side by side, each with its patch before and after, as one drawing (SVG or PNG).

Before is a broken line with an open ring at its centre; after is a filled patch with a solid diamond; an
arrow leads from one to the other. Form tells them apart, colour only helps. The toe is at the left on both
flanks; the height is drawn larger than true.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from textwrap import wrap

import numpy as np

from contactread.patch import Patch, Point
from contactread.show.drawing import Drawing, box, diamond, ring
from contactread.show.text import printable

PAPER, INK, QUIET = "#fcfbf8", "#1c2430", "#5a6472"
STEEL, STEEL_EDGE = "#dfe4e8", "#3d4956"
AFTER_FILL, AFTER_EDGE = "#e8a33d", "#7a4a05"
ZONE = "#0a4fb4"

_PANEL, _MARGIN, _GAP = 452.0, 28.0, 40.0
_FLANK_WIDTH, _FLANK_HEIGHT = 452.0, 132.0
_TITLE_SIZE, _NOTE_SIZE = 20.0, 14.5
_TOE_SHARE = 0.82  # height at the toe against the heel, as drawn
# Corners are rounded over about this way along the outline: compound smears, so no roller leaves a point. A
# supposition of ours, about 6 % of the length.
_ROUNDING = 28.0


@dataclass(frozen=True)
class Frame:
    """Where a flank stands in a drawing. left, base: of its root line. tall: at the heel. toe_share: height
    of the toe end against the heel's. toe_left: whether the toe is at the left.
    """

    left: float
    base: float
    wide: float
    tall: float
    toe_share: float = 1.0
    toe_left: bool = True

    def at(self, u: float, v: float) -> Point:
        """The place of a point of the flank."""
        x = u if self.toe_left else 1 - u
        tall = self.tall * (self.toe_share + (1 - self.toe_share) * u)
        return self.left + x * self.wide, self.base - v * tall

    def box(self, u: tuple[float, float] = (0.0, 1.0), v: tuple[float, float] = (0.0, 1.0)) -> list[Point]:
        """A part of the flank, or the whole, as a closed line."""
        return [self.at(u[0], v[0]), self.at(u[1], v[0]), self.at(u[1], v[1]), self.at(u[0], v[1])]


@dataclass(frozen=True)
class ChartFlank:
    """One flank. heading: such as "Drive, convex flank". before, after: either may be missing (only one:
    give it as `after`). zone: wanted place of the centre ((u0, u1), (v0, v1)). lines: words below it.
    """

    heading: str
    before: Patch | None = None
    after: Patch | None = None
    zone: tuple[tuple[float, float], tuple[float, float]] | None = None
    lines: tuple[str, ...] = ()


def flank_chart(flanks: Sequence[ChartFlank], title: str, notes: Sequence[str] = ()) -> Drawing:
    """The drawing of one or two flanks with a title above and notes below; long lines are wrapped."""
    width = 2 * _MARGIN + len(flanks) * _PANEL + (len(flanks) - 1) * _GAP
    room = width - 2 * _MARGIN
    headline = _wrapped(title, room, _TITLE_SIZE)
    below_lines = [line for note in notes for line in _wrapped(note, room, _NOTE_SIZE)]
    flanks = [
        replace(f, lines=tuple(part for line in f.lines for part in _wrapped(line, _PANEL, _NOTE_SIZE)))
        for f in flanks
    ]
    deepest = max((len(flank.lines) for flank in flanks), default=0)
    top = 36.0 + 26 * len(headline)
    below = top + 44 + _FLANK_HEIGHT + 44 + 21 * deepest
    shown_before = any(flank.before for flank in flanks)
    shown_zone = any(flank.zone for flank in flanks)
    legend = 32 if shown_before or shown_zone else 0
    story = " ".join(" ".join((flank.heading + ":", *flank.lines)) for flank in flanks)
    drawing = Drawing(width, below + 26 + legend + 21 * len(below_lines), PAPER, title, story)
    for index, line in enumerate(headline):
        drawing.words((_MARGIN, 38 + 26 * index), line, _TITLE_SIZE, INK, bold=True)
    for index, flank in enumerate(flanks):
        _flank(drawing, flank, _MARGIN + index * (_PANEL + _GAP), top)
    if legend:
        _legend(drawing, _MARGIN, below + 12, shown_before, shown_zone)
    for index, line in enumerate(below_lines):
        drawing.words((_MARGIN, below + 18 + legend + 21 * index), line, _NOTE_SIZE, INK)
    return drawing


def _wrapped(text: str, room: float, size: float) -> list[str]:
    """Lines that fit into `room`; a letter is taken as 0.56 of the size, more than the fonts need."""
    return wrap(printable(text), max(12, int(room / (0.56 * size))))


def bare_flank(flank: ChartFlank, title: str) -> Drawing:
    """One flank without heading, words and legend, for a page that has its own. title: for those who can't
    see it.
    """
    drawing = Drawing(_FLANK_WIDTH + 20, _FLANK_HEIGHT + 54, PAPER, title, " ".join(flank.lines))
    _flank(drawing, replace(flank, heading="", lines=()), 10.0, -12.0)
    return drawing


def _flank(drawing: Drawing, flank: ChartFlank, left: float, top: float) -> None:
    base = top + 36 + _FLANK_HEIGHT
    frame = Frame(left, base, _FLANK_WIDTH, _FLANK_HEIGHT, _TOE_SHARE)
    at = frame.at
    drawing.words((left, top + 14), flank.heading, 16.5, INK, bold=True)
    drawing.shape(frame.box(), STEEL_EDGE, fill=STEEL, width=2)
    for u in (0.25, 0.5, 0.75):
        drawing.shape([at(u, 0), at(u, 1)], "#c3cad1", closed=False)
    drawing.shape([at(0, 0.5), at(1, 0.5)], "#c3cad1", closed=False)
    if flank.after:
        for outline in flank.after.shape():
            drawing.shape(_rounded([at(*p) for p in outline]), AFTER_EDGE, fill=AFTER_FILL, width=2.5)
    if flank.zone:
        drawing.shape(frame.box(*flank.zone), ZONE, width=2, dash=(2.5, 4))
    if flank.before:
        for outline in flank.before.shape():
            drawing.shape(_rounded([at(*p) for p in outline]), INK, width=2, dash=(7, 5))
    _centres(drawing, flank, frame)
    drawing.words((left, base + 20), "TOE", 13, INK, bold=True)
    drawing.words((left + _FLANK_WIDTH, base + 20), "HEEL", 13, INK, "end", bold=True)
    drawing.words((left + _FLANK_WIDTH / 2, base + 20), "root", 13, QUIET, "middle")
    drawing.words((left + _FLANK_WIDTH / 2, at(0.5, 1)[1] - 7), "top", 13, QUIET, "middle")
    for index, line in enumerate(flank.lines):
        drawing.words((left, base + 46 + 21 * index), line, 14.5, INK)


def _centres(drawing: Drawing, flank: ChartFlank, frame: Frame) -> None:
    start = frame.at(*flank.before.centre) if flank.before else None
    end = frame.at(*flank.after.centre) if flank.after else None
    if start and end:
        _arrow(drawing, start, end)
    if start:
        drawing.shape(ring(start, 5.5), INK, fill=PAPER, width=2)
    if end:
        drawing.shape(diamond(end, 7), PAPER, fill=INK, width=1.5)


def _rounded(points: Sequence[Point]) -> list[Point]:
    """The closed line with its corners rounded: even steps, whose corners are cut three times over."""
    closed = np.array([*points, points[0]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    places = np.linspace(0.0, along[-1], max(12, round(along[-1] / _ROUNDING)), endpoint=False)
    line = np.stack([np.interp(places, along, closed[:, axis]) for axis in (0, 1)], axis=1)
    for _ in range(3):
        following = np.roll(line, -1, axis=0)
        cut = [0.75 * line + 0.25 * following, 0.25 * line + 0.75 * following]
        line = np.stack(cut, axis=1).reshape(-1, 2)
    return [(x, y) for x, y in line.tolist()]


def _arrow(drawing: Drawing, start: Point, end: Point) -> None:
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = (dx * dx + dy * dy) ** 0.5
    if length < 22:
        return
    ex, ey = dx / length, dy / length
    tip = (end[0] - 9 * ex, end[1] - 9 * ey)
    drawing.shape([start, tip], INK, width=2, closed=False)
    back = (tip[0] - 9 * ex, tip[1] - 9 * ey)
    wings = [(back[0] - 4.5 * ey, back[1] + 4.5 * ex), tip, (back[0] + 4.5 * ey, back[1] - 4.5 * ex)]
    drawing.shape(wings, INK, fill=INK, width=1)


def _legend(drawing: Drawing, x: float, y: float, before: bool, zone: bool) -> None:
    entries = []
    if before:
        entries.append(("before", 78.0))
    entries.append(("after" if before else "patch", 70.0))
    if zone:
        entries.append(("wanted place of the centre", 0.0))
    for name, step in entries:
        frame = box(x, y - 9, 26, 14)
        if name == "before":
            drawing.shape(frame, INK, width=2, dash=(5, 4))
        elif name in ("after", "patch"):
            drawing.shape(frame, AFTER_EDGE, fill=AFTER_FILL, width=2)
        else:
            drawing.shape(frame, ZONE, width=2, dash=(2.5, 4))
        drawing.words((x + 34, y + 4), name, 14, INK)
        x += 40 + step
