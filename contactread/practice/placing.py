"""Drawing a patch instead of typing it: its centre, then two corners of the box round it, with cursor keys.

The page does the same with a finger; both end in the words that `parse_patch` reads.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from contactread.patch import Point
from contactread.practice.draw_text import flank_panel

Key = Literal["left", "right", "up", "down", "enter", "back"]
COLUMNS, ROWS = 50, 12
STEP = 0.02
_WAYS: dict[Key, Point] = {"left": (-STEP, 0), "right": (STEP, 0), "up": (0, STEP), "down": (0, -STEP)}
_ASKED = (
    "Put the + on the CENTRE. Arrows move it, Enter sets it, Backspace goes back.",
    "Now where the patch begins: its TOE end and ROOT side.",
    "Now where it ends: its HEEL end and TOP side.",
)


@dataclass(frozen=True)
class Placing:
    """What has been drawn so far. cursor: where the mark stands; set_points: those set, in order."""

    cursor: Point = (0.5, 0.5)
    set_points: tuple[Point, ...] = ()

    @property
    def done(self) -> bool:
        return len(self.set_points) == len(_ASKED)

    def press(self, key: Key) -> Placing:
        """After one key. The last corner must lie beyond the first, toward heel and top."""
        if key in _WAYS:
            u, v = (round(min(max(x + d, 0.0), 1.0), 4) for x, d in zip(self.cursor, _WAYS[key], strict=True))
            return replace(self, cursor=(u, v))
        if key == "back":
            if not self.set_points:
                return self
            return Placing(self.set_points[-1], self.set_points[:-1])
        (u, v), last = self.cursor, (self.set_points or ((-1.0, -1.0),))[-1]
        if len(self.set_points) == 2 and not (u > last[0] and v > last[1]):
            return self
        return replace(self, set_points=(*self.set_points, self.cursor))

    def answer(self) -> str:
        """The answer as it would be typed; all three points must be set."""
        (u, v), (u0, v0), (u1, v1) = ((100 * x, 100 * y) for x, y in self.set_points)
        return f"{u0:.0f}-{u1:.0f} {v0:.0f}-{v1:.0f} centre {u:.0f} {v:.0f}"

    def lines(self, plain: bool = False) -> list[str]:
        """What stands on the screen: always as many lines, each of 79 columns at most."""
        grid = [[" "] * COLUMNS for _ in range(ROWS)]
        corners = (*self.set_points[1:], self.cursor)[:2] if len(self.set_points) >= 2 else ()
        if corners:
            (c0, r0), (c1, r1) = (_cell(p) for p in corners)
            for row in range(min(r0, r1), max(r0, r1) + 1):
                for column in range(min(c0, c1), max(c0, c1) + 1):
                    grid[row][column] = "." if plain else "░"
        for sign, point in (("o", self.set_points[:1]), ("+", (self.cursor,))):
            for p in point:
                column, row = _cell(p)
                grid[row][column] = sign
        asked = "" if self.done else _ASKED[len(self.set_points)]
        rows = ["".join(row) for row in reversed(grid)]
        u, v = self.cursor
        place = f"{u:.0%} of the length from the toe, {v:.0%} of the height from the root"
        return [*(line.ljust(79) for line in flank_panel("The marked tooth", rows, plain)),
                place.ljust(79), asked.ljust(79)]  # fmt: skip


def _cell(point: Point) -> tuple[int, int]:
    return min(int(point[0] * COLUMNS), COLUMNS - 1), min(int(point[1] * ROWS), ROWS - 1)
