"""The handbook's pictures, by name: computed by the mesh when they are asked for, so none can drift.

`contactread guide --picture NAME FILE` writes one. Their axles are practice's invented ones.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import cos, pi

from contactread.axle import ROLES, EaseOff
from contactread.belief.targets import target_for
from contactread.handbook.sketches import Picture, cutter_chart, sketch
from contactread.patch import Patch
from contactread.practice.case import Case
from contactread.practice.draw_svg import draw
from contactread.practice.draw_text import text_lines
from contactread.practice.fleet import FLEET
from contactread.practice.question import FlankPicture, GearPicture
from contactread.practice.question import Picture as Asked
from contactread.show.drawing import Drawing
from contactread.show.flank_chart import ChartFlank, flank_chart
from contactread.show.flank_text import flank_lines
from contactread.show.retake import retake_lines, retake_sheet

# Face-milled with the shim behind the head; face-hobbed with the shim behind the head; a used one.
MILLED, HOBBED, USED = "juniper", "sedge", "linden"


# What stands above a flank, its patch before and after, and the wanted place of the centre.
Row = tuple[str, Patch | None, Patch, tuple[tuple[float, float], tuple[float, float]] | None]


def pictures() -> dict[str, Picture]:
    """Every picture of the handbook."""
    away, toward, mm = 0.15, -0.15, 0.15
    return {
        "ring-gear": _asked(lambda: GearPicture((("convex", "A"), ("concave", "B")), 30.0, "left")),
        "photographs": Picture(retake_sheet, lambda plain: retake_lines()),
        "wanted": _flanks("Where a new set's patterns are wanted", lambda: [(MILLED, None, Case(MILLED))]),
        "pinion-deep": _moved("Pinion 0.15 mm too deep", MILLED, toward, 0.0),
        "pinion-shallow": _moved("Pinion 0.15 mm too far out", MILLED, away, 0.0),
        "gear-near": _moved("Ring gear 0.15 mm too near: backlash too small", MILLED, 0.0, -mm),
        "gear-far": _moved("Ring gear 0.15 mm too far: backlash too large", MILLED, 0.0, mm),
        "milled-pinion-out": _moved("Face-milled set: pinion 0.15 mm out", MILLED, away, 0.0),
        "hobbed-pinion-out": _moved("Face-hobbed set: pinion 0.15 mm out", HOBBED, away, 0.0),
        "milled-gear-near": _moved("Face-milled set: ring gear 0.15 mm nearer", MILLED, 0.0, -mm),
        "hobbed-gear-near": _moved("Face-hobbed set: ring gear 0.15 mm nearer", HOBBED, 0.0, -mm),
        "crowning": _beside(_CROWNING, "The same move on two reliefs (drive side)", _crowned),
        "cutter": cutter_chart(MILLED),
        "used-off": _flanks(
            "A used set: on the tooth, and after 0.5 mm of ring-gear travel off the heel",
            lambda: [(USED, Case(USED), Case(USED).moved(ring_mm=0.5))],
        ),
        "bore-off": _flanks(
            "Pinion bore 0.3 mm off, and the pinion moved in until the heights are right",
            lambda: [(MILLED, Case(MILLED), replace(Case(MILLED), offset_mm=0.3, pinion_mm=-0.25))],
        ),
        "runout": _asked(_runout),
        **{name: sketch(name) for name in ("shim-places", "side-shims", "four-places")},
    }


def _asked(make: Callable[[], Asked]) -> Picture:
    return Picture(lambda: draw(make()), lambda plain: text_lines(make(), plain))


def _moved(title: str, axle_id: str, pinion_mm: float, ring_mm: float) -> Picture:
    """The right place against one from which a move leads back."""
    right = Case(axle_id)
    return _flanks(title, lambda: [(axle_id, right, right.moved(pinion_mm, ring_mm))])


def _flanks(title: str, cases: Callable[[], list[tuple[str, Case | None, Case]]]) -> Picture:
    """Both sides of each case, before and after."""

    def rows() -> list[Row]:
        out: list[Row] = []
        for axle_id, before, after in cases():
            target = target_for(FLEET[axle_id])
            for role in ROLES:
                zone = target.zone(role)
                first = None if before is None else before.drawn(role)
                heading = f"{role.capitalize()} ({after.flank(role)} flank)"
                out.append((heading, first, after.drawn(role), (zone.u, zone.v)))
        return out

    return _beside(title, title, rows)


def _beside(title: str, short: str, rows: Callable[[], list[Row]]) -> Picture:
    """Flanks side by side. short: their title on a terminal."""

    def drawing() -> Drawing:
        charts = [
            ChartFlank(heading, before, after, zone, tuple(_words(before, after)))
            for heading, before, after, zone in rows()
        ]
        return flank_chart(charts, title)

    def lines(plain: bool) -> list[str]:
        columns = []
        for heading, before, after, _ in rows():
            shown = flank_lines(after if before is None else before, None, plain, after.centre)
            columns.append([heading, *shown, *_words(before, after)])
        drawn = ["  ".join(f"{part:<38}" for part in row).rstrip() for row in zip(*columns, strict=True)]
        return [short, *drawn, _legend(plain)]

    return Picture(drawing, lines)


def _words(before: Patch | None, after: Patch) -> list[str]:
    if before is None:
        return [f"Centre at {after.centre[0]:.0%} of the length", f"and {after.centre[1]:.0%} of the height"]
    told = []
    for name, axis, ways in (("Length", 0, ("toe", "heel")), ("Height", 1, ("root", "top"))):
        first, last = before.centre[axis], after.centre[axis]
        way = "stays" if abs(last - first) < 0.005 else f"to the {ways[last > first]}"
        told.append(f"{name}: {first:.0%} to {last:.0%}, {way}")
    return told


def _legend(plain: bool) -> str:
    return "o patch   + its centre   X centre after" if plain else "▒ patch   ╋ its centre   ◆ centre after"


def _crowned() -> list[Row]:
    """Drive patches of the same gears with little and much lengthwise relief, before and after one move."""
    from contactread.mesh.response import MeshModel

    axle = FLEET[MILLED]
    out: list[Row] = []
    for words, lengthwise in (("Little crowning, 0.02 mm", 0.02), ("Much crowning, 0.06 mm", 0.06)):
        model = MeshModel(axle, ease_off=EaseOff(lengthwise, 0.02))
        flank = Case(MILLED).flank("drive")
        found = [model.patch(flank, Case(MILLED, ring_mm=mm).place, outlined=True) for mm in (0.0, 0.06)]
        first, last = found
        assert first is not None and last is not None
        out.append((words, first, last, None))
    return out


_CROWNING = "The same move of the ring gear, 0.06 mm away, on two reliefs of the same gears (drive side)"


def _runout() -> FlankPicture:
    """The drive patch at six teeth round a ring gear that swings by 0.15 mm either way."""
    shown = []
    for tooth in range(6):
        swung = Case(MILLED).moved(ring_mm=0.15 * cos(2 * pi * tooth / 6))
        shown.append((f"{360 * tooth // 6}°", swung.drawn("drive")))
    return FlankPicture(
        "The ring gear swings by 0.15 mm either way: the drive patch, once round", tuple(shown)
    )
