"""Small drawings of how to take a refused photo again."""

from __future__ import annotations

from dataclasses import replace

from contactread.show.drawing import Drawing, Point, Words, box, ring

PAPER, INK, STEEL, PAINT, WRONG, RIGHT = "#fcfbf8", "#1c2430", "#dfe4e8", "#e8a33d", "#9b1c1c", "#14603f"
_WAYS = {
    "no-ring-gear": "closer", "teeth-too-small": "closer", "too-few-teeth": "back", "too-oblique": "straight",
    "too-dark": "lamp", "glare-over-flanks": "lamp", "too-blurred": "rest", "no-compound": "paint",
    "no-pattern": "roll",
}  # fmt: skip
_SAYS = {
    "closer": ("too far", "10 to 25 cm: teeth fill half the picture"),
    "back": ("too near", "three painted teeth whole in the picture"),
    "straight": ("from the side", "look straight onto the flank"),
    "lamp": ("lamp behind the phone", "lamp to one side, no glare on the flanks"),
    "rest": ("held in the air", "rest the phone, tap the teeth to focus"),
    "paint": ("bare teeth", "brush three teeth, thin and even"),
    "roll": ("painted, not rolled", "roll both ways under drag, then photograph"),
}


def retake_svg(code: str) -> str:
    """The drawing for a refusal: as it was, crossed, and as it should be, ticked. Empty where none helps."""
    way = _WAYS.get(code)
    if way is None:
        return ""
    wrong, right = _SAYS[way]
    drawing = Drawing(420, 240, PAPER, f"Retake like this: {right}", f"Not like this: {wrong}.")
    _pair(drawing, way)
    return drawing.svg(alone=False)


def retake_lines() -> list[str]:
    """The words of every pair, for a terminal."""
    return [f"not: {wrong:<22} but: {right}" for wrong, right in _SAYS.values()]


def retake_sheet() -> Drawing:
    """Every pair on one sheet: as a photo shouldn't be, crossed, and as it should, ticked."""
    story = "; ".join(f"not {wrong}, but {right}" for wrong, right in _SAYS.values())
    sheet = Drawing(860, 12 + 240 * ((len(_SAYS) + 1) // 2), PAPER, "Photos: not like this, like this", story)
    for number, way in enumerate(_SAYS):
        pair = Drawing(420, 240, PAPER, "")
        _pair(pair, way)
        across, down = 430.0 * (number % 2), 240.0 * (number // 2)
        for item in pair.items:
            if isinstance(item, Words):
                sheet.items.append(replace(item, at=(item.at[0] + across, item.at[1] + down)))
            else:
                sheet.items.append(
                    replace(item, points=tuple((x + across, y + down) for x, y in item.points))
                )
    return sheet


def _pair(drawing: Drawing, way: str) -> None:
    wrong, right = _SAYS[way]
    for left, good in ((10.0, False), (215.0, True)):
        drawing.shape(box(left, 10, 195, 146), RIGHT if good else WRONG, fill="#f1f1ec", width=3)
        _scene(drawing, left, way, good)
        _sign(drawing, (left + 18, 176), good)
        for row, words in enumerate(_lines(right if good else wrong)):
            drawing.words((left + 34, 181 + 19 * row), words, 13.5, INK, bold=good)


def _scene(drawing: Drawing, left: float, way: str, good: bool) -> None:
    """What the camera's picture shows: a row of teeth, near or far, straight or slanted."""
    middle = (left + 97.0, 84.0)
    scale, count, squeeze = 1.0, 3, 1.0
    if way == "closer" and not good:
        scale, count = 0.3, 5
    if way == "back" and not good:
        scale, count = 2.1, 1
    if way == "straight" and not good:
        squeeze = 0.28
    for k in range(count):
        offset = (k - (count - 1) / 2) * 38 * scale
        tooth = _tooth((middle[0], middle[1] + offset * squeeze), scale, squeeze)
        painted = good or way != "paint"
        drawing.shape(_kept(tooth, left), INK, fill=PAINT if painted else STEEL, width=2)
        if painted and (good or way not in ("roll",)):
            patch = _tooth((middle[0] - 6 * scale, middle[1] + offset * squeeze), 0.45 * scale, squeeze)
            drawing.shape(_kept(patch, left), INK, fill=STEEL, width=1.2)
        if way == "rest" and not good:
            for shift in (-5.0, 5.0):
                ghost = [(x + shift, y + shift / 2) for x, y in _kept(tooth, left)]
                drawing.shape(ghost, INK, width=1, dash=(3, 3))
    if way == "lamp":
        at = (left + 172, 34) if good else middle
        if not good:
            drawing.shape(ring(at, 34), None, fill="#ffffff")
        drawing.shape(ring(at, 9), INK, fill="#ffd75e", width=2)
        for k in range(8):
            ray = ring(at, 1, 8)[k]
            dx, dy = ray[0] - at[0], ray[1] - at[1]
            drawing.shape(
                [(at[0] + 12 * dx, at[1] + 12 * dy), (at[0] + 18 * dx, at[1] + 18 * dy)], INK, width=2
            )


def _tooth(at: Point, scale: float, squeeze: float) -> list[Point]:
    """One flank, toe at the left, a little slanted."""
    long, tall = 70 * scale, 14 * scale * squeeze
    x, y = at
    return [
        (x - long, y + tall * 0.8),
        (x + long, y + tall),
        (x + long, y - tall),
        (x - long, y - tall * 0.8),
    ]


def _kept(points: list[Point], left: float) -> list[Point]:
    """Points inside the frame."""
    return [(min(max(x, left + 3), left + 192), min(max(y, 13), 153)) for x, y in points]


def _sign(drawing: Drawing, at: Point, good: bool) -> None:
    x, y = at
    if good:
        drawing.shape([(x - 9, y), (x - 3, y + 7), (x + 10, y - 9)], RIGHT, width=4, closed=False)
    else:
        drawing.shape([(x - 8, y - 8), (x + 8, y + 8)], WRONG, width=4, closed=False)
        drawing.shape([(x - 8, y + 8), (x + 8, y - 8)], WRONG, width=4, closed=False)


def _lines(words: str) -> list[str]:
    from textwrap import wrap

    return wrap(words, 20)[:3]
