"""Pitch cones of spiral bevel and hypoid gears at 90 degrees shaft angle: ISO 23509 methods 0 to 3.

The standard was not seen while writing this. The equations are its structure from memory (cone relations,
limit pressure angle, limit curvature) and our own solution by Newton's method in place of its tables of
successive steps.

Validated (tests/published; ids of shared/sources.toml): every length and angle of samples D1 to D4; the cones
of the three measured sets D7 to D9 within 0.02 degrees, their ring spirals within 0.02 degrees but for D7,
whose printed spirals of pinion and ring gear exclude each other by 0.6 degrees (see the test).

A hypoid pair of given ring radius, offset, ratio and spiral has one free number: how far the mean point
lies around the pinion. Each method fixes it by what the cutter can make:

* methods 1 and 3: the limit radius of curvature equals the lengthwise curvature radius of the tooth
  (rc0 face milled; that of the extended epicycloid face hobbed);
* method 2: cutter centre and both pitch apexes lie on one line in the pitch plane, so that pinion and ring
  gear are rolled by the same crown gear. This condition is our reading of sample D3, which it meets within
  0.3 % of every length and 0.8 % of the limit pressure angle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import acos, asin, atan, cos, hypot, pi, radians, sin, sqrt, tan
from typing import Literal

import numpy as np

from contactread.errors import MechanicsError

Method = Literal[0, 1, 2, 3]
Condition = Callable[["PitchCones", "PitchProblem"], float]


@dataclass(frozen=True)
class PitchCones:
    """The pair of pitch cones touching at the mean point. mm; angles in radians.

    cone1, cone2: pitch angles delta. radius1, radius2: at the mean point, dm/2. distance1, distance2:
    mean cone distances Rm. spiral1, spiral2: mean spiral angles. offset_angle: in the pitch plane.
    ring_azimuth: of the mean point about the ring axis, from the plane through the ring axis parallel to
    the pinion axis. pinion_azimuth: of the mean point about the pinion axis. limit_pressure: alpha_lim.
    module: mean normal module.
    """

    cone1: float
    cone2: float
    radius1: float
    radius2: float
    distance1: float
    distance2: float
    spiral1: float
    spiral2: float
    offset_angle: float
    ring_azimuth: float
    pinion_azimuth: float
    limit_pressure: float
    module: float


@dataclass(frozen=True)
class PitchProblem:
    """What fixes the pitch cones. Exactly one of outer_diameter and mean_diameter; likewise spirals.

    teeth1, teeth2; offset a; face_width b2; cutter_radius rc0; groups z0 (0 face milled). Angles rad.
    """

    method: Method
    teeth1: int
    teeth2: int
    offset: float
    face_width: float
    cutter_radius: float
    groups: float
    outer_diameter: float | None = None
    mean_diameter: float | None = None
    ring_spiral: float | None = None
    pinion_spiral: float | None = None

    def ring_radius(self, cone2: float) -> float:
        """Mean radius of the ring gear. Method 1 places the mean point by the pitch angle of a first
        guess, atan(ratio / 1.2), so it isn't quite at mid-face (D2: 0.504)."""
        if self.mean_diameter is not None:
            return self.mean_diameter / 2
        assert self.outer_diameter is not None
        at = atan(self.teeth2 / self.teeth1 / 1.2) if self.method == 1 else cone2
        return (self.outer_diameter - self.face_width * sin(at)) / 2


def pitch_cones(problem: PitchProblem) -> PitchCones:
    """Solve the pitch cones.

    Real sets depart from the methods. Where no cones meet the method's condition (small offsets above all),
    those of equal mean cone distance are taken, which without offset are the bevel cones.
    Raises MechanicsError `blank-unsolvable` where no pair of cones fits the numbers.
    """
    if problem.method == 0 or problem.offset == 0:
        return _bevel(problem)
    for condition in (_cutter_condition, _equal_distances):
        found = _hypoid(problem, condition)
        if found is not None and _buildable(found):
            return found
    raise MechanicsError(
        "blank-unsolvable",
        "No pair of pitch cones fits these tooth counts, ring diameter, offset, spiral angle and cutter "
        "radius together.",
        "Check the offset, spiral angle and cutter radius; leave out what you don't know for certain.",
    )


