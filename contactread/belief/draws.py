"""This axle's answer to moves, from the mesh model, with what isn't known of the gear set as a spread.

The gear set is drawn many times: what the axle file leaves out from its estimate and spread, the relief
(crowning, bias) and the compound's film from wide priors. Each draw is a whole mesh model with its patch
sizes and its answer to small moves. A reading then picks and corrects the draws: patches of the measured
size speak for that crowning, so the answer is this gear's own (regression-adjusted weighting of draws).
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from math import exp, prod
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.axle import FLANKS, Axle, EaseOff, GearSet
from contactread.belief.answers import answer_of, with_housing
from contactread.belief.gear_sets import DrawnSet, drawn_sets
from contactread.belief.kept import keep_rows, kept_rows, key_of
from contactread.belief.linear import MEASURES, Candidates
from contactread.belief.tries import Seen, sides_of
from contactread.errors import MechanicsError
from contactread.facts import FOLDER
from contactread.mesh.response import MeshModel
from contactread.pattern.measures import Setup, Side

DRAWS = 40  # with 48 calibration.setup_loop shows the same, but for the few that `believe` asks MANY for
MANY_DRAWS = 3 * DRAWS
SUPPOSED_EACH = 2  # times as many where teeth or diameter are drawn, too
LEAST_DRAWS = 12
# The housing is seldom off: its answer is worked out for one draw in so many, and is like for the others.
HOUSING_EACH = 4
# How far a measured extent (logarithm) or tilt (degrees) may be off, reading and model together.
SIZE_SIGMA = 0.07
TILT_SIGMA_DEG = 6.0
RIDGE = 0.5
# Within this of the measured features a draw counts fully: logarithm of an extent, tenths of degrees of tilt.
NEARNESS = np.array([0.5] * 4 + [1.5] * 2)
# A set's answers may lie between those drawn: share of their spread, chosen by calibration.setup_loop.
BETWEEN = 0.15
LEAST_RELIEF_MM = 0.001  # an axle file may tell of none, which has no logarithm; our own choice
CUT_SIZE_SIGMA = 0.12  # logarithm; a cut patch may seem larger than it is by about this
# What is kept of each draw between runs: its number, then one draw of each array in Draws, in order.
_PARTS = ((), (6,), (MEASURES, 4), (4,), (4,))
# The code that determines those sums: this file, what it imports, and what that imports.
_MADE_BY = (
    "arrays.py", "axle.py", "belief/answers.py", "belief/draws.py", "belief/gear_sets.py", "belief/kept.py",
    "belief/linear.py", "belief/tries.py", "errors.py", "facts.py", "gear_classes.py", "mesh/blank.py",
    "mesh/chebyshev.py", "mesh/closing.py", "mesh/coverage.py", "mesh/ease_off.py", "mesh/estimate.py",
    "mesh/kinematics.py", "mesh/pitch_cones.py", "mesh/proportions.py", "mesh/response.py",
    "mesh/ring_flank.py", "outside.py", "patch.py", "pattern/measures.py", "plausible.py", "units.py",
)  # fmt: skip
MADE_BY = (*(Path(__file__).parents[1] / name for name in _MADE_BY), FOLDER / "gear_classes.toml")


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
        return self.draws.sets[index].model.with_ease_off(EaseOff(exp(length), exp(profile), bias), exp(film))

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

    sets: n of them. features: (n, 6) logarithms of the extents (convex length, height, concave length,
    height) and the two tilts in units of 10 degrees. jacobian: (n, 5, 4) change of (convex u, v, concave u,
    v, backlash mm) per mm of pinion move, ring-gear move, offset error, and per degree of shaft-angle error.
    relief: (n, 4) as in FittedDraws. centre: (n, 4) of the patches in the nominal place (convex u, v, concave
    u, v).
    """

    sets: tuple[DrawnSet, ...]
    features: Floats
    jacobian: Floats
    relief: Floats
    centre: Floats

    @property
    def candidates(self) -> Candidates:
        """Their answers before anything was read: all equally likely."""
        return self._candidates(self.jacobian, np.zeros(len(self.jacobian)))

    def _candidates(self, jacobian: Floats, log_weight: Floats) -> Candidates:
        """Candidates of these answers (n, 5, 4): the wider they spread, the further may one lie between."""
        weight = np.exp(log_weight - log_weight.max())
        between = np.zeros_like(jacobian[:, :, :2])
        hobbed = np.array([each.blank.face_hobbed for each in self.sets], bool)
        for alike in (hobbed, ~hobbed):
            if alike.any():
                share, answers = weight[alike] / max(weight[alike].sum(), 1e-300), jacobian[alike][:, :, :2]
                mean = np.einsum("n,nij->ij", share, answers)
                between[alike] = BETWEEN * np.sqrt(np.einsum("n,nij->ij", share, (answers - mean) ** 2))
        return Candidates(jacobian, log_weight, between)

    def open_numbers(self) -> dict[str, Floats]:
        """What was drawn for each number that the axle file leaves out, (n,) by its name in GearSet; "ratio"
        is that of the teeth, "cutting" 1 for face hobbed. A given one that is among them is always the same.
        """
        blanks = [each.blank for each in self.sets]
        names = dict.fromkeys(name for blank in blanks for name in blank.inputs.estimated())
        drawn = {
            name: np.array([getattr(blank.inputs, name).value for blank in blanks])
            for name in names
            if name != "cutter_groups"
        }
        gears = [each.axle.gears for each in self.sets]
        drawn["ring_diameter_mm"] = np.array([each.ring_diameter_mm for each in gears])
        drawn["ratio"] = np.array([each.ring_teeth / each.pinion_teeth for each in gears])
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
        relief = answers[:, -4:]
        jacobian = answers[:, :-4].reshape(self.jacobian.shape) / _resistance(relief)
        return FittedDraws(self, self._candidates(jacobian, log_weight), np.exp(features[:, :4]), relief)

    def _moved(self, measured: Floats) -> tuple[Floats, Floats, Floats]:
        """Features, answers (Jacobian times resistance, and relief, flat) and log weights of the draws, once
        each is moved onto the measured features (NaN: not measured) by the draws' own regression.
        """
        seen = np.isfinite(measured)
        slopes = self.jacobian * _resistance(self.relief)
        answers = np.concatenate([slopes.reshape(len(slopes), -1), self.relief], axis=1)
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


