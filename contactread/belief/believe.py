"""From what was seen and moved so far to what is believed of this axle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.axle import FLANKS, Axle, FlankName, Interval
from contactread.belief.draws import DRAWS, MANY_DRAWS, FittedDraws, draws_of
from contactread.belief.forecast import (
    SUPPOSED_BACKLASH_MM,
    BacklashFrom,
    Forecast,
    forecast_of,
)
from contactread.belief.linear import MEASURES, Candidates, Observation, Posterior, Prior, update
from contactread.belief.outlook import Outlook, Start, outlooks
from contactread.belief.targets import Target, Zone, target_for
from contactread.belief.tries import DIAL_SIGMA_MM, PLACES, EarlierTry, Seen, sides_of, sigma_of, swing_of
from contactread.mesh.kinematics import Displacement
from contactread.pattern.measures import Setup, Side

# Before anything is read: how far an axle may stand from its designed place, mm (pinion, ring gear). With
# wider ones a patch cut off at an edge is believed to stand too far off, and moves go too far
# (calibration/setup_loop.py, calibration/forecast_error.py).
PLACE_SIGMA = (0.13, 0.13)
# A patch cut off at an edge shows its centre less well, flank fractions.
CUT_SIGMA = 0.04
# Below this a backlash reading only says that the teeth bind, mm: they are then taken to lie so far beyond
# where they would be free (calibration.setup_loop's bound starts do).
BOUND_MM, BOUND_AT_MM, BOUND_SIGMA_MM = 0.02, -0.05, 0.04
# Where no limits are given the backlash aim is a guess only; its width lets the readings speak.
NO_LIMITS_SIGMA_MM = 0.10
# So many of the likeliest gear sets speak when a move is foreseen; the rest hardly weigh.
SPEAKERS = 8
# Where what isn't known of the gear set was drawn, and so few drawn sets explain the readings that an odd set
# or a bent housing is likelier than this, more are drawn, among which there may be one that does.
HARDLY_USUAL = 0.5


class Case(NamedTuple):
    """One state of affairs an axle may be in. odds: how often, before anything is read. own: how far the
    set's own best place lies from the aim, flank fractions (u, v). housing: how far the bores are off, mm
    of offset and degrees of shaft angle. All standard deviations, and our own suppositions.
    """

    odds: float
    own: Interval
    housing: Interval


USUAL = Case(0.90, (0.025, 0.03), (0.015, 0.010))
ODD_SET = Case(0.07, (0.15, 0.15), (0.015, 0.010))
BENT_HOUSING = Case(0.03, (0.025, 0.03), (0.15, 0.12))
CASES = (USUAL, ODD_SET, BENT_HOUSING)


@dataclass(frozen=True, eq=False)
class Belief:
    """What is believed of one axle after all tries.

    Each candidate is a drawn gear set in one of the CASES, n = draws x cases. posterior: their weights and
    where each stands. bent: which of them (n,) have a housing that is off. backlash_from: what the present
    backlash rests on.
    """

    axle: Axle
    drawn: FittedDraws
    posterior: Posterior
    observations: tuple[Observation, ...]
    bent: NDArray[np.bool_]
    backlash_from: BacklashFrom

    def forecast(self, pinion_mm: float, ring_mm: float) -> Forecast:
        """What a further move P, G will do."""
        move = pinion_mm, ring_mm
        starts, chosen = self._speakers()
        before, after = self._seen(starts, chosen, [(0.0, 0.0), move])
        return forecast_of(self.axle, move, starts, (before, after), self.backlash_from, self.misfit)

    def outlooks(self, moves_mm: Sequence[Interval]) -> list[Outlook]:
        """What the gears will show after each of these moves, every one from where they stand now."""
        return self._seen(*self._speakers(), moves_mm)

    @property
    def bent_chance(self) -> float:
        """Chance that the housing is off, from the readings."""
        return float(self.posterior.weight[self.bent].sum())

    @property
    def guessed(self) -> bool:
        """Whether the axle file leaves something of the gear set open."""
        return any(np.ptp(drawn) > 0 for drawn in self.drawn.draws.open_numbers().values())

    @property
    def usual_chance(self) -> float:
        """Chance that neither the housing is off nor the set an odd one."""
        return float(self.posterior.weight[: len(self.drawn.extents)].sum())

    @property
    def misfit(self) -> float:
        """How badly the usual gear sets explain the readings: root mean square, in standard deviations."""
        return self.posterior.misfit(len(self.drawn.extents))

    def whole_height(self, flank: FlankName) -> float:
        """Height that the whole patch of this flank has (5 to 95 %), also where an edge cuts it off."""
        heights = np.tile(self.drawn.extents[:, 2 * FLANKS.index(flank) + 1], len(CASES))
        return float(self.posterior.weight @ heights)

    def housing(self) -> tuple[Interval, Interval]:
        """Offset error (mm) and shaft-angle error (degrees), each with its uncertainty, if it is off."""
        mean, sigma = self.posterior.state(self.bent)
        return (float(mean[2]), float(sigma[2])), (float(mean[3]), float(sigma[3]))

    def worth_knowing(self, move_mm: Interval) -> list[tuple[str, float]]:
        """Which number that the axle file leaves out bears most on what this move brings, best first.

        Each with the share of the variance of the centres after the move that goes with it (0..1): a straight
        line over the candidates through that number, weighted. "cutting" is among them where it is unknown.
        """
        posterior = self.posterior
        mean, covariance = posterior.after(move_mm)
        weight = posterior.weight
        off = mean[:, :4] - weight @ mean[:, :4]
        inner = np.diagonal(covariance, axis1=1, axis2=2)[:, :4]
        total = float((weight @ (inner + off**2)).sum())
        found = []
        for name, drawn in self.drawn.draws.open_numbers().items():
            x = np.tile(drawn, len(CASES))
            x = x - weight @ x
            spread = float(weight @ x**2)
            if spread > 0:
                found.append((name, float(np.sum((weight * x @ off) ** 2) / spread / total)))
        return sorted(found, key=lambda pair: -pair[1])

    def _seen(self, starts: list[Start], chosen: list[int], moves_mm: Sequence[Interval]) -> list[Outlook]:
        means, covariances = zip(*map(self.posterior.after, moves_mm), strict=True)
        variances = np.diagonal(np.stack(covariances)[:, chosen], axis1=2, axis2=3)
        doubts = np.sqrt(np.maximum(variances - variances[0], 0.0))
        lines = np.clip(np.stack(means)[:, chosen, :4], 0.0, 1.0)
        learned = np.einsum("nij,mj->mni", self.posterior.learned[chosen], np.array(moves_mm))
        return outlooks(starts, moves_mm, doubts, lines, learned)

    def _speakers(self) -> tuple[list[Start], list[int]]:
        """The likeliest candidates of each cutting method, weighing as much as all of their method, and
        their places among all."""
        posterior, count = self.posterior, len(self.drawn.extents)
        weight = posterior.weight
        methods = np.tile([each.blank.face_hobbed for each in self.drawn.draws.sets], len(CASES))
        mean, covariance = posterior.now
        starts, chosen = [], []
        kinds = [methods == kind for kind in (False, True) if weight[methods == kind].sum() > 1e-6]
        for among in kinds:
            best = np.argsort(np.where(among, weight, -1.0))[::-1][: SPEAKERS // len(kinds)]
            scale = weight[among].sum() / weight[best].sum()
            for k in map(int, best):
                draw = k % count
                p, g, offset, angle = (float(x) for x in posterior.mean[k, :4])
                moved_p, moved_g = posterior.moved_mm
                at = Displacement(p + moved_p, g + moved_g, offset, float(np.radians(angle)))
                own = posterior.prior.aim[:4] + posterior.mean[k, 4:8] - self.drawn.draws.centre[draw]
                sigma = np.sqrt(np.diag(covariance[k]))
                model, now = self.drawn.model(draw), float(mean[k, 4])
                starts.append(
                    Start(model, float(scale * weight[k]), at, own, now, sigma, posterior.common(k))
                )
                chosen.append(k)
        return starts, chosen


def believe(
    axle: Axle,
    seen: Setup | Seen,
    history: Sequence[EarlierTry] = (),
    target: Target | None = None,
    *,
    quick: bool = False,
) -> Belief:
    """The belief about this axle from this reading and the earlier tries, each with the move after it.

    Sides are in their roles for this axle (`advice.roles.by_roles`). target: where the patterns are meant to
    be, in place of the target that the axle names. quick: no more gear sets are drawn than usual, also where
    few of them explain the readings. Raises MechanicsError where no gear set can be computed from the axle
    file.
    """
    belief = _believe(axle, seen, history, target, DRAWS)
    if not quick and belief.guessed and belief.usual_chance < HARDLY_USUAL:
        more = _believe(axle, seen, history, target, MANY_DRAWS)
        return more if more.usual_chance >= HARDLY_USUAL else belief
    return belief


def _believe(
    axle: Axle, seen: Setup | Seen, history: Sequence[EarlierTry], target: Target | None, sets: int
) -> Belief:
    """As `believe`, of so many drawn gear sets."""
    tries: list[Setup | Seen] = [*(t.setup for t in history), seen]
    drawn = draws_of(axle.gears, axle.ease_off, axle.ease_off_concave, sets).fit(_clearest(tries))
    single, count = drawn.candidates, len(drawn.extents)
    odds = np.log(np.repeat([case.odds for case in CASES], count))
    candidates = Candidates(
        np.tile(single.jacobian, (len(CASES), 1, 1)),
        np.tile(single.log_weight, len(CASES)) + odds,
        np.tile(single.between, (len(CASES), 1, 1)),
    )
    extents = np.tile(drawn.extents, (len(CASES), 1))
    moves = np.cumsum([(0.0, 0.0), *((t.pinion_mm, t.ring_mm) for t in history)], axis=0)
    swing = max(swing_of(one.backlash_mm) for one in tries)
    observations = [
        _observe(one, extents, (float(p), float(g)), swing) for one, (p, g) in zip(tries, moves, strict=True)
    ]
    posterior = update(candidates, _prior(target or target_for(axle), axle, count), observations)
    bent = np.repeat([case is BENT_HOUSING for case in CASES], count)
    source: BacklashFrom = "supposed" if axle.limits.backlash_mm is None else "limits"
    if any(one.backlash_mm for one in tries):
        source = "measured"
    return Belief(axle, drawn, posterior, tuple(observations), bent, source)


def in_flank_order(target: Target, axle: Axle) -> tuple[Zone, Zone]:
    """The target's zones of the convex and the concave flank."""
    return target.zone(axle.role("convex")), target.zone(axle.role("concave"))


