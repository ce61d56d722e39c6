"""Plain sketches of the housing, and the chart of what a cutter's radius does."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from contactread.practice.case import Case
from contactread.practice.fleet import FLEET
from contactread.show.drawing import Drawing, Point, box, ring
from contactread.show.flank_chart import AFTER_EDGE, INK, PAPER, QUIET, STEEL_EDGE


@dataclass(frozen=True)
class Picture:
    """A picture of the handbook. drawing: for pages. lines: for a terminal, 80 columns; plain asks for ASCII
    alone.
    """

    drawing: Callable[[], Drawing]
    lines: Callable[[bool], list[str]]


def sketch(name: str) -> Picture:
    """A sketch of sketches.toml."""
    kept = _sketches()[name]

    def drawing() -> Drawing:
        wide, high = kept["size"]
        drawn = Drawing(wide, high, PAPER, kept["title"], kept["story"])
        for item in kept["items"]:
            rest = {key: value for key, value in item.items() if key not in ("points", "box", "ring")}
            if "text" in item:
                drawn.words(**rest)
            elif "box" in item:
                drawn.shape(box(*item["box"]), **rest)
            elif "ring" in item:
                x, y, radius = item["ring"]
                drawn.shape(ring((x, y), radius, 72), **rest)
            else:
                drawn.shape(item["points"], **rest)
        return drawn

    return Picture(drawing, lambda plain: list(kept["lines"]))


@cache
def _sketches() -> dict[str, Any]:
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))


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
