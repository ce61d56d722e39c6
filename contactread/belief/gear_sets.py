"""The gear sets that an axle could have: what its file leaves out, drawn from estimate and spread."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from contactread.axle import Axle, EaseOff, GearSet
from contactread.gear_classes import drawn_set
from contactread.mesh.blank import Blank, blank_of
from contactread.mesh.estimate import Estimate, GearInputs, gear_inputs
from contactread.mesh.response import FILM_MM, MeshModel, usual_ease_off

# Spreads of the draws (standard deviation of the logarithm): relief of usual sets differs by about a factor
# of two, a brushed film by a third. Our own suppositions; the readings correct them.
RELIEF_SPREAD = 0.55
FILM_SPREAD = 0.25
BIAS_SPREAD = 0.35  # of the profile relief
CUTTER_DOUBT = 1.6  # times the estimate's spread: the lengthwise answers hang on the cutter radius most
GIVEN_RELIEF_DOUBT = 0.15  # of these spreads stays where the axle file gives the relief


@dataclass(frozen=True, eq=False)
class DrawnSet:
    """One gear set that could be the user's. inputs: as drawn; None where all was given. base: the set that
    all draws share but for relief and film, if they do.
    """

    axle: Axle
    ease_off: EaseOff
    film_mm: float = FILM_MM
    inputs: GearInputs | None = None
    base: DrawnSet | None = None

    @cached_property
    def model(self) -> MeshModel:
        """Its mesh, built when first asked for. Raises MechanicsError as MeshModel does."""
        if self.base is not None:
            return self.base.model.with_ease_off(self.ease_off, self.film_mm)
        return MeshModel(self.axle, self.ease_off, self.film_mm, inputs=self.inputs)

    @cached_property
    def blank(self) -> Blank:
        """Its blank, far quicker than its mesh."""
        if self.base is not None:
            return self.base.blank
        built = self.__dict__.get("model")
        return blank_of(self.axle.gears, None, self.inputs) if built is None else built.blank


def drawn_sets(gears: GearSet, ease_off: EaseOff | None, concave: EaseOff | None) -> Iterator[DrawnSet]:
    """Gear sets that this one could be, without end, always the same. ease_off: where it is given; concave:
    that against the concave flank, where it differs.

    Raises MechanicsError where no gear set of these numbers can be built.
    """
    random = np.random.default_rng(0)
    blank = blank_of(gears)
    usual = ease_off or usual_ease_off(blank)
    axle = Axle(gears, ease_off=ease_off, ease_off_concave=concave)
    # Where the whole blank is given, only relief and film differ: one set of gears serves all draws.
    given = blank.inputs.cutting_given and not blank.inputs.estimated() and not gears.supposed
    base = DrawnSet(axle, usual) if given else None
    doubt = 1.0 if ease_off is None else GIVEN_RELIEF_DOUBT
    index = 0
    while True:
        yield _draw(axle, usual, doubt, random, index, base)
        index += 1


def _draw(
    axle: Axle,
    usual: EaseOff,
    doubt: float,
    random: np.random.Generator,
    index: int,
    base: DrawnSet | None,
) -> DrawnSet:
    """One gear set that could be the user's. doubt: share of the usual spread of the relief. base: as in
    DrawnSet.
    """
    gears = axle.gears
    if gears.supposed:
        gears, middle = drawn_set(gears, random), gear_inputs(gears).face_width_mm.value
        if axle.ease_off is None:  # the usual one grows with the root of the face width
            size = (gear_inputs(gears).face_width_mm.value / middle) ** 0.5
            usual = EaseOff(size * usual.lengthwise_mm, size * usual.profile_mm, size * usual.bias_mm)
    if gears.cutting == "unknown":
        gears = replace(gears, cutting="face_hobbed" if index % 2 else "face_milled")
    if gears.offset_mm is None and index // 2 % 4 == 3:  # a spiral bevel set, which has no offset
        gears = replace(gears, offset_mm=0.0)
    length, profile = np.exp(RELIEF_SPREAD * doubt * random.normal(size=2))
    bias = BIAS_SPREAD * doubt * random.normal() * usual.profile_mm
    ease_off = EaseOff(usual.lengthwise_mm * length, usual.profile_mm * profile, usual.bias_mm + bias)
    film = FILM_MM * float(np.exp(FILM_SPREAD * random.normal()))
    if base is not None:
        return DrawnSet(axle, ease_off, film, base=base)
    return DrawnSet(replace(axle, gears=gears), ease_off, film, _draw_inputs(gear_inputs(gears), random))


def _draw_inputs(known: GearInputs, random: np.random.Generator) -> GearInputs:
    """Estimated numbers moved within their spread; given ones stay."""
    drawn: dict[str, Any] = {}
    for name, estimate in known.estimated().items():
        spread = CUTTER_DOUBT * estimate.spread if name == "cutter_radius_mm" else estimate.spread
        shift = float(np.clip(random.normal(), -2, 2)) * spread
        drawn[name] = Estimate(max(estimate.value + shift, 0.0), 0.0, estimate.given)
    return replace(known, **drawn)
