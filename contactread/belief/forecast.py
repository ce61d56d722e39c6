"""What a move will do: both patterns and the backlash, before and after, with the doubt of both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.axle import FLANKS, Axle, FlankName, Interval
from contactread.belief.draws import draws_of
from contactread.belief.linear import MEASURES
from contactread.belief.outlook import Outlook, Start, deviation, moved, outlooks
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import MeshModel
from contactread.patch import Outline, Patch, Point

# Where neither a measurement nor the axle's limits say what the backlash is now. Only a number to start
# from, and shown as supposed: common practice for passenger-car and light-truck axles.
SUPPOSED_BACKLASH_MM = 0.20

Method = Literal["face_milled", "face_hobbed"]
BacklashFrom = Literal["measured", "limits", "supposed"]


@dataclass(frozen=True, eq=False)
class MethodShift:
    """What one cutting method would answer to the move, where the axle file leaves the method open.

    chance: of the method. shift: of each flank's centre (u, v); None where a patch is missing.
    """

    cutting: Method
    chance: float
    shift: dict[FlankName, Point | None]


@dataclass(frozen=True, eq=False)
class Forecast:
    """A move foreseen.

    pinion_mm, ring_mm: the move P, G. before, after: what the gears show. backlash_from: where the first
    backlash comes from: measured by the user, the middle of the axle's limits, or supposed. model: of all
    gear sets the one nearest to what is expected; it stands for the others in pictures, at its own place
    model_at. known: True where nothing had to be estimated. misfit: how badly the usual gear sets explain
    what was read, root mean square in standard deviations; None where nothing was read. methods: one entry
    for each cutting method where it is unknown, else none.
    """

    axle: Axle
    pinion_mm: float
    ring_mm: float
    before: Outlook
    after: Outlook
    backlash_from: BacklashFrom
    model: MeshModel
    model_at: Displacement
    known: bool
    misfit: float | None
    methods: tuple[MethodShift, ...]

    def shift(self, flank: FlankName) -> Point | None:
        """Shift of a patch's centre (u, v); None where a patch is missing before or after."""
        first, last = self.before.patch(flank), self.after.patch(flank)
        if first is None or last is None:
            return None
        return last.centre[0] - first.centre[0], last.centre[1] - first.centre[1]

    @property
    def shift_spread(self) -> dict[FlankName, Point]:
        """Standard deviation of each centre's shift (u, v), from what isn't known of the gear set."""
        open_ = self._open()
        return {flank: (float(open_[2 * k]), float(open_[2 * k + 1])) for k, flank in enumerate(FLANKS)}

    @property
    def backlash_spread_mm(self) -> float:
        """Standard deviation of the change of backlash."""
        return float(self._open()[4])

    def drawn(self, flank: FlankName, when: Literal["before", "after"]) -> Patch | None:
        """The patch of one flank with its outlines, for pictures."""
        patch = (self.before if when == "before" else self.after).patch(flank)
        move = (0.0, 0.0) if when == "before" else (self.pinion_mm, self.ring_mm)
        like = self.model.patch(flank, moved(self.model_at, move), outlined=True)
        if patch is None or like is None:
            return patch
        return replace(patch, outlines=tuple(_at(o, like.centre, patch.centre) for o in like.outlines))

    def _open(self) -> Floats:
        return deviation(self.after.weight, self.after.measures - self.before.measures, self.after.doubts**2)


