"""A reading of an invented photo: teeth on straight flanks, with known patches."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from contactread.axle import FlankName, role_of
from contactread.flank.flank import Flank, FlankMap
from contactread.pattern.measures import Side, ToothPattern
from contactread.photo.photo import Photo
from contactread.reading import Reading, ReadTooth


def straight_flank(x: float, y: float, length: float, height: float, name: FlankName) -> Flank:
    """A flank with its toe root corner at (x, y), heel to the right, top upward in the picture."""
    u, v = (grid.ravel() for grid in np.meshgrid(np.linspace(0, 1, 4), np.linspace(0, 1, 4)))
    points = np.stack([x + length * u, y - height * v], axis=1)
    coefficients, *_ = np.linalg.lstsq(FlankMap.basis(u, v, 2, 2), points, rcond=None)
    return Flank(FlankMap(coefficients.reshape(2, 2, 2)), name, 0.9, 0.01, "corners")


def made_pattern(centre: tuple[float, float]) -> ToothPattern:
    u, v = centre
    return ToothPattern(
        centre, (u - 0.2, u + 0.2), (v - 0.15, v + 0.15), 0.2, 8.0, frozenset(), frozenset(),
        {"toe": 5.0, "heel": 9.0, "top": 2.0, "root": 1.0}, (0.01, 0.02), 0.0,
    )  # fmt: skip


def made_side(
    flank: FlankName = "convex", centre: tuple[float, float] = (0.42, 0.35), teeth: int = 3
) -> Side:
    pattern = made_pattern(centre)
    return Side(
        flank, role_of(flank), centre, pattern.sigma, pattern.length, pattern.height, 0.2, 8.0,
        frozenset(), frozenset(), pattern.margins_mm, (0.01, 0.015), None, "pressed_away", "yellow",
        (pattern,) * teeth,
    )  # fmt: skip


def made_reading(
    path: Path | None = None, flank: FlankName = "convex", centre: tuple[float, float] = (0.42, 0.35)
) -> Reading:
    """Three painted teeth, one above the other, and a bare one, in a picture of 800 x 600."""
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    contour = np.stack([centre[0] + 0.24 * np.cos(turn), centre[1] + 0.18 * np.sin(turn)], axis=1)
    painted = [
        ReadTooth(straight_flank(150, 180 + 120 * i, 500, 80, flank), True, made_pattern(centre), (contour,))
        for i in range(3)
    ]
    bare = ReadTooth(straight_flank(150, 540, 500, 80, flank), False, None)
    return Reading(
        path, "0" * 64, (800, 600), (*painted, bare), made_side(flank, centre), 0.9, ("oblique", "scatter")
    )


def made_photo(width: int = 800, height: int = 600) -> Photo:
    return Photo(None, np.full((height, width, 3), 110, np.uint8), "0" * 64, "png")
