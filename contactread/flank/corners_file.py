"""The corners file: flanks marked by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np

from contactread.arrays import Floats
from contactread.axle import FlankName
from contactread.errors import CornersError
from contactread.flank.flank import CORNER_UV
from contactread.outside import Unfit, read_json

MOST_TEETH = 120
MOST_BYTES = 1_000_000
SMALLEST_PX = 8.0
SHAPE = '{"teeth": [{"toe_root": [x, y], "toe_top": [x, y], "heel_top": [x, y], "heel_root": [x, y]}]}'
MARKING = "For every tooth mark toe_root, toe_top, heel_top and heel_root in pixels of the upright picture."


@dataclass(frozen=True, eq=False)
class MarkedFlanks:
    """corners: float64, (teeth, 4, 2), pixels in the order of CORNER_UV. flank: as the file says, or None."""

    corners: Floats
    flank: FlankName | None


def read_corners(source: Path | str | Mapping[str, Any], size: tuple[int, int]) -> MarkedFlanks:
    """The marks of a corners file, checked.

    source: the file, or its content as loaded. size: (width, height) of the upright picture.
    Raises CornersError: corners-missing, corners-unreadable, corners-no-teeth, corners-incomplete,
    corners-bad-number, corners-outside, corners-shape, corners-bad-flank.
    """
    content = _load(Path(source)) if isinstance(source, (str, Path)) else source
    teeth = content.get("teeth") if isinstance(content, Mapping) else None
    if not isinstance(teeth, list) or not teeth:
        raise CornersError(
            "corners-no-teeth", "The corners file has no list of teeth.", f"It should look like this: {SHAPE}"
        )
    if len(teeth) > MOST_TEETH:
        raise CornersError(
            "corners-no-teeth",
            f"The corners file lists {len(teeth)} teeth, more than one picture can hold.",
            f"List at most {MOST_TEETH} teeth.",
        )
    corners = np.array([_tooth(tooth, number, size) for number, tooth in enumerate(teeth, 1)])
    return MarkedFlanks(corners, _flank(content, teeth))


def _load(path: Path) -> Mapping[str, Any]:
    try:
        content = read_json(path, MOST_BYTES)
    except Unfit as error:
        if error.kind == "missing":
            raise CornersError(
                "corners-missing", f"There is no corners file '{path}'.", "Check the path after --corners."
            ) from error
        raise CornersError(
            "corners-unreadable",
            f"The corners file '{path}' can't be used: {error}.",
            f"It should look like this: {SHAPE}",
        ) from error
    return cast(Mapping[str, Any], content)


def _tooth(tooth: Any, number: int, size: tuple[int, int]) -> Floats:
    if not isinstance(tooth, Mapping):
        raise CornersError(
            "corners-incomplete", f"Tooth {number} isn't a set of four corners.", f"Use this shape: {SHAPE}"
        )
    missing = [name for name in CORNER_UV if name not in tooth]
    if missing:
        raise CornersError("corners-incomplete", f"Tooth {number} lacks {', '.join(missing)}.", MARKING)
    points = np.array([_point(tooth[name], name, number) for name in CORNER_UV])
    # A corner may lie outside the picture (a tooth cut off by its edge), but not far outside.
    reach = np.array(size, float)
    if (points < -reach).any() or (points > 2 * reach).any():
        raise CornersError(
            "corners-outside",
            f"Tooth {number} has a corner far outside the picture of {size[0]} x {size[1]} pixels.",
            "Mark the corners on the upright picture at its full size.",
        )
    if not _simple(points):
        raise CornersError(
            "corners-shape",
            f"The corners of tooth {number} don't make a flank: its sides cross or it is too small.",
            "Mark them in this order round the flank: toe_root, toe_top, heel_top, heel_root.",
        )
    return points


def _point(value: Any, name: str, number: int) -> tuple[float, float]:
    good = (
        isinstance(value, (list, tuple))
        and len(value) == 2
        and all(isinstance(x, (int, float)) and not isinstance(x, bool) for x in value)
        and all(abs(x) < 1e7 for x in value)  # also refuses NaN and infinity
    )
    if not good:
        raise CornersError(
            "corners-bad-number",
            f"{name} of tooth {number} isn't two numbers.",
            "Write it as [x, y] in pixels.",
        )
    return float(value[0]), float(value[1])


def _simple(points: Floats) -> bool:
    """True where the sides of the four-sided figure don't cross and each is long enough."""

    def turn(a: int, b: int, c: int) -> float:
        (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
        return float((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))

    def crosses(a: int, b: int, c: int, d: int) -> bool:
        return turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0

    sides = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1)
    longest, shortest = float(sides.max()), float(sides.min())
    return longest >= SMALLEST_PX and shortest >= 2 and not crosses(0, 1, 2, 3) and not crosses(1, 2, 3, 0)


def _flank(content: Mapping[str, Any], teeth: list[Any]) -> FlankName | None:
    given = [each.get("flank") for each in (content, *teeth)]
    names = {name if isinstance(name, str) else repr(name)[:20] for name in given if name is not None}
    if not names:
        return None
    if len(names) > 1 or not names <= {"convex", "concave"}:
        raise CornersError(
            "corners-bad-flank",
            f"The corners file names the flank as {', '.join(sorted(map(str, names)))}.",
            "One photo shows one side: write convex or concave, the same for all teeth, or leave it out.",
        )
    return cast(FlankName, names.pop())
