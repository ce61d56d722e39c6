"""Pictures of questions in characters, for any terminal. Every sign has its own form; colour isn't needed."""

from __future__ import annotations

import textwrap
from math import dist

from contactread.patch import Edge, Patch, Point
from contactread.practice.plan_view import HALF_WIDTH, tooth_line
from contactread.practice.question import FlankPicture, GearPicture, Picture, ToothPicture
from contactread.show.flank_text import covers
from contactread.show.text import printable

# Columns and rows of a flank where so many stand side by side in 80 columns.
_SIZES = {1: (32, 6), 2: (32, 6), 3: (24, 6), 4: (17, 5), 6: (10, 5)}
_FRAME, _PLAIN_FRAME = "┌┐└┘─│", "++++-|"
_PATCH, _CENTRE = ("▒", "#"), ("╋", "+")
LEGEND = ("▒ patch  ╋ its centre", "# patch  + its centre")


def text_lines(picture: Picture, plain: bool = False, most_rows: int = 6) -> list[str]:
    """The picture, line by line. plain: ASCII only. most_rows: of a flank, where there is little room."""
    if isinstance(picture, FlankPicture):
        columns, rows = _SIZES[len(picture.flanks)]
        rows = min(rows, most_rows)
        panels = [flank_panel(title, _cells(p, columns, rows, plain), plain) for title, p in picture.flanks]
        return [" ".join(parts).rstrip() for parts in zip(*panels, strict=True)]
    if isinstance(picture, ToothPicture):
        return _tooth(picture, plain)
    if isinstance(picture, GearPicture):
        return _gear(picture, plain)
    return [f"The photograph: {printable(picture.path)}", *textwrap.wrap(picture.says, 78)]


def flank_panel(title: str, rows: list[str], plain: bool) -> list[str]:
    """One flank in a frame that names its edges: toe left, heel right, top above, root below."""
    corner = _PLAIN_FRAME if plain else _FRAME
    columns, line = len(rows[0]), corner[4]
    body = [corner[5] + row + corner[5] for row in rows]
    below = (
        "toe" + "root".center(columns - 7, line) + "heel"
        if columns >= 12
        else "t" + "r".center(columns - 2, line) + "h"
    )
    return [
        title[: columns + 2].ljust(columns + 2),
        corner[0] + ("top" if columns >= 12 else "").center(columns, line) + corner[1],
        *body,
        corner[2] + below + corner[3],
    ]


def _cells(patch: Patch, columns: int, rows: int, plain: bool) -> list[str]:
    """The flank's rows from the top edge down."""
    at = min(int(patch.centre[0] * columns), columns - 1), min(int(patch.centre[1] * rows), rows - 1)
    lines, shape = [], patch.shape()
    for row in reversed(range(rows)):
        signs = []
        for column in range(columns):
            inside = covers(shape, (column + 0.5) / columns, (row + 0.5) / rows)
            signs.append(_CENTRE[plain] if (column, row) == at else _PATCH[plain] if inside else " ")
        lines.append("".join(signs))
    return lines


def _tooth(picture: ToothPicture, plain: bool) -> list[str]:
    letters: dict[Edge, str] = dict(picture.letters)
    columns, rows = _SIZES[1]
    cells = _cells(picture.patch, columns, rows, plain)
    ends, to_centre = (letters["toe"], letters["heel"]), "<-- to the gear's centre"
    if not picture.toe_left:
        cells, ends, to_centre = [row[::-1] for row in cells], ends[::-1], "to the gear's centre -->"
    corner = _PLAIN_FRAME if plain else _FRAME
    lines = ["One side of a tooth, seen square on:"]
    lines.append("   " + corner[0] + letters["top"].center(columns, corner[4]) + corner[1])
    for number, row in enumerate(cells):
        left, right = ends if number == rows // 2 else (" ", " ")
        lines.append(f" {left} {corner[5]}{row}{corner[5]} {right}")
    lines.append("   " + corner[2] + letters["root"].center(columns, corner[4]) + corner[3])
    return [*lines, "   " + "/" * (columns + 2) + "  body of the gear", "   " + to_centre.center(columns + 2)]


def _gear(picture: GearPicture, plain: bool) -> list[str]:
    """The tooth from above, without the rest of the gear."""
    half_columns, half_rows, scale = 24, 6, 0.036
    line = tooth_line(picture.clock_deg, picture.hand)
    middle = line[len(line) // 2]
    grid = []
    for row in range(half_rows, -half_rows - 1, -1):
        signs = []
        for column in range(-half_columns, half_columns + 1):
            point = (middle[0] + column * scale, middle[1] + row * scale * 2)
            signs.append("#" if min(dist(point, p) for p in line) < 1.15 * HALF_WIDTH else " ")
        grid.append(signs)

    def put(words: str, at: Point) -> None:
        column = round((at[0] - middle[0]) / scale) + half_columns
        row = half_rows - round((at[1] - middle[1]) / scale / 2)
        row = min(max(row, 0), len(grid) - 1)
        column = min(max(column - len(words) // 2, 0), 2 * half_columns + 1 - len(words))
        grid[row][column : column + len(words)] = words

    for flank, letter in picture.letters:
        across = 0.14 if flank == "concave" else -0.14
        put(letter, tooth_line(picture.clock_deg, picture.hand, across)[len(line) // 2])
    put("toe", _beyond(line[1], line[0], 0.08))
    put("heel", _beyond(line[-2], line[-1], 0.08))
    drawn = ["".join(signs).rstrip() for signs in grid]
    if not plain:
        drawn = [row.replace("#", "█") for row in drawn]
    return ["A ring-gear tooth from above the gear's face (drawn more curved than it is):", *drawn]


def _beyond(before: Point, end: Point, by: float) -> Point:
    """A point past the end of a line, `by` further on."""
    step = dist(before, end)
    return end[0] + (end[0] - before[0]) / step * by, end[1] + (end[1] - before[1]) / step * by
