"""A set-up told in numbers, which tests of several rooms share."""

from __future__ import annotations

from contactread.advice.by_eye import EYE_SIGMA, side_from
from contactread.axle import FlankName, Interval, Role
from contactread.patch import Point
from contactread.pattern.measures import Setup, Side


def setup_from(
    drive: Point,
    coast: Point,
    backlash_mm: tuple[float, ...] = (),
    *,
    sigma: Point = EYE_SIGMA,
    size: Point = (0.45, 0.45),
) -> Setup:
    """A set-up of normal rotation whose patches have these centres and this size, cut at the edges."""
    return Setup(
        _cut("convex", "drive", drive, size, sigma), _cut("concave", "coast", coast, size, sigma), backlash_mm
    )


def _cut(flank: FlankName, role: Role, centre: Point, size: Point, sigma: Point) -> Side:
    def extent(middle: float, width: float) -> Interval:
        return max(middle - width / 2, 0.0), min(middle + width / 2, 1.0)

    return side_from(flank, role, centre, extent(centre[0], size[0]), extent(centre[1], size[1]), sigma=sigma)
