"""What a move will do: both patterns and the backlash, before and after, with the doubt of both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.axle import FLANKS, Axle, FlankName, Interval
from contactread.belief.draws import draws_of
from contactread.belief.linear import MEASURES, normal_cdf
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import MeshModel, Prediction
from contactread.patch import EDGES, Clear, Outline, Patch, Point

# Where neither a measurement nor the axle's limits say what the backlash is now. Only a number to start
# from, and shown as supposed: common practice for passenger-car and light-truck axles.
SUPPOSED_BACKLASH_MM = 0.20

Method = Literal["face_milled", "face_hobbed"]
BacklashFrom = Literal["measured", "limits", "supposed"]


@dataclass(frozen=True, eq=False)
class Start:
    """One gear set that could be the axle's, and where it stands now.

    own: (4,) where its patches' centres lie beyond where its mesh puts them (convex u, v, concave u, v).
    backlash_mm: now. sigma: (5,) standard deviation of the centres and of the backlash now.
    """

    model: MeshModel
    weight: float
    at: Displacement
    own: Floats
    backlash_mm: float
    sigma: Floats


@dataclass(frozen=True, eq=False)
class Outlook:
    """What the gears show in one place of theirs.

    place: of the gears against the mesh's nominal place, mm. convex, concave: the patch expected on that
    flank; None where it is likelier that nothing touches. sigma: standard deviation of each centre (u, v).
    backlash_mm: at the dial. measures, sigmas, doubts: (n, 5) of each gear set of weight (n,): convex u, v,
    concave u, v, backlash; NaN where a flank doesn't touch; what stays open of its place; what stays open of
    its answer to the move.
    """

    place: Displacement
    convex: Patch | None
    concave: Patch | None
    backlash_mm: float
    weight: Floats
    measures: Floats
    sigmas: Floats
    doubts: Floats

    def patch(self, flank: FlankName) -> Patch | None:
        """The patch of one flank."""
        return self.convex if flank == "convex" else self.concave

    @property
    def centre(self) -> dict[FlankName, Point]:
        """Where each patch's centre (u, v) is expected."""
        there = self.weight[:, None] * np.isfinite(self.measures)
        mean = np.sum(there * np.nan_to_num(self.measures), axis=0) / np.maximum(there.sum(axis=0), 1e-300)
        return {flank: (float(mean[2 * k]), float(mean[2 * k + 1])) for k, flank in enumerate(FLANKS)}

    @property
    def sigma(self) -> dict[FlankName, Point]:
        """Standard deviation of each flank's centre (u, v)."""
        all_five = self._sigma()
        return {flank: (float(all_five[2 * k]), float(all_five[2 * k + 1])) for k, flank in enumerate(FLANKS)}

    @property
    def backlash_sigma_mm(self) -> float:
        """Standard deviation of the backlash."""
        return float(self._sigma()[4])

    def chance(self, low: Floats, high: Floats) -> float:
        """Chance that all five measures lie between low and high (5,)."""
        sigma = np.maximum(np.hypot(self.sigmas, self.doubts), 1e-6)
        measures = np.nan_to_num(self.measures, nan=math.inf)
        inside = normal_cdf((high - measures) / sigma) - normal_cdf((low - measures) / sigma)
        return float(self.weight @ np.prod(inside, axis=1))

    def _sigma(self) -> Floats:
        return _deviation(self.weight, self.measures, self.sigmas**2 + self.doubts**2)


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
        like = self.model.patch(flank, _moved(self.model_at, move), outlined=True)
        if patch is None or like is None:
            return patch
        return replace(patch, outlines=tuple(_at(o, like.centre, patch.centre) for o in like.outlines))

    def _open(self) -> Floats:
        return _deviation(self.after.weight, self.after.measures - self.before.measures, self.after.doubts**2)


def foresee(axle: Axle, start: Displacement, end: Displacement, backlash_mm: float | None = None) -> Forecast:
    """Foresee the move from `start` to `end`, nothing having been read. backlash_mm: measured at the start.

    Where the whole gear set is given, relief and all, this is the mesh alone; else every drawn gear set
    speaks. Raises MechanicsError as MeshModel and draws_of do.
    """
    moves = [(0.0, 0.0), (end.pinion - start.pinion, end.ring - start.ring)]
    now, source = _backlash_now(axle, backlash_mm)
    model = MeshModel(axle) if axle.ease_off is not None else None
    if model is not None and is_known(model):
        models: Sequence[MeshModel] = [model]
        doubts = np.zeros((2, 1, MEASURES))
    else:
        model = None
        draws = draws_of(axle.gears, axle.ease_off, axle.ease_off_concave)
        models, doubts = draws.models, np.stack([draws.candidates.doubt(np.array(m)) for m in moves])
    sure = np.zeros(MEASURES)
    starts = [Start(each, 1 / len(models), start, sure[:4], now, sure) for each in models]
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


