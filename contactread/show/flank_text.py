"""A flank drawn in characters: toe left, heel right, top edge above, root below."""

from __future__ import annotations

from contactread.belief.targets import Zone
from contactread.pattern.measures import Side

ROWS, COLUMNS = 9, 30
# Of a full ellipse the 5 and 95 % points lie at 0.805 of its half axis (semicircle distribution).
_ELLIPSE_5_95 = 0.805
_SIGNS = {"patch": "▒", "both": "▓", "centre": "╋", "zone": "·", "bare": " "}
_PLAIN_SIGNS = {"patch": "o", "both": "#", "centre": "+", "zone": ".", "bare": " "}


def flank_lines(side: Side, zone: Zone | None, plain: bool = False) -> list[str]:
    """The drawing, line by line, all of equal width. plain: ASCII characters only.

    The patch is drawn as an ellipse over its 5 to 95 % extents, darker inside the zone in which its
    centre is wanted.
    """
    signs = _PLAIN_SIGNS if plain else _SIGNS
    corner, across, upright = ("++++", "-", "|") if plain else ("┌┐└┘", "─", "│")
    middle_u, middle_v = (sum(side.length) / 2, sum(side.height) / 2)
    half_u = max((side.length[1] - side.length[0]) / 2 / _ELLIPSE_5_95, 0.5 / COLUMNS)
    half_v = max((side.height[1] - side.height[0]) / 2 / _ELLIPSE_5_95, 0.5 / ROWS)
    at = min(int(side.centre[0] * COLUMNS), COLUMNS - 1), min(int(side.centre[1] * ROWS), ROWS - 1)

    def sign(column: int, row: int) -> str:
        u, v = (column + 0.5) / COLUMNS, (row + 0.5) / ROWS
        if (column, row) == at:
            return signs["centre"]
        patch = ((u - middle_u) / half_u) ** 2 + ((v - middle_v) / half_v) ** 2 <= 1
        wanted = zone is not None and zone.u[0] <= u <= zone.u[1] and zone.v[0] <= v <= zone.v[1]
        return signs[
            {(True, True): "both", (True, False): "patch", (False, True): "zone"}.get((patch, wanted), "bare")
        ]

    blank, toe, heel = "     ", " toe ", " heel"
    lines = [blank + "top edge".center(COLUMNS + 2) + blank]
    lines.append(blank + corner[0] + across * COLUMNS + corner[1] + blank)
    for row in reversed(range(ROWS)):
        left, right = (toe, heel) if row == ROWS // 2 else (blank, blank)
        lines.append(left + upright + "".join(sign(c, row) for c in range(COLUMNS)) + upright + right)
    lines.append(blank + corner[2] + across * COLUMNS + corner[3] + blank)
    lines.append(blank + "root".center(COLUMNS + 2) + blank)
    patch, wanted = signs["patch"] + signs["both"], signs["zone"] + signs["both"]
    lines.append(f"{patch} patch   {signs['centre']} its centre, wanted in {wanted}".center(COLUMNS + 12))
    return lines