def _prior(target: Target, axle: Axle, count: int) -> Prior:
    """The prior of every candidate, `count` for each case."""
    limits = axle.limits.backlash_mm
    backlash = NO_LIMITS_SIGMA_MM if limits is None else (limits[1] - limits[0]) / 4
    state = np.repeat([[*PLACE_SIGMA, *case.housing] for case in CASES], count, axis=0)
    own = np.repeat([[*case.own, *case.own, backlash] for case in CASES], count, axis=0)
    middle = SUPPOSED_BACKLASH_MM if limits is None else sum(limits) / 2
    convex, concave = in_flank_order(target, axle)
    return Prior(np.array([*convex.aim, *concave.aim, middle]), state, own)


def _clearest(tries: Sequence[Setup | Seen]) -> Setup | Seen:
    """The try whose patches are cut off least: its sizes tell the crowning best; the latest of equals."""

    def cut(seen: Setup | Seen) -> tuple[int, int]:
        sides = sides_of(seen).values()
        return -len(sides), sum(len(side.runs_off) for side in sides)

    return min(reversed(tries), key=cut)


def _observe(seen: Setup | Seen, extents: Floats, moved: Interval, swing_mm: float) -> Observation:
    """One reading as the five measures; where a patch is cut off, its centre follows from the end that is
    seen and from the size that each candidate gives it. swing_mm: of backlash round this ring gear, as far as
    any try shows it.
    """
    count = len(extents)
    sides = sides_of(seen)
    measures, sigmas = np.full((count, MEASURES), np.nan), np.ones(MEASURES)
    for index, flank in enumerate(FLANKS):
        side = sides.get(flank)
        if side is None:
            continue
        for axis in (0, 1):
            k = 2 * index + axis
            measures[:, k], sigmas[k] = _whole_centre(side, axis, extents[:, k])
    if seen.backlash_mm:
        places = len(seen.backlash_mm)
        mean = sum(seen.backlash_mm) / places
        # A place lies anywhere on the wave of a ring gear that runs out; four together cancel it. Of what
        # four readings swing, as much as a dial repeats to is its own.
        wave = 0.0 if places == PLACES else max(swing_mm**2 - DIAL_SIGMA_MM**2, 0.0) / 2
        dial = ((DIAL_SIGMA_MM**2 + wave) / places) ** 0.5
        # Teeth that bind read as nothing, however far they are from free.
        bound = mean < BOUND_MM
        measures[:, 4], sigmas[4] = (BOUND_AT_MM, BOUND_SIGMA_MM) if bound else (mean, dial)
    return Observation(measures, sigmas, moved)


def _whole_centre(side: Side, axis: int, extent: Floats) -> tuple[Floats, float]:
    """Where the centre of the whole patch lies, in each candidate, and its standard uncertainty."""
    low_edge, high_edge = (("toe", "heel"), ("root", "top"))[axis]
    low_off, high_off = low_edge in side.runs_off, high_edge in side.runs_off
    low, high = (side.length, side.height)[axis]
    centre, sigma = side.centre[axis], sigma_of(side)[axis]
    if low_off == high_off:
        return np.full(len(extent), centre), sigma if not low_off else float(np.hypot(sigma, CUT_SIGMA))
    seen = low + extent / 2 if high_off else high - extent / 2
    # A patch cut off at the top is centred no lower than what is seen of it, and the other way round.
    whole = np.maximum(seen, centre) if high_off else np.minimum(seen, centre)
    return whole, float(np.hypot(sigma, CUT_SIGMA))
