"""Blank geometry of the ring gear and pinion: pitch cones, depths, face and root cones, tooth thickness.

ISO 23509 is followed from memory (the standard was not seen); the four published samples that check it are
D1 to D4 of shared/sources.toml, themselves read in an open-source self-test. Shaft angle 90 degrees. mm;
angles rad.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, radians, sin, sqrt, tan

from contactread.axle import GearSet, Hand
from contactread.errors import MechanicsError
from contactread.mesh.estimate import GearInputs, gear_inputs
from contactread.mesh.pitch_cones import (
    Method,
    PitchCones,
    PitchProblem,
    cutter_lead,
    pitch_cones,
    spiral_at,
)
from contactread.mesh.proportions import (
    Proportions,
    depth_angles,
    usual_addendum_factor,
    usual_thickness_factor,
)

# Of the working depth over the mean normal module, usually 2, and of the ring gear's share of it as its
# addendum, usually 0.2 to 0.3: our own limits of what can be.
_LEAST_DEPTH, _MOST_DEPTH, _MOST_ADDENDUM = 1.2, 2.8, 0.6
MOST_GROUPS = 31  # blade groups of a face-hobbing head; usual ones have 5 to 19: common practice


@dataclass(frozen=True)
class Blank:
    """The blanks of one gear set. mm, radians. Index 1 is the pinion, 2 the ring gear.

    teeth1, teeth2. hand: of the ring gear. face_hobbed. cones: the pitch cones. offset: a.
    face_width2: along the pitch cone. mean_place: share of the face width from the mean
    point to the heel, c_be2. working_depth h_mw, clearance c; addendum1, addendum2 h_am; dedendum1,
    dedendum2 h_fm. addendum_angle2, dedendum_angle2: theta_a2, theta_f2. thickness2: mean
    normal circular s_mn2. pressure_drive, pressure_coast: normal pressure angles of the ring gear's
    convex and concave flank. spiral_toe, spiral_heel: ring-gear spiral angle at the ends.
    cutter_radius rc0, cutter_groups z0 (0: face milled), cutter_lead nu.
    ring_apex_z: pitch apex of the ring gear along its axis from the crossing point, positive away from
    the ring gear. inputs: what was given and what was estimated. method: as solved.
    """

    teeth1: int
    teeth2: int
    hand: Hand
    face_hobbed: bool
    method: Method
    cones: PitchCones
    offset: float
    face_width2: float
    mean_place: float
    working_depth: float
    clearance: float
    addendum1: float
    addendum2: float
    dedendum1: float
    dedendum2: float
    addendum_angle2: float
    dedendum_angle2: float
    thickness2: float
    pressure_drive: float
    pressure_coast: float
    spiral_toe: float
    spiral_heel: float
    cutter_radius: float
    cutter_groups: float
    cutter_lead: float
    ring_apex_z: float
    inputs: GearInputs

    @property
    def ratio(self) -> float:
        """z2 / z1."""
        return self.teeth2 / self.teeth1

    @property
    def toe_distance(self) -> float:
        """Inner cone distance of the ring gear R_i2, mm."""
        return self.heel_distance - self.face_width2

    @property
    def heel_distance(self) -> float:
        """Outer cone distance of the ring gear R_e2, mm."""
        return self.cones.distance2 + self.mean_place * self.face_width2


def blank_of(
    gears: GearSet, proportions: Proportions | None = None, inputs: GearInputs | None = None
) -> Blank:
    """Blank geometry of `gears`. What isn't given is estimated (`inputs` overrides the estimates).

    Raises MechanicsError: `gear-set-impossible` for numbers no gear set can have, `blank-unsolvable`
    where no pitch cones fit.
    """
    chosen = proportions or Proportions()
    known = inputs or gear_inputs(gears)
    _check(gears, known)
    method = chosen.method if chosen.method is not None else _usual_method(known)
    groups = known.cutter_groups.value if known.face_hobbed else 0.0
    by_pinion = chosen.pinion_spiral_deg is not None
    problem = PitchProblem(
        method=method,
        teeth1=gears.pinion_teeth,
        teeth2=gears.ring_teeth,
        offset=known.offset_mm.value,
        face_width=known.face_width_mm.value,
        cutter_radius=known.cutter_radius_mm.value,
        groups=groups,
        outer_diameter=None if chosen.mean_diameter_mm is not None else gears.ring_diameter_mm,
        mean_diameter=chosen.mean_diameter_mm,
        ring_spiral=None if by_pinion else radians(known.spiral_deg.value),
        pinion_spiral=radians(chosen.pinion_spiral_deg) if chosen.pinion_spiral_deg is not None else None,
    )
    return _complete(gears, known, chosen, method, problem, pitch_cones(problem))


def _usual_method(known: GearInputs) -> Method:
    if known.offset_mm.value == 0:
        return 0
    return 2 if known.face_hobbed else 1


def _check(gears: GearSet, known: GearInputs) -> None:
    half = gears.ring_diameter_mm / 2
    facts = (
        (5 <= gears.pinion_teeth < gears.ring_teeth <= 120, "the tooth counts (pinion 5 or more, ring more)"),
        (20 <= gears.ring_diameter_mm <= 3000, "the ring-gear diameter (20 to 3000 mm)"),
        (0 < known.face_width_mm.value < 0.5 * half, "the face width (under a quarter of the diameter)"),
        (0 <= known.offset_mm.value < 0.6 * half, "the offset (0 to 0.3 of the ring-gear diameter)"),
        (0 <= known.spiral_deg.value < 60, "the spiral angle (0 to 60 degrees)"),
        (10 <= known.pressure_angle_deg.value <= 30, "the pressure angle (10 to 30 degrees)"),
        (known.cutter_radius_mm.value > 0.15 * gears.ring_diameter_mm, "the cutter radius"),
        (
            not known.face_hobbed or 1 <= known.cutter_groups.value <= MOST_GROUPS,
            "blade groups (1 to 31)",
        ),
    )
    for holds, what in facts:
        _suits(holds, what)


def _suits(holds: bool, what: str) -> None:
    if not holds:
        raise MechanicsError(
            "gear-set-impossible",
            f"No ring and pinion can have these numbers: {what} doesn't fit.",
            "Check that number in the axle file, and its unit.",
        )


def _complete(
    gears: GearSet,
    known: GearInputs,
    chosen: Proportions,
    method: Method,
    problem: PitchProblem,
    c: PitchCones,
) -> Blank:
    width2 = problem.face_width
    if chosen.mean_diameter_mm is not None:
        mean_place = 0.5
    else:
        mean_place = (gears.ring_diameter_mm / (2 * sin(c.cone2)) - c.distance2) / width2
    # Equivalent ratio u_a; without offset it is z2/z1.
    equivalent = sqrt(gears.ring_teeth / gears.pinion_teeth * cos(c.cone1) / cos(c.cone2))
    working, factor = _depth(gears, chosen, c.module, mean_place, equivalent)
    clearance = chosen.clearance_factor * working
    addendum2 = factor * working
    addendum1 = working - addendum2
    dedendum2, dedendum1 = addendum1 + clearance, addendum2 + clearance
    heel = c.distance2 + mean_place * width2
    drive, coast = _pressures(known, chosen, c.limit_pressure)
    mean_pressure = (drive + coast) / 2
    angle_a, angle_f = depth_angles(chosen, problem, c, (dedendum1, dedendum2), factor, heel, mean_pressure)
    ring_apex = c.distance2 * cos(c.cone2) - c.radius1 * cos(c.pinion_azimuth)
    balance = chosen.thickness_factor
    if balance is None:
        balance = usual_thickness_factor(gears.pinion_teeth, equivalent)
    thickness = balance + (addendum1 - addendum2) / c.module * tan(mean_pressure)
    spiral_toe, spiral_heel = (spiral_at(c, problem, distance) for distance in (heel - width2, heel))
    play = (
        chosen.outer_backlash_mm
        * c.distance2
        * cos(c.spiral2)
        / (heel * cos(spiral_heel))
        / cos(mean_pressure)
    )
    half_pitch = pi * c.module / 2 - play / 2
    return Blank(
        teeth1=gears.pinion_teeth,
        teeth2=gears.ring_teeth,
        hand=gears.hand or "right",
        face_hobbed=known.face_hobbed,
        method=method,
        cones=c,
        offset=problem.offset,
        face_width2=width2,
        mean_place=mean_place,
        working_depth=working,
        clearance=clearance,
        addendum1=addendum1,
        addendum2=addendum2,
        dedendum1=dedendum1,
        dedendum2=dedendum2,
        addendum_angle2=angle_a,
        dedendum_angle2=angle_f,
        thickness2=half_pitch - c.module * thickness,
        pressure_drive=drive,
        pressure_coast=coast,
        spiral_toe=spiral_toe,
        spiral_heel=spiral_heel,
        cutter_radius=problem.cutter_radius,
        cutter_groups=problem.groups,
        cutter_lead=cutter_lead(c.module, problem.groups, problem.cutter_radius),
        ring_apex_z=ring_apex,
        inputs=known,
    )


def _depth(
    gears: GearSet, chosen: Proportions, module: float, mean_place: float, equivalent: float
) -> tuple[float, float]:
    """Working depth at the mean point, mm, and the ring gear's share of it as its addendum.

    module: mean normal, mm. mean_place: as in Blank. equivalent: ratio u_a.
    """
    working = chosen.depth_factor * module
    if gears.depth_heel_mm is not None and gears.depth_toe_mm is not None:
        mean_depth = gears.depth_heel_mm + mean_place * (gears.depth_toe_mm - gears.depth_heel_mm)
        working = mean_depth / (1 + chosen.clearance_factor)
        _suits(_LEAST_DEPTH < working / module < _MOST_DEPTH, "the tooth heights (for these teeth)")
    if gears.addendum_mm is None:
        told = chosen.addendum_factor
        return working, usual_addendum_factor(equivalent) if told is None else told
    factor = gears.addendum_mm / working
    _suits(factor < _MOST_ADDENDUM, "the addendum (over the working depth)")
    return working, factor


def _pressures(known: GearInputs, chosen: Proportions, limit: float) -> tuple[float, float]:
    """Normal pressure angles of the ring gear's convex and concave flank, rad. limit: pressure angle, rad."""
    usual = radians(known.pressure_angle_deg.value)
    drive, coast = chosen.pressure_drive_deg, chosen.pressure_coast_deg
    return (
        usual + limit if drive is None else radians(drive),
        usual - limit if coast is None else radians(coast),
    )
