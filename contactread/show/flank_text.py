"""A flank drawn in characters, small enough for two beside each other: toe left, heel right, top above."""

from __future__ import annotations

from typing import TYPE_CHECKING

from contactread.patch import Edge, Outline, Patch, Point
from contactread.pattern.measures import Side

if TYPE_CHECKING:
    from contactread.belief.targets import Zone

ROWS, COLUMNS = 7, 36
WIDTH = COLUMNS + 2
_SIGNS = {"patch": "▒", "both": "▓", "centre": "╋", "after": "◆", "zone": "·", "bare": " "}
_PLAIN_SIGNS = {"patch": "o", "both": "#", "centre": "+", "after": "X", "zone": ".", "bare": " "}


def flank_lines(
    side: Patch | None, zone: Zone | None, plain: bool = False, after: Point | None = None
) -> list[str]:
    """The drawing, line by line, each WIDTH wide. plain: ASCII characters only. after: where the centre is
    expected once the move is made. side: None leaves the flank bare.

    The patch is darker inside the zone in which its centre is wanted.
    """
    signs = _PLAIN_SIGNS if plain else _SIGNS
    corner, across, upright = ("++++", "-", "|") if plain else ("┌┐└┘", "─", "│")
    outlines = () if side is None else side.shape()
    here = None if side is None else _cell(side.centre)
    then = None if after is None else _cell(after)

    def sign(column: int, row: int) -> str:
        u, v = (column + 0.5) / COLUMNS, (row + 0.5) / ROWS
        if (column, row) == then != here:
            return signs["after"]
        if (column, row) == here:
            return signs["centre"]
        patch = covers(outlines, u, v)
        wanted = zone is not None and zone.u[0] <= u <= zone.u[1] and zone.v[0] <= v <= zone.v[1]
        return signs[
            {(True, True): "both", (True, False): "patch", (False, True): "zone"}.get((patch, wanted), "bare")
        ]

    lines = [corner[0] + " top ".center(COLUMNS, across) + corner[1]]
    lines += [
        upright + "".join(sign(column, row) for column in range(COLUMNS)) + upright
        for row in reversed(range(ROWS))
    ]
    ends = " toe " + " root ".center(COLUMNS - 11, across) + " heel "
    return [*lines, corner[2] + ends + corner[3]]


def legend(plain: bool = False, after: bool = False) -> str:
    """What the signs of the drawing mean."""
    signs = _PLAIN_SIGNS if plain else _SIGNS
    text = f"{signs['patch']}{signs['both']} patch   {signs['centre']} its centre, wanted in " + (
        f"{signs['zone']}{signs['both']}"
    )
    return text + (f"   {signs['after']} centre after the move" if after else "")


def side_words(side: Side, zone: Zone) -> str:
    """Where the patch sits, in a few words that fit below its drawing."""
    along = _place(side.centre[0], zone.u, side, ("toe", "heel"), ("near toe", "near heel"))
    up = _place(side.centre[1], zone.v, side, ("root", "top"), ("low", "high"))
    words = [word for word in (up, along) if word]
    text = ", ".join(words) if words else "in its zone"
    text = text[:1].upper() + text[1:]
    numbers = f": {side.centre[0]:.0%} along, {side.centre[1]:.0%} up"
    return text + numbers if len(text + numbers) <= WIDTH else text


def _place(
    value: float, zone: tuple[float, float], side: Side, edges: tuple[Edge, Edge], words: tuple[str, str]
) -> str:
    """The word for one direction, "" where it is right. A patch cut off at an edge is told by that edge."""
    low_off, high_off = (edge in side.runs_off for edge in edges)
    if low_off and high_off:
        return f"off {edges[0]}, {edges[1]}"
    if low_off or high_off:
        return f"off {edges[0] if low_off else edges[1]}"
    return words[0] if value < zone[0] else words[1] if value > zone[1] else ""


def _cell(at: Point) -> tuple[int, int]:
    column, row = (int(share * count) for share, count in zip(at, (COLUMNS, ROWS), strict=True))
    return min(max(column, 0), COLUMNS - 1), min(max(row, 0), ROWS - 1)


def covers(outlines: tuple[Outline, ...], u: float, v: float) -> bool:
    """Whether the point lies within the outlines: a line from it crosses them an odd number of times."""
    inside = False
    for outline in outlines:
        for (u0, v0), (u1, v1) in zip(outline, (*outline[1:], outline[0]), strict=True):
            if (v0 > v) != (v1 > v) and u < u0 + (v - v0) / (v1 - v0) * (u1 - u0):
                inside = not inside
    return inside