def draws_of(
    gears: GearSet, ease_off: EaseOff | None = None, concave: EaseOff | None = None, count: int = DRAWS
) -> Draws:
    """The draws for this gear set: under half a second for DRAWS of them, then remembered, by later runs too.
    ease_off: where it is given; concave: that against the concave flank, where it differs.

    Raises MechanicsError where no gear set of these numbers can be built.
    """
    return _drawn(gears, ease_off, concave, count)


@lru_cache(maxsize=16)  # which takes one that is told and one that is left out for two
def _drawn(gears: GearSet, ease_off: EaseOff | None, concave: EaseOff | None, count: int) -> Draws:
    if gears.supposed:
        count *= SUPPOSED_EACH
    sets = list(islice(drawn_sets(gears, ease_off, concave), 2 * count))
    key = key_of(repr((gears, ease_off, concave, count)), MADE_BY)
    rows = None if key is None else kept_rows(key, sum(map(prod, _PARTS)))
    if rows is None:
        rows = _rows(sets, count, gears.ring_diameter_mm / 200)
        if key is not None:
            keep_rows(key, rows)
    ends = np.cumsum([prod(shape) for shape in _PARTS])[:-1]
    number, *parts = (
        np.ascontiguousarray(part).reshape(-1, *shape)
        for part, shape in zip(np.split(rows, ends, axis=1), _PARTS, strict=True)
    )
    return Draws(tuple(sets[int(k)] for k in number), *parts)


def _rows(sets: Sequence[DrawnSet], count: int, scale: float) -> Floats:
    """The sums of these gear sets, as _PARTS, (n, numbers): of the first `count` that can be built and
    touch.

    scale: size of the ring gear, 1 for 200 mm. Raises MechanicsError where too few do.
    """
    if sets[0].base is not None:
        _ = sets[0].base.model  # where it can't be built, neither can another
    numbers: list[int] = []
    features: list[Floats] = []
    jacobians, reliefs, centres = [], [], []
    failure: MechanicsError | None = None
    for number, one in enumerate(sets):
        try:
            found = answer_of(one.model, scale, len(features) % HOUSING_EACH == 0)
        except MechanicsError as error:
            failure = error
            continue
        if found is not None:
            numbers.append(number)
            features.append(found[0])
            jacobians.append(found[1])
            centres.append(found[2])
            relief = one.ease_off
            sizes = np.maximum([relief.lengthwise_mm, relief.profile_mm], LEAST_RELIEF_MM)
            reliefs.append([*np.log(sizes), relief.bias_mm, np.log(one.film_mm)])
        if len(features) == count:
            break
    if len(features) < LEAST_DRAWS:
        raise failure or MechanicsError(
            "no-contact",
            "With these numbers the computed gears hardly touch, so no shim move can be computed.",
            "Check the axle file; leave out what you don't know for certain.",
        )
    jacobian = with_housing(np.array(jacobians), np.array([sets[k].blank.face_hobbed for k in numbers]))
    parts = (np.array(numbers), np.array(features), jacobian, np.array(reliefs), np.array(centres))
    return np.concatenate([part.reshape(len(numbers), -1) for part in parts], axis=1)


def draw_ahead(axle: Axle) -> None:
    """Draw the gear sets of this axle ahead of need, and build the mesh that they share, if they do; what
    can't be drawn raises its error later.
    """
    with suppress(MechanicsError):
        base = draws_of(axle.gears, axle.ease_off, axle.ease_off_concave).sets[0].base
        _ = None if base is None else base.model


def _resistance(relief: Floats) -> Floats:
    """How little each measure (n, 5, 1) gives way to a move: a patch lies where the flanks are nearest, and
    the slope that a move brings shifts that place in inverse proportion to the relief. Short patches lie far
    from the draws, where a straight line through the answers themselves would turn their way round.
    """
    reach = np.exp(relief[:, [0, 1, 0, 1]])
    return np.concatenate([reach, np.ones((len(reach), 1))], axis=1)[:, :, None]


def _extents(side: Side) -> tuple[Floats, NDArray[np.bool_]]:
    """Logarithms of the extents (length, height), and whether each is whole: not cut off at an edge."""
    length = max(side.length[1] - side.length[0], 0.02)
    height = max(side.height[1] - side.height[0], 0.02)
    whole = not side.runs_off & {"toe", "heel"}, not side.runs_off & {"root", "top"}
    return np.log([length, height]), np.array(whole)