def foresee(axle: Axle, start: Displacement, end: Displacement, backlash_mm: float | None = None) -> Forecast:
    """Foresee the move from `start` to `end`, nothing having been read. backlash_mm: measured at the start.

    Where the whole gear set is given, relief and all, this is the mesh alone; else every drawn gear set
    speaks. Raises MechanicsError as MeshModel and draws_of do.
    """
    moves = [(0.0, 0.0), (end.pinion - start.pinion, end.ring - start.ring)]
    now, source = _backlash_now(axle, backlash_mm)
    model = MeshModel(axle) if axle.ease_off is not None else None
    if model is not None and is_known(model) and not axle.gears.supposed:
        models: Sequence[MeshModel] = [model]
        doubts = np.zeros((2, 1, MEASURES))
    else:
        model = None
        draws = draws_of(axle.gears, axle.ease_off, axle.ease_off_concave)
        models = [each.model for each in draws.sets]
        doubts = np.stack([draws.candidates.doubt(np.array(m)) for m in moves])
    sure = np.zeros(MEASURES)
    common = np.zeros((MEASURES, 2))
    starts = [Start(each, 1 / len(models), start, sure[:4], now, sure, common) for each in models]
    before, after = outlooks(starts, moves, doubts)
    return forecast_of(axle, moves[1], starts, (before, after), source)


def predict(
    axle: Axle, pinion_mm: float = 0.0, ring_mm: float = 0.0, backlash_mm: float | None = None
) -> Forecast:
    """Foresee a move P, G made where the patterns are centred now; see `foresee`."""
    return foresee(axle, Displacement(), Displacement(pinion_mm, ring_mm), backlash_mm)


def forecast_of(
    axle: Axle,
    move_mm: Interval,
    starts: Sequence[Start],
    seen: tuple[Outlook, Outlook],
    source: BacklashFrom,
    misfit: float | None = None,
) -> Forecast:
    """The forecast that two outlooks, before and after the move, make."""
    before, after = seen
    nearest = _nearest(after)
    model = starts[nearest].model
    methods: tuple[MethodShift, ...] = ()
    if axle.gears.cutting == "unknown":
        methods = _methods(starts, before, after)
    known = len(starts) == 1 and is_known(model)
    return Forecast(axle, *move_mm, before, after, source, model, starts[nearest].at, known, misfit, methods)


def is_known(model: MeshModel) -> bool:
    """Whether nothing of this model had to be estimated."""
    inputs = model.blank.inputs
    return not inputs.estimated() and model.axle.ease_off is not None and inputs.cutting_given


def _at(outline: Outline, centre: Point, wanted: Point) -> Outline:
    """An outline carried from one centre to another, kept on the flank."""
    du, dv = wanted[0] - centre[0], wanted[1] - centre[1]
    return tuple((min(max(u + du, 0.0), 1.0), min(max(v + dv, 0.0), 1.0)) for u, v in outline)


def _nearest(after: Outlook) -> int:
    """Which gear set shows most nearly what is expected."""
    filled = np.nan_to_num(after.measures[:, :4], nan=9.0)
    return int(np.argmin(np.sum((filled - after.weight @ filled) ** 2, axis=1)))


def _methods(starts: Sequence[Start], before: Outlook, after: Outlook) -> tuple[MethodShift, ...]:
    hobbed = np.array([float(start.model.blank.face_hobbed) for start in starts])
    shifts = (after.measures - before.measures)[:, :4]
    found = []
    kinds: tuple[tuple[Method, Floats], ...] = (("face_milled", 1.0 - hobbed), ("face_hobbed", hobbed))
    for cutting, among in kinds:
        weight = after.weight * among
        found.append(MethodShift(cutting, float(weight.sum()), _mean_shift(weight, shifts)))
    return tuple(found)


def _mean_shift(weight: NDArray[np.float64], shifts: Floats) -> dict[FlankName, Point | None]:
    out: dict[FlankName, Point | None] = {}
    for k, flank in enumerate(FLANKS):
        of_flank = shifts[:, 2 * k : 2 * k + 2]
        there = weight * np.isfinite(of_flank).all(axis=1)
        if there.sum() <= 0:
            out[flank] = None
            continue
        u, v = there @ np.nan_to_num(of_flank) / there.sum()
        out[flank] = float(u), float(v)
    return out


def _backlash_now(axle: Axle, measured: float | None) -> tuple[float, BacklashFrom]:
    if measured is not None:
        return measured, "measured"
    if axle.limits.backlash_mm is not None:
        return sum(axle.limits.backlash_mm) / 2, "limits"
    return SUPPOSED_BACKLASH_MM, "supposed"
