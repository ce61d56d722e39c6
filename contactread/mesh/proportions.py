"""Choices of the tooth designer, and what follows from them: depth taper, pinion cones and face width.

ISO 23509 from memory; sources.md D1 to D4 check it (tests/published). mm, rad.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, atan, cos, radians, sin, sqrt, tan

from contactread.mesh.pitch_cones import Method, PitchCones, PitchProblem


@dataclass(frozen=True)
class Proportions:
    """Choices of the tooth designer that a mechanic seldom knows. None: the usual value.

    method: ISO 23509 method. mean_diameter_mm: dm2, in place of the ring diameter. pinion_spiral_deg: in
    place of the ring-gear spiral. depth_factor: working depth / mean normal module. clearance_factor:
    clearance / working depth. addendum_factor: ring-gear addendum / working depth. addendum_angle_deg,
    dedendum_angle_deg: of the ring gear. thickness_factor: k_t. outer_backlash_mm: normal, at the heel.
    pressure_drive_deg, pressure_coast_deg: generated pressure angles of the two ring-gear flanks.
    """

    method: Method | None = None
    mean_diameter_mm: float | None = None
    pinion_spiral_deg: float | None = None
    depth_factor: float = 2.0
    clearance_factor: float = 0.125
    addendum_factor: float | None = None
    addendum_angle_deg: float | None = None
    dedendum_angle_deg: float | None = None
    thickness_factor: float | None = None
    outer_backlash_mm: float = 0.0
    pressure_drive_deg: float | None = None
    pressure_coast_deg: float | None = None


def usual_thickness_factor(teeth1: int, u: float) -> float:
    """k_t, the usual balance of tooth thickness, from memory (D1 checks it). u: equivalent ratio."""
    return -0.088 + 0.092 * u - 0.004 * u**2 + 0.0016 * (teeth1 - 30) * (u - 1)


def depth_angles(
    chosen: Proportions,
    problem: PitchProblem,
    c: PitchCones,
    dedenda: tuple[float, float],
    factor: float,
    heel: float,
    pressure: float,
) -> tuple[float, float]:
    """Addendum and dedendum angle of the ring gear, rad: given, or none (face hobbed), or duplex taper.

    dedenda: of pinion and ring gear, mm. factor: ring-gear addendum / working depth. heel: outer cone
    distance, mm. pressure: mean normal pressure angle, rad.

    Duplex: sum = (90 deg met2 / (Re2 tan alpha cos beta)) (1 - Rm2 sin beta / rc0); reproduces D1.
    """
    if chosen.addendum_angle_deg is not None and chosen.dedendum_angle_deg is not None:
        return radians(chosen.addendum_angle_deg), radians(chosen.dedendum_angle_deg)
    if problem.groups:
        return 0.0, 0.0
    transverse = 2 * heel * sin(c.cone2) / problem.teeth2
    duplex = (
        radians(90)
        * transverse
        / (heel * tan(pressure) * cos(c.spiral2))
        * (1 - c.distance2 * sin(c.spiral2) / problem.cutter_radius)
    )
    # Kept to at most twice the standard taper, and never leaning the wrong way (our own limits).
    standard = sum(atan(dedendum / c.distance2) for dedendum in dedenda)
    total = min(max(duplex, 0.0), 2 * standard)
    return factor * total, (1 - factor) * total


def offset_cone(offset: float, cone2: float, distance: float) -> float:
    """Cone of the pinion that runs along a cone of the ring gear, both about crossed axes.

    sin d1 = cos d2 cos zeta, sin zeta = a sin d2 / R (ISO 23509 with the apex shift left out, which
    moves sample D2 by less than 0.1 %; exact without offset).
    """
    return asin(cos(cone2) * sqrt(1 - (offset * sin(cone2) / distance) ** 2))


def pinion_face(
    method: Method,
    c: PitchCones,
    width2: float,
    mean_place: float,
    working: float,
    face1: float,
    root2: float,
    addendum1: float,
    below: float,
) -> tuple[float, float]:
    """Pinion face width b1 and its part from the mean point to the heel, mm (ISO 23509, from memory).

    working: depth. face1, root2: face cone of the pinion and root cone of the ring gear. below: working
    depth of the ring gear below the pitch line.
    """
    if method == 0:
        return width2, mean_place * width2
    if method == 2:
        width1 = width2 * (1 + tan(c.offset_angle) ** 2)
        return width1, width1 / 2
    if method == 3:
        return 1.1 * width2, 0.55 * width2
    ratio = c.radius2 * cos(c.spiral2) / (c.radius1 * cos(c.spiral1))
    angle = atan(
        sin(c.offset_angle) * cos(c.cone2) / (ratio * cos(c.cone1) + cos(c.cone2) * cos(c.offset_angle))
    )
    along = width2 * cos(angle) / cos(c.offset_angle - angle)
    shift = working * sqrt(1 - (sin(face1) / cos(root2)) ** 2) * (1 - 1 / ratio)
    lean = face1 - c.cone1
    rise = below * sin(c.cone1)
    to_heel = mean_place * along / cos(lean) * cos(face1) + shift - rise
    to_toe = (1 - mean_place) * along / cos(lean) * cos(face1) + shift + rise
    heel1 = (to_heel + addendum1 * sin(c.cone1)) / cos(face1) * cos(lean)
    toe1 = (to_toe - addendum1 * sin(c.cone1)) / (cos(c.cone1) - tan(lean) * sin(c.cone1))
    return heel1 + toe1, heel1