def _bevel(problem: PitchProblem) -> PitchCones:
    """Method 0: no offset. tan d1 = z1/z2, Rm = Re - b/2 (D6 of shared/sources.toml)."""
    cone1 = atan(problem.teeth1 / problem.teeth2)
    cone2 = pi / 2 - cone1
    radius2 = problem.ring_radius(cone2)
    distance = radius2 / sin(cone2)
    spiral = problem.ring_spiral if problem.ring_spiral is not None else problem.pinion_spiral
    assert spiral is not None
    return PitchCones(
        cone1,
        cone2,
        radius2 * problem.teeth1 / problem.teeth2,
        radius2,
        distance,
        distance,
        spiral,
        spiral,
        0.0,
        0.0,
        0.0,
        0.0,
        2 * radius2 * cos(spiral) / problem.teeth2,
    )


def _hypoid(problem: PitchProblem, condition: Condition) -> PitchCones | None:
    """Newton in (ring azimuth, pinion azimuth): the offset closes and the condition holds; None if neither
    can."""

    def residual(x: np.ndarray) -> np.ndarray:
        c = _cones(problem, x)
        closing = problem.offset - c.radius2 * sin(c.ring_azimuth) - c.radius1 * sin(c.pinion_azimuth)
        return np.array([closing, condition(c, problem)])

    reach = problem.ring_radius(radians(65))
    azimuth = asin(min(0.9, 0.8 * problem.offset / reach))
    x = np.array([azimuth, atan(1.2 * sin(azimuth) * problem.teeth1 / problem.teeth2)])
    for _ in range(60):
        try:
            f = residual(x)
            jacobian = np.column_stack([(residual(x + step) - f) / 1e-7 for step in 1e-7 * np.eye(2)])
            move = np.linalg.solve(jacobian, -f)
        except (ValueError, ZeroDivisionError, OverflowError, np.linalg.LinAlgError):
            return None
        largest = float(np.abs(move).max())
        x = x + move * min(1.0, 0.04 / max(largest, 1e-12))
        if largest < 1e-12:
            return _cones(problem, x)
    return None


def _cones(problem: PitchProblem, x: np.ndarray) -> PitchCones:
    ring_azimuth, pinion_azimuth = float(x[0]), float(x[1])
    cone1 = atan(sin(pinion_azimuth) / tan(ring_azimuth))
    cone2 = atan(sin(ring_azimuth) / tan(pinion_azimuth))
    offset_angle = asin(sin(ring_azimuth) / cos(cone1))
    if problem.ring_spiral is not None:
        spiral2 = problem.ring_spiral
        spiral1 = spiral2 + offset_angle
    else:
        assert problem.pinion_spiral is not None
        spiral1 = problem.pinion_spiral
        spiral2 = spiral1 - offset_angle
    radius2 = problem.ring_radius(cone2)
    radius1 = radius2 * problem.teeth1 / problem.teeth2 * cos(spiral2) / cos(spiral1)
    distance1, distance2 = radius1 / sin(cone1), radius2 / sin(cone2)
    limit = atan(
        -(tan(cone1) * tan(cone2) / cos(offset_angle))
        * (distance1 * sin(spiral1) - distance2 * sin(spiral2))
        / (distance1 * tan(cone1) + distance2 * tan(cone2))
    )
    return PitchCones(
        cone1,
        cone2,
        radius1,
        radius2,
        distance1,
        distance2,
        spiral1,
        spiral2,
        offset_angle,
        ring_azimuth,
        pinion_azimuth,
        limit,
        2 * radius2 * cos(spiral2) / problem.teeth2,
    )


def _buildable(c: PitchCones) -> bool:
    """The equations also have solutions that nobody cuts; our own limits."""
    distances = c.distance1 / c.distance2
    return c.cone2 > radians(30) and 0.5 < distances < 1.6 and abs(c.limit_pressure) < radians(12)


def _cutter_condition(c: PitchCones, problem: PitchProblem) -> float:
    """What the method asks of the cutter, mm; 0 where it is met."""
    if problem.method == 2:
        return _off_common_line(c, problem)
    return limit_curvature_radius(c) - lengthwise_radius(c, problem)


