"""A side told in numbers instead of photographed: by eye, from a drawing, or from the mesh model."""

from __future__ import annotations

from contactread.axle import FlankName, Interval, Role
from contactread.patch import Point, told_clear
from contactread.pattern.measures import Side

# How well a practised eye places a patch, in flank fractions (u, v): common practice, no source.
EYE_SIGMA: Point = (0.06, 0.10)


def side_from(
    flank: FlankName,
    role: Role,
    centre: Point,
    length: Interval,
    height: Interval,
    *,
    sigma: Point = EYE_SIGMA,
    area_fraction: float | None = None,
    tilt_deg: float = 0.0,
) -> Side:
    """A side with this centre and extents, all in flank fractions; a patch at 0 or 1 runs off that edge.

    area_fraction: of an ellipse in the extents where it isn't given.
    """
    if area_fraction is None:
        area_fraction = 0.785 * (length[1] - length[0]) * (height[1] - height[0])
    return Side(
        flank=flank,
        role=role,
        centre=centre,
        sigma=sigma,
        length=length,
        height=height,
        area_fraction=area_fraction,
        tilt_deg=tilt_deg,
        clear=told_clear(length, height),
    )
