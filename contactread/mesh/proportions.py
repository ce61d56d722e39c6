"""Choices of the tooth designer, and what follows from them: depth taper and tooth thickness. mm, rad."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, cos, radians, sin, tan

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


def usual_addendum_factor(u: float) -> float:
    """Ring-gear addendum over working depth, usual design: 0.21 + 0.29 / u². u: equivalent ratio.

    A recommendation of the hypoid standards (ISO 23509, from memory), an empirical balance of sliding and of
    strength that nothing derives. Validated: D1 prints 1.591 / 6.427 = 0.248; here 0.2474.
    """
    return 0.21 + 0.29 / u**2


def usual_thickness_factor(teeth1: int, u: float) -> float:
    """k_t, the usual balance of tooth thickness: -0.088 + 0.092 u - 0.004 u² + 0.0016 (z1 - 30) (u - 1).

    u: equivalent ratio. A recommendation (ISO 23509, from memory) that balances the strength of both members;
    empirical, nothing derives it. Validated: D1's thickness smn2 (tests/published).
    """
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

    Duplex: the sum of both dedendum angles is

        pi met2 / (2 Re2 tan(alpha) cos(beta)) (1 - Rm2 sin(beta) / rc0).

    Derived: the blades leave slots of constant width on both members. The normal pitch p = 2 pi R sin(delta)
    cos(beta) / z2 is shared between the two slots at the pitch line, and a slot is wider there than at its
    root by 2 tan(alpha) times the dedendum; so dp/dR = 2 tan(alpha) (theta_f1 + theta_f2). A tooth of
    constant radius rc0 has d sin(beta) / dR = 1 / rc0 - sin(beta) / R, hence
    dp/dR = p / (R cos²(beta)) (1 - R sin(beta) / rc0), and p / (R cos(beta)) = pi met2 / Re2.
    Validated: D1's and D2's face and root angles (tests/published).
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