def _equal_distances(c: PitchCones, problem: PitchProblem) -> float:
    return c.distance1 - c.distance2


def limit_curvature_radius(c: PitchCones) -> float:
    """Radius of curvature a tooth must have at the mean point to act at the limit pressure angle, mm."""
    t1, t2, slope = tan(c.spiral1), tan(c.spiral2), tan(c.limit_pressure)
    below = (
        -slope * (t1 / (c.distance1 * tan(c.cone1)) + t2 / (c.distance2 * tan(c.cone2)))
        + 1 / (c.distance1 * cos(c.spiral1))
        - 1 / (c.distance2 * cos(c.spiral2))
    )
    return (t1 - t2) / (cos(c.limit_pressure) * below)


def cutter_lead(module: float, groups: float, cutter_radius: float) -> float:
    """Lead angle nu of a face-hobbing blade: sin nu = z0 mmn / (2 rc0); 0 face milled. Radians."""
    return asin(groups * module / (2 * cutter_radius))


def lengthwise_radius(c: PitchCones, problem: PitchProblem) -> float:
    """Lengthwise radius of curvature of the tooth in the pitch plane at the mean point, mm.

    Face hobbed: that of the extended epicycloid traced on the crown gear of the ring.
    """
    if not problem.groups:
        return problem.cutter_radius
    rc, rm, spiral = problem.cutter_radius, c.distance2, c.spiral2
    lead = cutter_lead(c.module, problem.groups, rc)
    centre = sqrt(rm**2 + rc**2 - 2 * rm * rc * sin(spiral - lead))
    crown_teeth = problem.teeth2 / sin(c.cone2)
    eta = acos(rm * cos(spiral) * (crown_teeth + problem.groups) / (centre * crown_teeth))
    slopes = tan(spiral) + tan(eta)
    return rm * cos(spiral) * (tan(spiral) + tan(eta) / (1 + tan(lead) * slopes))


def _off_common_line(c: PitchCones, problem: PitchProblem) -> float:
    """Distance in the pitch plane of the cutter centre from the line through both pitch apexes, mm.

    Origin at the mean point, x along the tooth towards the apexes, y along its normal.
    """
    lead = cutter_lead(c.module, problem.groups, problem.cutter_radius)
    apex1 = c.distance1 * np.array([cos(c.spiral1), sin(c.spiral1)])
    apex2 = c.distance2 * np.array([cos(c.spiral2), sin(c.spiral2)])
    centre = problem.cutter_radius * np.array([-sin(lead), cos(lead)])
    line, arm = apex2 - apex1, centre - apex1
    return float((line[0] * arm[1] - line[1] * arm[0]) / np.hypot(*line))


def spiral_at(c: PitchCones, problem: PitchProblem, distance: float) -> float:
    """Spiral angle of the ring gear at cone distance `distance`, rad.

    The cutter (face milled: circle, face hobbed: extended epicycloid on the crown gear) in the pitch
    plane; the tooth normal passes the instant centre of cutter and crown gear (D6 of shared/sources.toml
    gives the face-milled closed form).
    """
    rc, rm = problem.cutter_radius, c.distance2
    if problem.groups * c.module > 2 * rc:
        raise MechanicsError(
            "gear-set-impossible",
            "A face-hobbing cutter of this radius can't carry so many blade groups for teeth this coarse.",
            "Check the cutter radius, the number of blade groups and the tooth counts.",
        )
    lead = cutter_lead(c.module, problem.groups, rc)
    centre = sqrt(rm**2 + rc**2 - 2 * rm * rc * sin(c.spiral2 - lead))
    instant = centre / (1 + problem.groups * sin(c.cone2) / problem.teeth2)
    cosine = (distance**2 + centre**2 - rc**2) / (2 * distance * centre)
    if abs(cosine) > 1:
        raise MechanicsError(
            "gear-set-impossible",
            "The cutter doesn't reach both ends of the tooth with this cutter radius and spiral angle.",
            "Check the cutter radius, the spiral angle and the face width.",
        )
    angle = acos(cosine)
    x, y = distance * cos(angle), distance * sin(angle)
    return asin(((x - instant) * x + y * y) / (distance * hypot(x - instant, y)))
