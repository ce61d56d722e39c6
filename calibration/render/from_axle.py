"""Ring-gear solid and contact regions of one axle, from the mesh model."""

from __future__ import annotations

from math import degrees, sin, tan

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.render.compound import PAINTED
from calibration.render.gear_shape import RingGearShape
from contactread.axle import FlankName
from contactread.mesh.blank import Blank
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import MeshModel

Field = NDArray[np.float32]


def shape_of(blank: Blank, edge_break: float = 0.3, web: float = 14.0) -> RingGearShape:
    """The solid that has this blank. Edge break and body are free; the blank doesn't name them."""
    half = blank.face_width2 / 2

    def depth(along: float) -> float:
        addendum = blank.addendum2 + along * tan(blank.addendum_angle2)
        return addendum + blank.dedendum2 + along * tan(blank.dedendum_angle2)

    radius = blank.cones.radius2
    return RingGearShape(
        teeth=blank.teeth2,
        diameter=2 * blank.heel_distance * sin(blank.cones.cone2),
        face_width=blank.face_width2,
        pitch_angle=degrees(blank.cones.cone2),
        spiral=degrees(blank.cones.spiral2),
        cutter_radius=blank.cutter_radius,
        cutter_groups=round(blank.cutter_groups),
        hand=blank.hand,
        pressure_convex=degrees(blank.pressure_drive),
        pressure_concave=degrees(blank.pressure_coast),
        depth_heel=depth(half),
        depth_toe=depth(-half),
        addendum=blank.addendum2 / (blank.addendum2 + blank.dedendum2),
        thickness=blank.thickness2 / np.cos(blank.cones.spiral2) * blank.teeth2 / (2 * np.pi * radius),
        fillet=blank.clearance,
        edge_break=edge_break,
        web=web,
    )


def contact_regions(
    model: MeshModel,
    flank: FlankName,
    at: Displacement,
    runout: float,
    size: tuple[float, float],
    tile: tuple[int, int],
    rng: np.random.Generator,
) -> list[Field]:
    """Signed distance (mm, positive inside) of the patch on each painted tile.

    runout: amplitude in mm of the ring gear's once-per-turn swing, of which the painted teeth show a part.
    tile: (rows, columns). Tooth-to-tooth scatter: 0.01 mm of ring move, an invented amount.
    """
    fields = []
    start = float(rng.uniform(0, 2 * np.pi))
    for i in range(PAINTED):
        swing = runout * np.sin(start + 2 * np.pi * i / model.blank.teeth2 * 1.6) + float(rng.normal(0, 0.01))
        here = Displacement(
            at.pinion + float(rng.normal(0, 0.006)), at.ring + swing, at.offset, at.shaft_angle
        )
        fields.append(_distance(model.coverage(flank, here).T, size, tile))
    return fields


def _distance(covered: NDArray[np.float64], size: tuple[float, float], tile: tuple[int, int]) -> Field:
    """covered: share of each cell (v, u). Distance to the region's edge; mm along u and v counted alike."""
    rows, columns = tile
    smooth = cv2.resize(covered.astype(np.float32), (columns, rows), interpolation=cv2.INTER_CUBIC)
    inside = (cv2.GaussianBlur(smooth, (0, 0), rows / 40) > 0.5).astype(np.uint8)
    # rows stretched so that one pixel is the same length both ways
    tall = max(2, round(size[1] / size[0] * columns))
    even = cv2.resize(inside, (columns, tall), interpolation=cv2.INTER_NEAREST)
    padded = cv2.copyMakeBorder(even, 1, 1, 1, 1, cv2.BORDER_REPLICATE)
    distance = cv2.distanceTransform(padded, cv2.DIST_L2, 5) - cv2.distanceTransform(
        1 - padded, cv2.DIST_L2, 5
    )
    distance = distance[1:-1, 1:-1] * np.float32(size[0] / columns)
    limit = np.float32(max(size))
    return np.clip(cv2.resize(distance, (columns, rows)), -limit, limit).astype(np.float32)
