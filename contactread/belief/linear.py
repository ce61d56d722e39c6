"""Where the gears stand and how they answer, as a linear Gaussian update over candidate gear sets.

The response is unknown, so it is carried as many candidate gear sets, each with its own linear answer to
moves. Within one candidate everything is linear and Gaussian and is solved exactly; across candidates the
readings decide how likely each is (recursive Bayesian update: each further try multiplies the weights).

For one candidate, with try t = 0, 1, ... and the moves m_t made since the first try,

    y_t = aim + e + J (x + m_t) + noise,      y = (convex u, v, concave u, v, backlash)

x: how the axle stands at the first try against the set's designed place: pinion move P, ring-gear move G
and, where the housing is off, an offset error and a shaft-angle error; e: how the set's own best place
differs from the aim. Priors are normal, and a candidate carries its own: so a housing that is off, or a set
whose own place is far from the aim, is simply a further candidate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats

HARDLY = 0.003  # of the greatest weight: a candidate below it changes no chance that is shown
MEASURES = 5  # convex u, v, concave u, v (fractions), backlash (mm)
# Share of a candidate's answer to a move that stays in doubt, for each measure: patterns, and backlash,
# which the geometry fixes far better; its share holds what the blank's proportions leave open (the addendum
# alone moves it by 4 % in the median). Found to make the chances true in calibration.setup_loop.
ANSWER_DOUBT = np.array([0.08, 0.08, 0.08, 0.08, 0.05])


@dataclass(frozen=True, eq=False)
class Candidates:
    """Candidate gear sets. jacobian: (n, 5, k) change of the measures per unit of each state of x (mm of
    pinion move, mm of ring-gear move, then mm of offset and degrees of shaft angle where k = 4).
    log_weight: (n,) how likely each was before any move was seen.
    """

    jacobian: Floats
    log_weight: Floats

    def doubt(self, moves_mm: Floats) -> Floats:
        """Standard deviation (..., n, 5) by which a move's answer may miss J m, for moves (..., 2).

        No candidate is the very gear set, and patterns do not answer in exact proportion.
        """
        parts = self.jacobian[:, :, :2] * np.asarray(moves_mm)[..., None, None, :]
        return np.asarray(ANSWER_DOUBT * np.sqrt(np.sum(parts**2, axis=-1)))


@dataclass(frozen=True, eq=False)
class Prior:
    """aim: (5,) where the set is meant to stand. state_sigma: (n, k) of x and own_sigma: (n, 5) of e, which
    may differ from candidate to candidate.
    """

    aim: Floats
    state_sigma: Floats
    own_sigma: Floats


@dataclass(frozen=True, eq=False)
class Observation:
    """One try. measures: (n, 5), as each candidate reads them, NaN where not measured. sigma: (5,).
    moved_mm: (P, G) since the first try.
    """

    measures: Floats
    sigma: Floats
    moved_mm: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Posterior:
    """What is believed after the observations.

    weight: (n,) of the candidates. mean, covariance: (n, k + 5), (n, k + 5, k + 5) of (x, e) in each.
    log_evidence: of all observations together. surprise: (n,) sum of the squares of what each leaves
    unexplained, in standard deviations, over `seen` measures in all. moved_mm: moves made so far.
    """

    candidates: Candidates
    prior: Prior
    weight: Floats
    mean: Floats
    covariance: Floats
    log_evidence: float
    surprise: Floats
    seen: int
    moved_mm: tuple[float, float]

    def after(self, move_mm: tuple[float, float]) -> tuple[Floats, Floats]:
        """Mean (n, 5) and covariance (n, 5, 5) of the measures in each candidate after a further move."""
        total = np.add(self.moved_mm, move_mm)
        response = _response(self.candidates)
        mean = self.prior.aim + np.einsum("nij,nj->ni", response, self.mean)
        mean += self.candidates.jacobian[:, :, :2] @ total
        covariance = response @ self.covariance @ response.transpose(0, 2, 1)
        return mean, covariance + self.candidates.doubt(np.asarray(move_mm))[:, :, None] ** 2 * np.eye(
            MEASURES
        )

    def expected(self, move_mm: tuple[float, float]) -> tuple[Floats, Floats]:
        """Mean (5,) and standard deviation (5,) of the measures after a further move, over all candidates."""
        mean, covariance = self.after(move_mm)
        overall = self.weight @ mean
        variance = self.weight @ (np.diagonal(covariance, axis1=1, axis2=2) + (mean - overall) ** 2)
        return overall, np.sqrt(variance)

    def misfit(self, first: int) -> float:
        """Root mean square of what the best of the first candidates leaves unexplained, in standard
        deviations."""
        return float(np.sqrt(max(float(self.surprise[:first].min()), 0.0) / max(self.seen, 1)))

    def state(self, among: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        """Mean (k,) and standard deviation (k,) of x at the first try, among some of the candidates (n,)."""
        k = self.candidates.jacobian.shape[2]
        weight = np.where(among, self.weight, 0.0) / max(self.weight[among].sum(), 1e-300)
        mean = weight @ self.mean[:, :k]
        spread = np.diagonal(self.covariance, axis1=1, axis2=2)[:, :k] + (self.mean[:, :k] - mean) ** 2
        return mean, np.sqrt(weight @ spread)

    def chance_pinion_away(self) -> float:
        """Chance that the pinion now stands too far from the ring-gear axis (P above its designed place)."""
        sigma = np.sqrt(self.covariance[:, 0, 0])
        return float(self.weight @ normal_cdf((self.mean[:, 0] + self.moved_mm[0]) / sigma))

    def chances(self, moves_mm: Floats, low: Floats, high: Floats) -> Floats:
        """Chance (m,) that all measures lie between low and high (5,) after each of the moves (m, 2).

        Candidates that hardly weigh are left out.
        """
        speak = self.weight > HARDLY * self.weight.max()
        weight = self.weight[speak] / self.weight[speak].sum()
        mean, covariance = (of_all[speak] for of_all in self.after((0.0, 0.0)))
        variance = np.diagonal(covariance, axis1=1, axis2=2)
        sigma = np.sqrt(variance + self.candidates.doubt(moves_mm)[:, speak] ** 2)
        step = np.einsum("nij,mj->mni", self.candidates.jacobian[speak, :, :2], moves_mm)
        upper = normal_cdf((high - mean - step) / sigma)
        inside = np.prod(upper - normal_cdf((low - mean - step) / sigma), axis=2)
        chance: Floats = inside @ weight
        return chance


def update(candidates: Candidates, prior: Prior, observations: list[Observation]) -> Posterior:
    """The belief after all observations, the first at moved_mm (0, 0).

    The last reading is taken for what it is; an earlier one speaks of the present place by way of the moves
    in between, so their doubt is added to it.
    """
    count, _, states = candidates.jacobian.shape
    response = _response(candidates)
    precision0 = np.concatenate([prior.state_sigma, prior.own_sigma], axis=1) ** -2
    precision = precision0[:, :, None] * np.eye(states + MEASURES)
    information = np.zeros((count, states + MEASURES))
    quadratic = np.zeros(count)
    log_noise = np.zeros(count)
    for observation in observations:
        seen = np.isfinite(observation.measures[0])
        since = np.subtract(observations[-1].moved_mm, observation.moved_mm)
        weights = 1 / (observation.sigma**2 + candidates.doubt(since) ** 2)[:, seen]
        rows = response[:, seen, :]
        moved = candidates.jacobian[:, seen, :2] @ np.asarray(observation.moved_mm)
        residual = observation.measures[:, seen] - prior.aim[seen] - moved
        scaled = rows * weights[:, :, None]
        precision += rows.transpose(0, 2, 1) @ scaled
        information += np.einsum("nij,ni->nj", scaled, residual)
        quadratic += np.sum(residual**2 * weights, axis=1)
        log_noise += np.sum(np.log(weights / (2 * math.pi)), axis=1)
    covariance = np.asarray(np.linalg.inv(precision), np.float64)
    mean = np.einsum("nij,nj->ni", covariance, information)
    _, log_det = np.linalg.slogdet(precision)
    quadratic -= np.einsum("ni,ni->n", mean, information)
    log_likelihood = 0.5 * (log_noise + np.sum(np.log(precision0), axis=1) - log_det - quadratic)
    log_weight = candidates.log_weight + log_likelihood
    top = log_weight.max()
    weight: Floats = np.exp(log_weight - top)
    evidence = float(top + np.log(weight.sum()) - np.log(np.exp(candidates.log_weight).sum()))
    return Posterior(
        candidates,
        prior,
        np.asarray(weight / weight.sum()),
        mean,
        covariance,
        evidence,
        quadratic,
        sum(int(np.isfinite(o.measures[0]).sum()) for o in observations),
        observations[-1].moved_mm if observations else (0.0, 0.0),
    )


def normal_cdf(z: Floats) -> Floats:
    """Standard normal distribution function, to 1.5e-7 (Abramowitz and Stegun 7.1.26)."""
    x = np.abs(z) / math.sqrt(2)
    t = 1 / (1 + 0.3275911 * x)
    series = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    tail = 0.5 * series * np.exp(-x * x)
    return np.where(z > 0, 1 - tail, tail)


def _response(candidates: Candidates) -> Floats:
    """(n, 5, k + 5): the measures' answer to (x, e)."""
    count = len(candidates.jacobian)
    own = np.broadcast_to(np.eye(MEASURES), (count, MEASURES, MEASURES))
    return np.concatenate([candidates.jacobian, own], axis=2)
