"""A reading of an invented photo: teeth on straight flanks, with known patches."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import numpy as np

from contactread.axle import FlankName, role_of
from contactread.flank.flank import Flank, FlankMap
from contactread.patch import Clear
from contactread.pattern.measures import ReadPatch, Side, ToothPattern
from contactread.photo.photo import Photo
from contactread.reading import Reading, ReadTooth


def straight_flank(x: float, y: float, length: float, height: float, name: FlankName) -> Flank:
    """A flank of a left-hand gear, top upward in the picture, its left root corner at (x, y): the toe of a
    convex one, the heel of a concave one.
    """
    u, v = (grid.ravel() for grid in np.meshgrid(np.linspace(0, 1, 4), np.linspace(0, 1, 4)))
    points = np.stack([x + length * (u if name == "convex" else 1 - u), y - height * v], axis=1)
    coefficients, *_ = np.linalg.lstsq(FlankMap.basis(u, v, 2, 2), points, rcond=None)
    return Flank(FlankMap(np.asarray(coefficients, float).reshape(2, 2, 2)), name, 0.9, 0.01, "corners")


def made_pattern(centre: tuple[float, float]) -> ToothPattern:
    u, v = centre
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    outline = tuple((u + 0.24 * float(np.cos(a)), v + 0.18 * float(np.sin(a))) for a in turn)
    return ToothPattern(
        centre=centre, length=(u - 0.2, u + 0.2), height=(v - 0.15, v + 0.15), area_fraction=0.2,
        tilt_deg=8.0, clear=Clear(0.2, 0.3, 0.3, 0.15), outlines=(outline,), sigma=(0.01, 0.02),
        size_mm=(30.0, 7.0), unsure_fraction=0.0,
    )  # fmt: skip


def made_side(
    flank: FlankName = "convex", centre: tuple[float, float] = (0.42, 0.35), teeth: int = 3
) -> Side:
    pattern = made_pattern(centre)
    shared = {f.name: getattr(pattern, f.name) for f in fields(ReadPatch) if f.name != "outlines"}
    return Side(
        **shared, flank=flank, role=role_of(flank), spread=(0.01, 0.015), compound="yellow",
        teeth=(pattern,) * teeth,
    )  # fmt: skip


def made_reading(
    path: Path | None = None, flank: FlankName = "convex", centre: tuple[float, float] = (0.42, 0.35)
) -> Reading:
    """Three painted teeth, one above the other, and a bare one, in a picture of 800 x 600."""
    painted = [
        ReadTooth(straight_flank(150, 180 + 120 * i, 500, 80, flank), True, made_pattern(centre))
        for i in range(3)
    ]
    bare = ReadTooth(straight_flank(150, 540, 500, 80, flank), False, None)
    return Reading(
        path, "0" * 64, (800, 600), (*painted, bare), made_side(flank, centre), 0.9, ("oblique", "scatter")
    )


def other_hand(reading: Reading) -> Reading:
    """The reading as of the mirrored photo."""
    flank: FlankName = "concave" if reading.side.flank == "convex" else "convex"
    mirrored = straight_flank(150, 180, 500, 80, flank).map
    teeth = tuple(replace(t, flank=replace(t.flank, map=mirrored)) for t in reading.teeth)
    return replace(reading, teeth=teeth)


def made_photo(width: int = 800, height: int = 600) -> Photo:
    return Photo(None, np.full((height, width, 3), 110, np.uint8), "0" * 64, "png")
