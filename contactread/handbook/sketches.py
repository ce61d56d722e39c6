"""Plain sketches of the housing, and the chart of what a cutter's radius does."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, sin, sqrt
from typing import TYPE_CHECKING

from contactread.practice.case import Case
from contactread.practice.fleet import FLEET
from contactread.show.drawing import Drawing, Point
from contactread.show.flank_chart import AFTER_EDGE, AFTER_FILL, INK, PAPER, QUIET, STEEL, STEEL_EDGE, ZONE

if TYPE_CHECKING:
    from contactread.handbook.pictures import Picture


def _picture(drawing: Drawing, lines: tuple[str, ...]) -> Picture:
    from contactread.handbook.pictures import Picture

    return Picture(lambda: drawing, lambda plain: list(lines))


def _box(x: float, y: float, wide: float, high: float) -> list[Point]:
    return [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]


def _arrow(drawing: Drawing, start: Point, end: Point, ink: str = INK) -> None:
    (x0, y0), (x1, y1) = start, end
    long = sqrt((x1 - x0) ** 2 + (y1 - y0) ** 2)
    ex, ey = (x1 - x0) / long, (y1 - y0) / long
    drawing.shape([start, end], ink, width=2.5, closed=False)
    wings = [
        (x1 - 11 * ex - 6 * ey, y1 - 11 * ey + 6 * ex),
        end,
        (x1 - 11 * ex + 6 * ey, y1 - 11 * ey - 6 * ex),
    ]
    drawing.shape(wings, ink, fill=ink)


def shim_sketch() -> Picture:
    """Where the pinion shim can sit, and which way a thicker one pushes the pinion."""
    drawing = Drawing(
        900, 380, PAPER, "Where the pinion shim sits",
        "Behind the head: a thicker shim pushes the pinion toward the ring gear. Under the cage: a thicker "
        "pack draws it away.",
    )  # fmt: skip
    for left, title, way in ((20.0, "Shim behind the head", -1), (470.0, "Shim under the cage", 1)):
        drawing.words((left, 32), title, 19, INK, bold=True)
        axis = 170.0
        drawing.shape([(left + 16, 70), (left + 16, 280)], QUIET, width=2, dash=(9, 5), closed=False)
        drawing.words((left, 60), "ring-gear axis", 13.5, QUIET)
        head = [
            (left + 86, axis - 34),
            (left + 142, axis - 58),
            (left + 142, axis + 58),
            (left + 86, axis + 34),
        ]
        drawing.shape(head, STEEL_EDGE, fill=STEEL, width=2)
        drawing.shape(_box(left + 142, axis - 20, 250, 40), STEEL_EDGE, fill=STEEL, width=2)
        for up in (-1, 1):  # bearings, housing
            edge = axis + up * 20
            drawing.shape(
                _box(left + 166, min(edge, edge + up * 34), 34, 34), STEEL_EDGE, fill="#ffffff", width=2
            )
            drawing.shape(
                _box(left + 318, min(edge, edge + up * 34), 30, 34), STEEL_EDGE, fill="#ffffff", width=2
            )
            start = axis + up * 54
            if way < 0:
                wall = _box(left + 206, min(edge + up * 8, start + up * 46), 106, 80)
                drawing.shape(wall, STEEL_EDGE, fill="#c3cad1", width=2)
                drawing.shape(
                    _box(left + 200, min(edge, edge + up * 34), 6, 34), AFTER_EDGE, fill=AFTER_FILL, width=1.5
                )
            else:
                cage = _box(left + 160, min(start, start + up * 16), 206, 16)
                drawing.shape(cage, STEEL_EDGE, fill="#e9edf0", width=2)
                flange = _box(left + 330, min(start + up * 16, start + up * 54), 36, 38)
                drawing.shape(flange, STEEL_EDGE, fill="#e9edf0", width=2)
                drawing.shape(
                    _box(left + 320, min(start + up * 18, start + up * 54), 9, 36),
                    AFTER_EDGE,
                    fill=AFTER_FILL,
                    width=1.5,
                )
                wall = _box(left + 210, min(start + up * 18, start + up * 54), 109, 36)
                drawing.shape(wall, STEEL_EDGE, fill="#c3cad1", width=2)
        drawing.words((left + 100, axis + 5), "pinion", 13, INK)
        if way < 0:
            _arrow(drawing, (left + 82, 306), (left + 30, 306), ZONE)
        else:
            _arrow(drawing, (left + 30, 306), (left + 82, 306), ZONE)
        drawing.words(
            (left + 96, 311),
            "thicker shim: pinion " + ("deeper" if way < 0 else "shallower"),
            15,
            INK,
            bold=True,
        )
        drawing.words((left + 96, 334), "orange: the shim    grey: the housing", 13.5, QUIET)
    drawing.words((20, 364), "Sketch, not to scale. Look at the axle before you choose a sign.", 14, INK)
    return _picture(drawing, (
        "behind the head                     under the cage",
        "axis  <- head | SHIM | cup, wall    axis  head | cup, cage | SHIM | wall ->",
        "thicker: pinion toward the axis     thicker: pinion away from the axis",
    ))  # fmt: skip


def carrier_sketch() -> Picture:
    """Side shims, and which way they move the ring gear."""
    drawing = Drawing(
        900, 300, PAPER, "Side shims move the ring gear",
        "Thicker behind the ring gear and thinner on the other side moves the ring gear toward the pinion.",
    )  # fmt: skip
    axis = 130.0
    drawing.words((20, 32), "The differential, seen along the pinion", 19, INK, bold=True)
    drawing.shape(_box(300, axis - 46, 250, 92), STEEL_EDGE, fill=STEEL, width=2)
    drawing.shape(
        [(550, axis - 96), (584, axis - 96), (584, axis + 96), (550, axis + 96)],
        STEEL_EDGE,
        fill="#c3cad1",
        width=2,
    )
    for x in (250, 584):
        drawing.shape(_box(x, axis - 34, 50, 68), STEEL_EDGE, fill="#ffffff", width=2)
    for x in (232, 634):
        drawing.shape(_box(x, axis - 34, 18, 68), AFTER_EDGE, fill=AFTER_FILL, width=2)
    for x in (150, 652):
        drawing.shape(_box(x, axis - 60, 82, 120), STEEL_EDGE, fill="#c3cad1", width=2)
    drawing.words((425, axis + 6), "case", 14, INK, "middle")
    drawing.words((567, axis - 104), "ring gear", 14, INK, "middle")
    drawing.words((643, axis + 78), "ring-gear side", 14, INK, "middle", bold=True)
    drawing.words((241, axis + 78), "other side", 14, INK, "middle", bold=True)
    _arrow(drawing, (520, 246), (420, 246), ZONE)
    drawing.words((540, 251), "ring gear toward the pinion: less backlash", 15, INK)
    drawing.words((20, 251), "thicker at the right, thinner at the left, by as much:", 15, INK)
    drawing.words(
        (20, 284), "Sketch, not to scale. The sum of both stays, so the side-bearing preload stays.", 14, INK
    )
    return _picture(drawing, (
        "wall | SHIM, other side | case | ring gear | SHIM, ring-gear side | wall",
        "ring-gear side thicker, other side thinner by as much: the ring gear goes",
        "toward the pinion, less backlash; the sum, and so the preload, stays.",
    ))  # fmt: skip


def places_sketch() -> Picture:
    """Backlash at four equally spaced places."""
    drawing = Drawing(
        520, 300, PAPER, "Backlash at four places",
        "The dial's plunger stands square to a tooth at the heel; the same at four places, a quarter turn "
        "apart.",
    )  # fmt: skip
    middle, outer = (150.0, 160.0), 104.0

    def ring(radius: float) -> list[Point]:
        return [
            (middle[0] + radius * cos(k * pi / 36), middle[1] + radius * sin(k * pi / 36)) for k in range(72)
        ]

    drawing.words((20, 30), "Backlash is read at four places", 18, INK, bold=True)
    drawing.shape(ring(outer), STEEL_EDGE, fill=STEEL, width=2)
    drawing.shape(ring(62), STEEL_EDGE, fill=PAPER, width=2)
    for k in range(4):
        x, y = middle[0] + 84 * cos(k * pi / 2), middle[1] + 84 * sin(k * pi / 2)
        drawing.shape(
            [(x + 13 * cos(a * pi / 12), y + 13 * sin(a * pi / 12)) for a in range(24)],
            INK,
            fill=PAPER,
            width=2,
        )
        drawing.words((x, y + 6), str(k + 1), 16, INK, "middle", bold=True)
    for row, words in enumerate((
        "Pinion held still.", "Plunger square to the tooth,", "at its outer (heel) end.",
        "Rock the ring gear: the dial's", "swing is the backlash.", "Then a quarter turn on, four times.",
    )):  # fmt: skip
        drawing.words((280, 96 + 26 * row), words, 14.5, INK)
    return _picture(drawing, (
        "      1        pinion held still; dial plunger square to the tooth at the heel",
        "   4     2     rock the ring gear: the swing of the dial is the backlash",
        "      3        then a quarter turn on, four times",
    ))  # fmt: skip


def cutter_shifts(axle_id: str) -> list[tuple[float, float, float]]:
    """(cutter radius over mean cone distance, shift of the drive and of the coast centre along the length).

    For the ring gear 0.1 mm nearer; the same gears cut with other cutters.
    """
    from contactread.mesh.response import MeshModel

    axle, place = FLEET[axle_id], Case(axle_id).place
    out = []
    for radius in range(76, 131, 6):
        model = MeshModel(replace(axle, gears=replace(axle.gears, cutter_radius_mm=float(radius))))
        shifts = []
        for flank in ("convex", "concave"):
            first = model.patch(flank, place)
            last = model.patch(flank, replace(place, ring=place.ring - 0.1))
            shifts.append(0.0 if first is None or last is None else last.centre[0] - first.centre[0])
        out.append((radius / model.blank.cones.radius2, shifts[0], shifts[1]))
    return out


def cutter_chart(axle_id: str) -> Picture:
    """The chart of `cutter_shifts`, and its numbers for a terminal."""
    from contactread.handbook.pictures import Picture

    def drawing() -> Drawing:
        shifts = cutter_shifts(axle_id)
        chart = Drawing(
            760, 380, PAPER, "What the cutter's radius does to the coast pattern",
            "For the ring gear 0.1 mm nearer the drive pattern goes to the toe with every cutter; the coast "
            "pattern turns over.",
        )  # fmt: skip
        left, right, low, high = 96.0, 720.0, 300.0, 70.0
        least, most = shifts[0][0], shifts[-1][0]
        tall = max(abs(s) for _, *both in shifts for s in both) * 1.15

        def at(ratio: float, shift: float) -> Point:
            return (
                left + (ratio - least) / (most - least) * (right - left),
                (low + high) / 2 - shift / tall * (low - high) / 2,
            )

        chart.words((20, 34), "Ring gear 0.1 mm nearer: shift along the length", 18, INK, bold=True)
        chart.shape([(left, high), (right, high), (right, low), (left, low)], STEEL_EDGE, width=1.5)
        chart.shape([at(least, 0), at(most, 0)], STEEL_EDGE, width=1.5, closed=False)
        for words, shift in (("heel", tall * 0.8), ("none", 0.0), ("toe", -tall * 0.8)):
            chart.words((left - 12, at(least, shift)[1] + 5), words, 14, INK, "end")
        for ratio, _, _ in shifts[::2]:
            chart.words((at(ratio, 0)[0], low + 20), f"{ratio:.2f}", 13.5, QUIET, "middle")
        chart.words(
            ((left + right) / 2, low + 46), "cutter radius over mean cone distance", 14.5, INK, "middle"
        )
        for index, (name, dash) in enumerate((("drive", None), ("coast", (8.0, 5.0)))):
            line = [at(row[0], row[1 + index]) for row in shifts]
            chart.shape(line, INK if index == 0 else AFTER_EDGE, width=3, closed=False, dash=dash)
            chart.words((line[0][0] + 8, line[0][1] - 8), name, 15, INK, bold=True)
        return chart

    def lines(plain: bool) -> list[str]:
        rows = [
            f"{ratio:>14.2f} {drive:>+12.1%} {coast:>+12.1%}"
            for ratio, drive, coast in cutter_shifts(axle_id)
        ]
        return ["cutter radius        drive        coast", "over cone dist.   + heel       + heel", *rows]

    return Picture(drawing, lines)
