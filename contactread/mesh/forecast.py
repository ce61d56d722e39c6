"""What a move will do: both patterns and the backlash, before and after, with the spread of the unknown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from contactread.axle import Axle, FlankName
from contactread.errors import MechanicsError
from contactread.mesh.crowning import Crowning, Measured, model_from_pattern
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import FLANKS, MeshModel, Prediction
from contactread.mesh.spread import alternatives

# Where neither a measurement nor the axle's limits say what the backlash is now. Only a number to start
# from, and shown as supposed: common practice for passenger-car and light-truck axles.
SUPPOSED_BACKLASH_MM = 0.20

BacklashFrom = Literal["measured", "limits", "supposed"]


@dataclass(frozen=True, eq=False)
class Forecast:
    """A move foreseen.

    start, end: places of the gears against their nominal places. before, after: what the mesh shows there.
    backlash_mm: (before, after) at the dial. backlash_from: where the first of them comes from: measured by
    the user, the middle of the axle's limits, or supposed. shift_spread: standard deviation of the shift of
    each flank's centre (u, v) from what isn't known of the gear set; zeros where all is given.
    backlash_spread_mm: likewise of the backlash change. known: True where nothing had to be estimated.
    fit: how the measured patterns were explained, where there were any.
    """

    model: MeshModel
    start: Displacement
    end: Displacement
    before: Prediction
    after: Prediction
    backlash_mm: tuple[float, float]
    backlash_from: BacklashFrom
    shift_spread: dict[FlankName, tuple[float, float]]
    backlash_spread_mm: float
    known: bool
    fit: Crowning | None = None

    @property
    def axle(self) -> Axle:
        """The axle that was asked about."""
        return self.model.axle

    def shift(self, flank: FlankName) -> tuple[float, float] | None:
        """Shift of a patch's centre (u, v); None where a patch is missing before or after."""
        return _shift(self.before, self.after, flank)


def forecast(
    axle: Axle, start: Displacement, end: Displacement, backlash_mm: float | None = None, draws: int = 24
) -> Forecast:
    """Foresee the move from `start` to `end`. backlash_mm: measured at the start, where it was.

    Raises MechanicsError as MeshModel does.
    """
    model = MeshModel(axle)
    others = [] if _known(model) else [(m, start, end) for m in alternatives(axle, draws)]
    return _forecast(model, start, end, backlash_mm, others, None)


def forecast_from_patterns(
    axle: Axle,
    measured: Mapping[FlankName, Measured],
    pinion_mm: float,
    ring_mm: float,
    backlash_mm: float | None = None,
    draws: int = 8,
) -> Forecast:
    """Foresee a move of pinion and ring gear from where the measured patches say the gears stand now, with
    the relief that the patches' size and tilt tell. What isn't known of the geometry is drawn and fitted anew
    `draws` times. About 0.1 s for each.

    Raises MechanicsError as MeshModel and model_from_pattern do.
    """
    fit = model_from_pattern(axle, measured)
    others = []
    if not _known(fit.model):
        for model in alternatives(axle, draws):
            try:
                other = model_from_pattern(axle, measured, model)
            except MechanicsError:
                continue
            others.append((other.model, other.place, _moved(other.place, pinion_mm, ring_mm)))
    end = _moved(fit.place, pinion_mm, ring_mm)
    return _forecast(fit.model, fit.place, end, backlash_mm, others, fit)


def _known(model: MeshModel) -> bool:
    inputs = model.blank.inputs
    return not inputs.estimated() and model.axle.ease_off is not None and inputs.cutting_given


def _moved(place: Displacement, pinion_mm: float, ring_mm: float) -> Displacement:
    return replace(place, pinion=place.pinion + pinion_mm, ring=place.ring + ring_mm)


def _forecast(
    model: MeshModel,
    start: Displacement,
    end: Displacement,
    backlash_mm: float | None,
    others: Sequence[tuple[MeshModel, Displacement, Displacement]],
    fit: Crowning | None,
) -> Forecast:
    before, after = _at(model, start), _at(model, end)
    now, source = _backlash_now(model.axle, backlash_mm)
    change = after.backlash_change_mm - before.backlash_change_mm
    pairs = [(_at(m, first), _at(m, last)) for m, first, last in others]
    spread: dict[FlankName, tuple[float, float]] = dict.fromkeys(FLANKS, (0.0, 0.0))
    for flank in FLANKS:
        shifts = [s for s in (_shift(a, b, flank) for a, b in pairs) if s is not None]
        if len(shifts) > 2:
            u, v = np.std(shifts, axis=0)
            spread[flank] = float(u), float(v)
    changes = [b.backlash_change_mm - a.backlash_change_mm for a, b in pairs]
    return Forecast(
        model,
        start,
        end,
        before,
        after,
        (now, now + change),
        source,
        spread,
        float(np.std(changes)) if changes else 0.0,
        _known(model),
        fit,
    )


def predict(
    axle: Axle, pinion_mm: float = 0.0, ring_mm: float = 0.0, backlash_mm: float | None = None
) -> Forecast:
    """Foresee a move P, G made where the patterns are centred now; see `forecast`."""
    return forecast(axle, Displacement(), Displacement(pinion_mm, ring_mm), backlash_mm)


def _at(model: MeshModel, at: Displacement) -> Prediction:
    return model.predict(at.pinion, at.ring, at.offset, at.shaft_angle)


def _shift(before: Prediction, after: Prediction, flank: FlankName) -> tuple[float, float] | None:
    first, last = before.patch(flank), after.patch(flank)
    if first is None or last is None:
        return None
    return last.centre[0] - first.centre[0], last.centre[1] - first.centre[1]


def _backlash_now(axle: Axle, measured: float | None) -> tuple[float, BacklashFrom]:
    if measured is not None:
        return measured, "measured"
    if axle.limits.backlash_mm is not None:
        return sum(axle.limits.backlash_mm) / 2, "limits"
    return SUPPOSED_BACKLASH_MM, "supposed"
