"""This axle's answer to moves, from the mesh model, with what isn't known of the gear set as a spread.

The gear set is drawn many times: what the axle file leaves out from its estimate and spread, the relief
(crowning, bias) and the compound's film from wide priors. Each draw is a whole mesh model with its patch
sizes and its answer to small moves. A reading then picks and corrects the draws: patches of the measured
size speak for that crowning, so the answer is this gear's own (regression-adjusted weighting of draws).
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp, pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.axle import FLANKS, Axle, EaseOff, GearSet
from contactread.belief.linear import MEASURES, Candidates
from contactread.belief.tries import Seen, sides_of
from contactread.errors import MechanicsError
from contactread.mesh.blank import blank_of
from contactread.mesh.estimate import Estimate, GearInputs, gear_inputs
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import FILM_MM, MeshModel, Prediction, usual_ease_off
from contactread.pattern.measures import Setup, Side

DRAWS = 40  # with 48 calibration.setup_loop shows the same
LEAST_DRAWS = 12
STEP_MM = 0.08  # of the finite differences, for a ring gear of 200 mm
STEP_RAD = 0.0004
# The housing is seldom off: its answer is worked out for one draw in so many, and is like for the others.
HOUSING_EACH = 4
# Spreads of the draws (standard deviation of the logarithm): relief of usual sets differs by about a factor
# of two, a brushed film by a third. Our own suppositions; the readings correct them.
RELIEF_SPREAD = 0.55
FILM_SPREAD = 0.25
BIAS_SPREAD = 0.35  # of the profile relief
CUTTER_DOUBT = 1.6  # times the estimate's spread: the lengthwise answers hang on the cutter radius most
GIVEN_RELIEF_DOUBT = 0.15  # of these spreads stays where the axle file gives the relief
# How far a measured extent (logarithm) or tilt (degrees) may be off, reading and model together.
SIZE_SIGMA = 0.07
TILT_SIGMA_DEG = 6.0
RIDGE = 0.5
# Within this of the measured features a draw counts fully: logarithm of an extent, tenths of degrees of tilt.
NEARNESS = np.array([0.5] * 4 + [1.5] * 2)
CUT_SIZE_SIGMA = 0.12  # logarithm; a cut patch may seem larger than it is by about this


@dataclass(frozen=True, eq=False)
class FittedDraws:
    """Draws made to fit the sizes of a reading.

    candidates: their answers. extents: (n, 4) of the whole patches: convex length, height, concave length,
    height. relief: (n, 4) logarithms of the lengthwise and profile relief in mm, the bias in mm, logarithm of
    the film in mm.
    """

    draws: Draws
    candidates: Candidates
    extents: Floats
    relief: Floats

    def model(self, index: int) -> MeshModel:
        """One draw's gears with the relief that the sizes speak for."""
        length, profile, bias, film = (float(x) for x in self.relief[index])
        return self.draws.models[index].with_ease_off(EaseOff(exp(length), exp(profile), bias), exp(film))

    def relief_mm(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Lengthwise and profile relief, mm, that the sizes speak for, each with its relative uncertainty."""
        weight = np.exp(self.candidates.log_weight - self.candidates.log_weight.max())
        weight /= weight.sum()
        mean = weight @ self.relief[:, :2]
        spread = np.sqrt(weight @ (self.relief[:, :2] - mean) ** 2)
        length, profile = np.exp(mean)
        return (float(length), float(spread[0])), (float(profile), float(spread[1]))


@dataclass(frozen=True, eq=False)
class Draws:
    """Draws of one axle's gear set.

    models: n of them. features: (n, 6) logarithms of the extents (convex length, height, concave length,
    height) and the two tilts in units of 10 degrees. jacobian: (n, 5, 4) change of (convex u, v, concave u,
    v, backlash mm) per mm of pinion move, ring-gear move, offset error, and per degree of shaft-angle error.
    relief: (n, 4) as in FittedDraws. centre: (n, 4) of the patches in the nominal place (convex u, v, concave
    u, v).
    """

    models: tuple[MeshModel, ...]
    features: Floats
    jacobian: Floats
    relief: Floats
    centre: Floats

    @property
    def candidates(self) -> Candidates:
        """Their answers before anything was read: all equally likely."""
        return Candidates(self.jacobian, np.zeros(len(self.jacobian)))

    def open_numbers(self) -> dict[str, Floats]:
        """What was drawn for each number that the axle file leaves out, (n,) by its name in GearSet;
        "cutting" is 1 for face hobbed.
        """
        blanks = [model.blank for model in self.models]
        names = dict.fromkeys(name for blank in blanks for name in blank.inputs.estimated())
        drawn = {
            name: np.array([getattr(blank.inputs, name).value for blank in blanks])
            for name in names
            if name != "cutter_groups"
        }
        return drawn | {"cutting": np.array([float(blank.face_hobbed) for blank in blanks])}

    def fit(self, seen: Setup | Seen) -> FittedDraws:
        """The draws moved onto the measured sizes and tilts, and weighted by how near they were."""
        measured, whole = np.full(6, -np.inf), np.zeros(6, bool)
        for flank, side in sides_of(seen).items():
            place = FLANKS.index(flank)
            extents = slice(2 * place, 2 * place + 2)
            measured[extents], whole[extents] = _extents(side)
            measured[4 + place], whole[4 + place] = side.tilt_deg / 10, whole[extents].all()
        features, answers, log_weight = self._moved(np.where(whole, measured, np.nan))
        # What is left of a patch that is cut off is less than the whole patch.
        lacking = np.maximum(measured - features, 0.0)[:, :4] * ~whole[:4]
        log_weight = log_weight - 0.5 * np.sum((lacking / CUT_SIZE_SIGMA) ** 2, axis=1)
        jacobian = answers[:, :-4].reshape(self.jacobian.shape)
        return FittedDraws(self, Candidates(jacobian, log_weight), np.exp(features[:, :4]), answers[:, -4:])

    def _moved(self, measured: Floats) -> tuple[Floats, Floats, Floats]:
        """Features, answers (Jacobian and relief, flat) and log weights of the draws, once each is moved
        onto the measured features (NaN: not measured) by the draws' own regression.
        """
        seen = np.isfinite(measured)
        answers = np.concatenate([self.jacobian.reshape(len(self.jacobian), -1), self.relief], axis=1)
        if not seen.any():
            return self.features, answers, np.zeros(len(answers))
        noise = np.array([SIZE_SIGMA] * 4 + [TILT_SIGMA_DEG / 10] * 2)
        scatter = np.random.default_rng(1).normal(size=self.features.shape) * noise
        step = np.where(seen, measured + scatter - self.features, 0.0)
        x = self.features[:, seen] - self.features[:, seen].mean(axis=0)
        gram = x.T @ x + RIDGE * np.eye(x.shape[1])

        def follow(values: Floats) -> Floats:
            slope = np.linalg.solve(gram, x.T @ (values - values.mean(axis=0)))
            return np.asarray(values + step[:, seen] @ slope)

        features = self.features + step
        features[:, ~seen] = follow(self.features[:, ~seen])
        distance = step[:, seen] / NEARNESS[seen]
        return features, follow(answers), -0.5 * np.sum(distance**2, axis=1)


@lru_cache(maxsize=16)
def draws_of(gears: GearSet, ease_off: EaseOff | None = None, concave: EaseOff | None = None) -> Draws:
    """The draws for this gear set: under half a second, then remembered. ease_off: where it is given;
    concave: that against the concave flank, where it differs.

    Raises MechanicsError where no gear set of these numbers can be built.
    """
    random = np.random.default_rng(0)
    blank = blank_of(gears)
    usual = ease_off or usual_ease_off(blank)
    # Where the whole blank is given, only relief and film differ: one set of gears serves all draws.
    given = blank.inputs.cutting_given and not blank.inputs.estimated()
    axle = Axle(gears, ease_off=ease_off, ease_off_concave=concave)
    same = MeshModel(axle, usual) if given else None
    doubt = 1.0 if ease_off is None else GIVEN_RELIEF_DOUBT
    models: list[MeshModel] = []
    features: list[Floats] = []
    jacobians, reliefs, centres = [], [], []
    failure: MechanicsError | None = None
    for index in range(2 * DRAWS):
        try:
            model = _draw(axle, usual, doubt, random, index, same)
            found = _answer(model, gears.ring_diameter_mm / 200, len(features) % HOUSING_EACH == 0)
        except MechanicsError as error:
            failure = error
            continue
        if found is not None:
            models.append(model)
            features.append(found[0])
            jacobians.append(found[1])
            centres.append(found[2])
            relief = model.ease_off
            sizes = np.log([relief.lengthwise_mm, relief.profile_mm, model.film_mm])
            reliefs.append([*sizes[:2], relief.bias_mm, sizes[2]])
        if len(features) == DRAWS:
            break
    if len(features) < LEAST_DRAWS:
        raise failure or MechanicsError(
            "no-contact",
            "With these numbers the computed gears hardly touch, so no shim move can be computed.",
            "Check the axle file; leave out what you don't know for certain.",
        )
    jacobian = _with_housing(np.array(jacobians), np.array([model.blank.face_hobbed for model in models]))
    return Draws(tuple(models), np.array(features), jacobian, np.array(reliefs), np.array(centres))


def draw_ahead(axle: Axle) -> None:
    """Draw the gear sets of this axle ahead of need; what can't be drawn raises its error later."""
    with suppress(MechanicsError):
        draws_of(axle.gears, axle.ease_off, axle.ease_off_concave)


def _with_housing(jacobian: Floats, hobbed: NDArray[np.bool_]) -> Floats:
    """The Jacobians (n, 5, 4) whose last two columns are NaN, given the mean ones of their cutting method."""
    known = np.isfinite(jacobian[:, 0, 2])
    for method in (False, True):
        alike = known & (hobbed == method)
        mean = jacobian[alike if alike.any() else known][:, :, 2:].mean(axis=0)
        jacobian[~known & (hobbed == method), :, 2:] = mean
    return jacobian


def _draw(
    axle: Axle,
    usual: EaseOff,
    doubt: float,
    random: np.random.Generator,
    index: int,
    same: MeshModel | None,
) -> MeshModel:
    """One gear set that could be the user's. doubt: share of the usual spread of the relief. same: the gears
    that all draws share, if they do.
    """
    gears = axle.gears
    if gears.cutting == "unknown":
        gears = replace(gears, cutting="face_hobbed" if index % 2 else "face_milled")
    if gears.offset_mm is None and index // 2 % 4 == 3:  # a spiral bevel set, which has no offset
        gears = replace(gears, offset_mm=0.0)
    length, profile = np.exp(RELIEF_SPREAD * doubt * random.normal(size=2))
    bias = BIAS_SPREAD * doubt * random.normal() * usual.profile_mm
    ease_off = EaseOff(usual.lengthwise_mm * length, usual.profile_mm * profile, usual.bias_mm + bias)
    film = FILM_MM * float(np.exp(FILM_SPREAD * random.normal()))
    if same is not None:
        return same.with_ease_off(ease_off, film)
    return MeshModel(
        replace(axle, gears=gears), ease_off, film, inputs=_draw_inputs(gear_inputs(gears), random)
    )


def _draw_inputs(known: GearInputs, random: np.random.Generator) -> GearInputs:
    """Estimated numbers moved within their spread; given ones stay."""
    drawn: dict[str, Any] = {}
    for name, estimate in known.estimated().items():
        spread = CUTTER_DOUBT * estimate.spread if name == "cutter_radius_mm" else estimate.spread
        shift = float(np.clip(random.normal(), -2, 2)) * spread
        drawn[name] = Estimate(max(estimate.value + shift, 0.0), 0.0, estimate.given)
    return replace(known, **drawn)


def _answer(model: MeshModel, scale: float, housing: bool) -> tuple[Floats, Floats, Floats] | None:
    """Features (6,), Jacobian (5, 4), nominal centres (4,) of one model; None where a flank doesn't touch.

    housing: whether to work out the answer to offset and shaft angle; NaN else.
    """
    step = STEP_MM * scale
    places = [
        Displacement(),
        Displacement(pinion=step),
        Displacement(pinion=-step),
        Displacement(ring=step),
        Displacement(ring=-step),
    ]
    if housing:
        places += [Displacement(offset=step / 2), Displacement(shaft_angle=STEP_RAD)]
    here, *moved = model.predictions(places)
    if here.convex is None or here.concave is None:
        return None
    away, toward, ring_away, ring_toward, *bores = map(_measures, moved)
    middle = _measures(here)
    columns = [(away - toward) / (2 * step), (ring_away - ring_toward) / (2 * step)]
    if bores:
        columns += [(bores[0] - middle) / (step / 2), (bores[1] - middle) / (STEP_RAD * 180 / pi)]
    jacobian = np.stack(columns, axis=1)
    if not np.isfinite(jacobian).all():
        return None
    jacobian = np.pad(jacobian, ((0, 0), (0, 4 - len(columns))), constant_values=np.nan)
    sides = (here.convex, here.concave)
    extents = [np.log(p[1] - p[0]) for side in sides for p in (side.length, side.height)]
    return np.array([*extents, *(side.tilt_deg / 10 for side in sides)]), jacobian, middle[:4]


def _measures(prediction: Prediction) -> Floats:
    """Both centres and the backlash change (5,); NaN where a flank doesn't touch."""
    if prediction.convex is None or prediction.concave is None:
        return np.full(MEASURES, np.nan)
    return np.array([*prediction.convex.centre, *prediction.concave.centre, prediction.backlash_change_mm])


def _extents(side: Side) -> tuple[Floats, NDArray[np.bool_]]:
    """Logarithms of the extents (length, height), and whether each is whole: not cut off at an edge."""
    length = max(side.length[1] - side.length[0], 0.02)
    height = max(side.height[1] - side.height[0], 0.02)
    whole = not side.runs_off & {"toe", "heel"}, not side.runs_off & {"root", "top"}
    return np.log([length, height]), np.array(whole)
