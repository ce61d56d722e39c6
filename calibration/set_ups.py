"""Simulated mis-set-ups: gear sets nobody has told the solver about, put together wrong, read with noise.

The true gear set is a mesh model of its own geometry, crowning, bias and film, drawn here from wide uniform
ranges that the solver does not know. Everything in this file is invented data for a simulation.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from contactread.advice.by_eye import side_from
from contactread.axle import Axle, EaseOff, GearSet, Limits, PinionShim
from contactread.belief.tries import PLACES
from contactread.errors import MechanicsError
from contactread.mesh.blank import blank_of
from contactread.mesh.response import FILM_MM, MeshModel, Prediction, usual_ease_off
from contactread.patch import Patch, Point
from contactread.pattern.measures import Setup, Side

STEP_MM = 0.025
BACKLASH_MM = (0.15, 0.25)
NOMINAL_BACKLASH_MM = 0.20
# Reading noise, one standard deviation, flank fractions and mm: as the bar states it.
CENTRE_NOISE = (0.02, 0.04)
BACKLASH_NOISE_MM = 0.01
EXTENT_NOISE = (0.02, 0.04)
TILT_NOISE_DEG = 3.0
# Logarithm of the relief against the usual one: patches from a quarter to most of the tooth.
RELIEF_RANGE = (-1.0, 0.5)


@dataclass(frozen=True)
class MisSetUp:
    """One simulated axle. model: the truth, of `gears`. axle: what the solver is told.
    pinion_mm, ring_mm: how far its members stand from their designed places. aim: the designed centres
    (drive, coast).
    """

    model: MeshModel
    axle: Axle
    gears: GearSet
    pinion_mm: float
    ring_mm: float
    aim: tuple[Point, Point]


@dataclass(frozen=True)
class TrueState:
    """What is really so: centres (drive, coast), None where a flank has no patch; backlash in mm."""

    prediction: Prediction
    backlash_mm: float

    def misses(self, aim: tuple[Point, Point]) -> tuple[float, float] | None:
        """Largest miss along the length and in height, flank fractions; None without two patches."""
        patches = (self.prediction.convex, self.prediction.concave)
        if patches[0] is None or patches[1] is None:
            return None
        pairs = [(p.centre, a) for p, a in zip(patches, aim, strict=True) if p is not None]
        return max(abs(c[0] - a[0]) for c, a in pairs), max(abs(c[1] - a[1]) for c, a in pairs)


def draw(random: np.random.Generator, hobbed: float = 0.35) -> MisSetUp:
    """One gear set and its mis-set-up, P and G uniform within 0.25 mm. Drawn again until it can be cut and
    both flanks touch in the designed place, off every edge. hobbed: share of face-hobbed sets.
    """
    while True:
        gears, told = _gears(random, hobbed)
        try:
            blank = blank_of(gears)
            usual = usual_ease_off(blank)
            ease_off = EaseOff(
                usual.lengthwise_mm * float(np.exp(random.uniform(*RELIEF_RANGE))),
                usual.profile_mm * float(np.exp(random.uniform(*RELIEF_RANGE))),
                usual.profile_mm * random.uniform(-0.5, 0.5),
            )
            model = MeshModel(Axle(gears), ease_off, FILM_MM * random.uniform(0.7, 1.5))
            nominal = model.predict()
            far = [model.predict(p, g) for p in (-0.25, 0.25) for g in (-0.25, 0.25)]
        except MechanicsError:
            continue
        if (
            nominal.convex is None
            or nominal.concave is None
            or any(f.convex is None or f.concave is None for f in far)
        ):
            continue
        if nominal.convex.runs_off or nominal.concave.runs_off:
            continue
        axle = Axle(
            told,
            pinion_shim=PinionShim("behind_head", 1.5, STEP_MM),
            carrier=replace(Axle(told).carrier, step_mm=STEP_MM),
            limits=Limits(backlash_mm=BACKLASH_MM),
            target="centred",
        )
        pinion, ring = random.uniform(-0.25, 0.25, size=2)
        return MisSetUp(model, axle, gears, float(pinion), float(ring), ((0.5, 0.5), (0.5, 0.5)))


def true_state(case: MisSetUp, pinion_mm: float, ring_mm: float) -> TrueState:
    """What the gears show and the dial reads with the members at these places."""
    prediction = case.model.predict(pinion_mm, ring_mm)
    return TrueState(prediction, NOMINAL_BACKLASH_MM + prediction.backlash_change_mm)


def read(state: TrueState, random: np.random.Generator) -> Setup | None:
    """The noisy reading of a true state; None where a flank has no patch to read."""
    convex, concave = state.prediction.convex, state.prediction.concave
    if convex is None or concave is None:
        return None
    backlash = _dial(state, random)
    return Setup(_noisy(convex, True, random), _noisy(concave, False, random), (backlash,))


def at_places(state: TrueState, read_mm: tuple[float, ...], random: np.random.Generator) -> tuple[float, ...]:
    """Backlash at the four places round a ring gear without runout: those read already, then the others."""
    return (*read_mm, *(_dial(state, random) for _ in range(PLACES - len(read_mm))))


def _dial(state: TrueState, random: np.random.Generator) -> float:
    return max(state.backlash_mm + BACKLASH_NOISE_MM * float(random.normal()), 0.0)


def _noisy(patch: Patch, drive: bool, random: np.random.Generator) -> Side:
    shift = random.normal(size=2) * CENTRE_NOISE
    ends = random.normal(size=4) * np.repeat(EXTENT_NOISE, 2) / 2
    low_u, high_u = np.clip(np.array(patch.length) + shift[0] + ends[:2], 0.0, 1.0)
    low_v, high_v = np.clip(np.array(patch.height) + shift[1] + ends[2:], 0.0, 1.0)
    centre = np.clip(np.array(patch.centre) + shift, 0.0, 1.0)
    side = side_from(
        "convex" if drive else "concave",
        "drive" if drive else "coast",
        (float(centre[0]), float(centre[1])),
        (float(low_u), float(max(high_u, low_u + 0.02))),
        (float(low_v), float(max(high_v, low_v + 0.02))),
        sigma=CENTRE_NOISE,
        tilt_deg=patch.tilt_deg + TILT_NOISE_DEG * random.normal(),
        area_fraction=patch.area_fraction,
    )
    return replace(side, clear=patch.clear)


def _gears(random: np.random.Generator, share: float) -> tuple[GearSet, GearSet]:
    """The true gear set, and the little of it that a mechanic would know: counts, diameter, cutting."""
    pinion = int(random.integers(8, 16))
    ring = round(pinion * random.uniform(2.6, 4.9))
    diameter = float(random.uniform(150, 300))
    hobbed = random.uniform() < share
    known = random.uniform() < 0.7
    told = GearSet(
        pinion, ring, diameter, cutting=("face_hobbed" if hobbed else "face_milled") if known else "unknown"
    )
    offset = 0.0 if random.uniform() < 0.25 else float(random.uniform(0.08, 0.2)) * diameter
    true = GearSet(
        pinion,
        ring,
        diameter,
        face_width_mm=diameter * float(random.uniform(0.13, 0.17)),
        offset_mm=offset,
        spiral_deg=float(random.uniform(28, 38)) - (6 if offset else 0),
        pressure_angle_deg=float(random.uniform(18, 22.5)),
        cutter_radius_mm=diameter * float(random.uniform(0.36, 0.6)),
        cutter_groups=int(random.integers(9, 18)) if hobbed else None,
        hand="left" if pinion % 2 else "right",
        cutting="face_hobbed" if hobbed else "face_milled",
    )
    return true, told