def outlooks(
    starts: Sequence[Start], moves_mm: Sequence[Interval], doubts: Floats, lines: Floats | None = None
) -> list[Outlook]:
    """What the gears show after each of the moves, every one from their starts; the first move is none.

    doubts: (moves, starts, 5) what stays open of the answer to each move. lines: (moves, starts, 4) the
    centres that each start's straight-line answer gives. The mesh knows the edges of the flank, the line
    follows the measured sizes more closely: along the length the middle between them errs less than either,
    in height, where patches are cut off most, the mesh does (calibration/forecast_error.py).
    """
    weight = np.array([start.weight for start in starts])
    weight = weight / weight.sum()
    predictions = [
        start.model.predictions([_moved(start.at, move) for move in moves_mm], against_first=True)
        for start in starts
    ]
    own = np.array([[*start.own, start.backlash_mm] for start in starts])
    sigmas = np.stack([start.sigma for start in starts])
    bent = np.zeros((len(starts), 4))
    seen = []
    for j, move in enumerate(moves_mm):
        column = [one[j] for one in predictions]
        measures = np.stack([_measures(prediction) for prediction in column]) + own
        if lines is not None:
            if j == 0:
                bent = np.nan_to_num(lines[0] - measures[:, :4])
            along = measures[:, [0, 2]] + bent[:, [0, 2]] * _left_of_bend(starts, move)
            measures[:, [0, 2]] = (along + lines[j][:, [0, 2]]) / 2
        measures[:, :4] = np.clip(measures[:, :4], 0.0, 1.0)
        seen.append(
            Outlook(
                Displacement(
                    float(weight @ [s.at.pinion for s in starts]) + move[0],
                    float(weight @ [s.at.ring for s in starts]) + move[1],
                ),
                _expected([p.convex for p in column], measures[:, :2], weight),
                _expected([p.concave for p in column], measures[:, 2:4], weight),
                float(weight @ measures[:, 4]),
                weight,
                measures,
                sigmas,
                doubts[j],
            )
        )
    return seen


def _left_of_bend(starts: Sequence[Start], move_mm: Interval) -> Floats:
    """How much of the difference that bent answers make between mesh and line where the gears stand is left
    after a move, (n, 1): 1 where they stand, so that what was read holds there, and less the nearer they come
    to the mesh's nominal place, where the two agree; it grows as the square of the way from there.
    """
    way = np.array([[np.hypot(at.pinion, at.ring) for at in (s.at, _moved(s.at, move_mm))] for s in starts])
    return np.asarray(np.minimum((way[:, 1:] / np.maximum(way[:, :1], 1e-9)) ** 2, 1.0))


def _moved(at: Displacement, move_mm: Interval) -> Displacement:
    return replace(at, pinion=at.pinion + move_mm[0], ring=at.ring + move_mm[1])


def _measures(prediction: Prediction) -> Floats:
    patches = (prediction.convex, prediction.concave)
    convex, concave = ((math.nan, math.nan) if p is None else p.centre for p in patches)
    return np.array([*convex, *concave, prediction.backlash_change_mm])


def _expected(patches: Sequence[Patch | None], centres: Floats, weight: Floats) -> Patch | None:
    """The mean of the patches of one flank, each moved to its centre (n, 2)."""
    each = zip(patches, centres, weight, strict=True)
    there = [(patch, c, w) for patch, c, w in each if patch is not None]
    share = sum(w for *_, w in there)
    if share < 0.5:
        return None
    if len(there) == 1 and there[0][0].centre == tuple(there[0][1]):
        return there[0][0]
    w = np.array([w for *_, w in there]) / share
    centre = w @ np.array([c for _, c, _ in there])
    moved = np.array([c - p.centre for p, c, _ in there])
    length = w @ np.clip(np.array([p.length for p, *_ in there]) + moved[:, :1], 0.0, 1.0)
    height = w @ np.clip(np.array([p.height for p, *_ in there]) + moved[:, 1:], 0.0, 1.0)
    clear = w @ np.array([p.clear for p, *_ in there])
    off = w @ np.array([[edge in p.runs_off for edge in EDGES] for p, *_ in there]) > 0.5
    return Patch(
        (float(centre[0]), float(centre[1])),
        (float(length[0]), float(length[1])),
        (float(height[0]), float(height[1])),
        float(w @ [p.area_fraction for p, *_ in there]),
        float(w @ [p.tilt_deg for p, *_ in there]),
        Clear(*(0.0 if cut else float(share) for share, cut in zip(clear, off, strict=True))),
    )


def _at(outline: Outline, centre: Point, wanted: Point) -> Outline:
    """An outline carried from one centre to another, kept on the flank."""
    du, dv = wanted[0] - centre[0], wanted[1] - centre[1]
    return tuple((min(max(u + du, 0.0), 1.0), min(max(v + dv, 0.0), 1.0)) for u, v in outline)


def _deviation(weight: Floats, values: Floats, variance: Floats) -> Floats:
    """Standard deviation (5,) of values (n, 5), each of its own variance besides; NaN counts for nothing."""
    there = weight[:, None] * np.isfinite(values)
    share = there / np.maximum(there.sum(axis=0), 1e-300)
    filled = np.nan_to_num(values)
    mean = np.sum(share * filled, axis=0)
    return np.asarray(np.sqrt(np.sum(share * (variance + (filled - mean) ** 2), axis=0)))


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
