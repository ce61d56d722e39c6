"""What a mechanic doesn't know about a gear set, estimated from what is known, with a spread.

The rules are common practice for axle gears, from memory; where one is in a standard it is named. They
start a computation, they measure nothing: every number they give is shown as an estimate.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, degrees, sqrt

from contactread.axle import GearSet


@dataclass(frozen=True)
class Estimate:
    """A number with its standard deviation. given: True where the user gave it (spread 0)."""

    value: float
    spread: float
    given: bool


@dataclass(frozen=True)
class GearInputs:
    """Everything the blank needs, given or estimated. mm and degrees.

    face_width_mm: b2. offset_mm: a. spiral_deg: ring-gear mean spiral angle. pressure_angle_deg: mean
    of both flanks. cutter_radius_mm: rc0. cutter_groups: z0, 0 for a face-milled set. cutting_given:
    False where the cutting method is unknown and face milling was supposed.
    """

    face_width_mm: Estimate
    offset_mm: Estimate
    spiral_deg: Estimate
    pressure_angle_deg: Estimate
    cutter_radius_mm: Estimate
    cutter_groups: Estimate
    face_hobbed: bool
    cutting_given: bool

    def estimated(self) -> dict[str, Estimate]:
        """The estimated numbers by name: what a report has to show as estimated."""
        return {
            name: value
            for name, value in vars(self).items()
            if isinstance(value, Estimate) and not value.given
        }


def _given_or(value: float | None, estimate: float, spread: float) -> Estimate:
    return Estimate(estimate, spread, False) if value is None else Estimate(float(value), 0.0, True)


def gear_inputs(gears: GearSet) -> GearInputs:
    """Fill in what `gears` leaves out.

    Face width 0.155 de2 and the pinion spiral 25 + 5 sqrt(z2/z1) + 90 a/de2 are the recommendations of
    the hypoid standards (ISO 23509 / AGMA 2005, from memory); offset 0.15 de2, pressure angle 20, cutter
    radius 0.42 de2 (hypoid, and face hobbed without offset) or 0.6 de2 (face milled without offset) are
    common practice. The spreads are wide on purpose.
    """
    diameter = gears.ring_diameter_mm
    hobbed = gears.cutting == "face_hobbed"
    width = _given_or(gears.face_width_mm, 0.155 * diameter, 0.015 * diameter)
    offset = _given_or(gears.offset_mm, 0.15 * diameter, 0.05 * diameter)
    pinion_spiral = 25 + 5 * sqrt(gears.ring_teeth / gears.pinion_teeth) + 90 * offset.value / diameter
    # The pitch-plane offset angle of usual proportions: the mean ring radius is about 0.43 de2.
    offset_angle = degrees(asin(min(0.9, 0.95 * offset.value / (0.43 * diameter))))
    spiral = _given_or(gears.spiral_deg, max(pinion_spiral - offset_angle, 15.0), 3.0)
    pressure = _given_or(gears.pressure_angle_deg, 20.0, 1.5)
    bevel = offset.value < 0.02 * diameter
    share, spread = (0.6, 0.06) if bevel and not hobbed else (0.42, 0.10 if bevel else 0.06)
    cutter = _given_or(gears.cutter_radius_mm, share * diameter, spread * diameter)
    groups = _given_or(gears.cutter_groups, 13, 3) if hobbed else Estimate(0.0, 0.0, True)
    return GearInputs(width, offset, spiral, pressure, cutter, groups, hobbed, gears.cutting != "unknown")
