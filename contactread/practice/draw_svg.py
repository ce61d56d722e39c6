"""Pictures of questions as drawings (SVG or PNG) in the style of the flank charts."""

from __future__ import annotations

from collections.abc import Callable
from math import cos, radians, sin
from typing import Any

from contactread.patch import Edge, Patch, Point
from contactread.practice.draw_text import text_lines
from contactread.practice.plan_view import HALF_WIDTH, tooth_line
from contactread.practice.question import (
    FlankPicture,
    GearPicture,
    PhotoPicture,
    Picture,
    Question,
    ToothPicture,
)
from contactread.show.drawing import Drawing, box, diamond, ring
from contactread.show.flank_chart import (
    AFTER_EDGE,
    AFTER_FILL,
    INK,
    PAPER,
    QUIET,
    STEEL,
    STEEL_EDGE,
    ChartFlank,
    Frame,
    flank_chart,
)


def pictures_json(question: Question) -> list[dict[str, Any]]:
    """A question's pictures for a page: drawings as SVG, photographs by their place."""
    return [
        {"kind": "photo", "path": str(p.path), "says": p.says, "outline_px": list(p.outline_px)}
        if isinstance(p, PhotoPicture)
        else {"kind": "drawing", "svg": draw(p).svg()}
        for p in question.pictures
    ]


def draw(picture: Picture) -> Drawing:
    """The picture as a drawing. Raises TypeError for a photograph, which is a picture already."""
    if isinstance(picture, FlankPicture):
        if len(picture.flanks) > 2:
            return _many(picture)
        return flank_chart([ChartFlank(title, after=p) for title, p in picture.flanks], picture.heading)
    if isinstance(picture, PhotoPicture):
        raise TypeError("a photograph isn't drawn")
    return _tooth(picture) if isinstance(picture, ToothPicture) else _gear(picture)


def _tooth(picture: ToothPicture) -> Drawing:
    width, height, left, base = 520.0, 300.0, 84.0, 208.0
    long, tall = 352.0, 130.0
    drawing = Drawing(width, height, PAPER, "One side of a tooth", " ".join(text_lines(picture)))
    drawing.words((24, 34), "One side of a tooth, seen square on", 18, INK, bold=True)

    frame = Frame(left, base, long, tall, picture.toe_height, picture.toe_left)
    drawing.shape(frame.box(), STEEL_EDGE, fill=STEEL, width=2)
    _patch(drawing, picture.patch, frame)
    body = [(left, base), (left + long, base), (left + long + 14, base + 26), (left - 14, base + 26)]
    drawing.shape(body, STEEL_EDGE, fill="#c3cad1", width=1.5)
    drawing.words((left + long / 2, base + 44), "body of the gear", 14, QUIET, "middle")
    letters: dict[Edge, str] = dict(picture.letters)
    places: dict[Edge, Point] = {
        "toe": frame.at(0, 0.5), "heel": frame.at(1, 0.5), "root": frame.at(0.5, 0), "top": frame.at(0.5, 1),
    }  # fmt: skip
    outward = -1 if picture.toe_left else 1
    moves: dict[Edge, Point] = {
        "toe": (32 * outward, 7), "heel": (-32 * outward, 7), "root": (0, 18), "top": (0, -12),
    }  # fmt: skip
    for edge, letter in letters.items():
        x, y = places[edge][0] + moves[edge][0], places[edge][1] + moves[edge][1]
        drawing.words((x, y), letter, 22, INK, "middle", bold=True)
    arrow = "◄ to the gear's centre" if picture.toe_left else "to the gear's centre ►"
    x = left if picture.toe_left else left + long
    drawing.words((x, base + 72), arrow, 15, INK, "start" if picture.toe_left else "end")
    return drawing


def _gear(picture: GearPicture) -> Drawing:
    size, radius = 460.0, 132.0
    drawing = Drawing(size, size + 20, PAPER, "A ring gear from above", " ".join(text_lines(picture)))
    drawing.words((24, 34), "The ring gear, seen from above its face", 18, INK, bold=True)
    middle = (size / 2, size / 2 + 30)

    def at(point: Point) -> Point:
        return middle[0] + point[0] * radius, middle[1] - point[1] * radius

    for share in (0.76, 1.26):
        drawing.shape([at(p) for p in ring((0, 0), share, 72)], STEEL_EDGE, width=1.5)
    drawing.words((middle[0], middle[1] + 5), "centre", 13, QUIET, "middle")
    for k in range(1, 16):
        _tooth_above(drawing, picture, picture.clock_deg + k * 22.5, at, False)
    _tooth_above(drawing, picture, picture.clock_deg, at, True)
    for flank, letter in picture.letters:
        across = 0.17 if flank == "concave" else -0.17
        line = tooth_line(picture.clock_deg, picture.hand, across)
        x, y = at(line[len(line) // 2])
        drawing.shape(box(x - 13, y - 13, 26, 26), INK, fill=PAPER, width=1.5)
        drawing.words((x, y + 7), letter, 19, INK, "middle", bold=True)
    angle = radians(90 - picture.clock_deg)
    for words, share in (("toe", 0.62), ("heel", 1.4)):
        x, y = at((share * cos(angle), share * sin(angle)))
        drawing.words((x, y + 5), words, 13, INK, "middle")
    return drawing


def _tooth_above(
    drawing: Drawing, picture: GearPicture, clock: float, at: Callable[[Point], Point], asked: bool
) -> None:
    edge = [
        *tooth_line(clock, picture.hand, HALF_WIDTH),
        *reversed(tooth_line(clock, picture.hand, -HALF_WIDTH)),
    ]
    fill = STEEL_EDGE if asked else STEEL
    drawing.shape([at(p) for p in edge], INK if asked else "#9aa4ae", fill=fill, width=2 if asked else 1)


def _many(picture: FlankPicture) -> Drawing:
    """Small flanks in a grid."""
    across, down, count = 200.0, 70.0, len(picture.flanks)
    columns = 2 if count == 4 else 3
    rows = (count + columns - 1) // columns
    width = 28 + columns * (across + 34)
    drawing = Drawing(width, 66 + rows * (down + 66), PAPER, picture.heading, " ".join(text_lines(picture)))
    drawing.words((28, 36), picture.heading, 16, INK, bold=True)
    for k, (title, patch) in enumerate(picture.flanks):
        left = 28 + (k % columns) * (across + 34)
        base = 66 + 24 + down + (k // columns) * (down + 66)
        frame = Frame(left, base, across, down, 0.82)
        drawing.words((left, base - down - 8), title, 14, INK, bold=True)
        drawing.shape(frame.box(), STEEL_EDGE, fill=STEEL, width=1.5)
        drawing.shape([frame.at(0.5, 0), frame.at(0.5, 1)], "#c3cad1", closed=False)
        _patch(drawing, patch, frame)
        drawing.words((left, base + 17), "toe", 12, INK)
        drawing.words((left + across, base + 17), "heel", 12, INK, "end")
    return drawing


def _patch(drawing: Drawing, patch: Patch, frame: Frame) -> None:
    for outline in patch.shape():
        drawing.shape([frame.at(*p) for p in outline], AFTER_EDGE, fill=AFTER_FILL, width=2.5)
    drawing.shape(diamond(frame.at(*patch.centre), 6), PAPER, fill=INK, width=1.5)
