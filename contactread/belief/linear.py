"""Where the gears stand and how they answer, as a linear Gaussian update over candidate gear sets.

The response is unknown, so it is carried as many candidate gear sets, each with its own linear answer to
moves. Within one candidate everything is linear and Gaussian and is solved exactly; across candidates the
readings decide how likely each is (recursive Bayesian update: each further try multiplies the weights).

For one candidate, with try t = 0, 1, ... and the moves m_t made since the first try,

    y_t = aim + e + J (x + m_t) + D (m_t - m_now) + noise,      y = (convex u, v, concave u, v, backlash)

x: how the axle stands at the first try against the set's designed place: pinion move P, ring-gear move G
and, where the housing is off, an offset error and a shaft-angle error; e: how the set's own best place
differs from the aim; D: how this set's answers to moves differ from the candidate's, learned from every move
made. Priors are normal, and a candidate carries its own: so a housing that is off, or a set
whose own place is far from the aim, is simply a further candidate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats

HARDLY = 0.003  # of the greatest weight: a candidate below it changes no chance that is shown
MEASURES = 5  # convex u, v, concave u, v (fractions), backlash (mm)
# Share of a candidate's answer to a move that stays in doubt, for each measure: patterns, and backlash,
# which the geometry fixes far better; its share holds what the blank's proportions leave open (the addendum
# alone moves it by 4 % in the median). Half of its square is this set's own, the same at every move (D); half
# is anew at each, as patterns don't answer in exact proportion. Found to make the chances true in
# calibration.setup_loop.
ANSWER_DOUBT = np.array([0.05, 0.05, 0.05, 0.05, 0.03])


@dataclass(frozen=True, eq=False)
class Candidates:
    """Candidate gear sets. jacobian: (n, 5, k) change of the measures per unit of each state of x (mm of
    pinion move, mm of ring-gear move, then mm of offset and degrees of shaft angle where k = 4).
    log_weight: (n,) how likely each was before any move was seen. between: (n, 5, 2) how far the answers of
    a set that lies between candidates may differ from the nearest one's, standard deviation.
    """

    jacobian: Floats
    log_weight: Floats
    between: Floats

    @property
    def answer_sigma(self) -> Floats:
        """Standard deviation (n, 5, 2) of D."""
        return np.hypot(ANSWER_DOUBT[:, None] * self.jacobian[:, :, :2] / math.sqrt(2), self.between)

    def anew(self, moves_mm: Floats) -> Floats:
        """Variance (..., n, 5) by which a move's answer may miss (J + D) m, for moves (..., 2)."""
        return _anew(self.jacobian, moves_mm)

    def doubt(self, moves_mm: Floats) -> Floats:
        """Standard deviation (..., n, 5) by which a move's answer may miss J m before any was seen."""
        own = self.answer_sigma * np.asarray(moves_mm)[..., None, None, :]
        return np.asarray(np.sqrt(np.sum(own**2, axis=-1) + self.anew(moves_mm)))


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

    weight: (n,) of the candidates. mean, covariance: (n, k + 15), (n, k + 15, k + 15) of (x, e, D) in each, D
    by measure and then by member.
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

    @cached_property
    def now(self) -> tuple[Floats, Floats]:
        """As `after` no move; not to be written to."""
        return self.after((0.0, 0.0))

    def after(self, move_mm: tuple[float, float]) -> tuple[Floats, Floats]:
        """Mean (n, 5) and covariance (n, 5, 5) of the measures in each candidate after a further move."""
        response = _response(self.candidates, move_mm)
        mean = self.prior.aim + np.einsum("nij,nj->ni", response, self.mean)
        mean += self.candidates.jacobian[:, :, :2] @ np.add(self.moved_mm, move_mm)
        covariance = response @ self.covariance @ response.transpose(0, 2, 1)
        return mean, covariance + self.candidates.anew(np.asarray(move_mm))[:, :, None] * np.eye(MEASURES)

    @property
    def learned(self) -> Floats:
        """Mean of D, (n, 5, 2)."""
        return self.mean[:, -2 * MEASURES :].reshape(-1, MEASURES, 2)

    def common(self, k: int) -> Floats:
        """What of the k-th candidate's doubt about the measures comes from where pinion and ring gear stand:
        (5, 2), by two standard normal numbers."""
        along = _response(self.candidates, (0.0, 0.0))[k] @ self.covariance[k, :, :2]
        root = np.linalg.cholesky(self.covariance[k, :2, :2])
        return np.asarray(np.linalg.solve(root, along.T).T)

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
        mean, covariance = (of_all[speak] for of_all in self.now)
        jacobian = self.candidates.jacobian[speak]
        own = self.covariance[speak][:, :, -2 * MEASURES :]
        of_d = np.stack(
            [own[:, -2 * MEASURES :][:, 2 * i : 2 * i + 2, 2 * i : 2 * i + 2] for i in range(MEASURES)], 1
        )
        here = _response(self.candidates, (0.0, 0.0))[speak] @ own
        shared = np.stack([here[:, i, 2 * i : 2 * i + 2] for i in range(MEASURES)], 1)
        variance = np.diagonal(covariance, axis1=1, axis2=2) + _anew(jacobian, moves_mm)
        variance = variance + np.einsum("mj,nijk,mk->mni", moves_mm, of_d, moves_mm)
        variance = variance + 2 * np.einsum("nij,mj->mni", shared, moves_mm)
        sigma = np.sqrt(np.maximum(variance, 1e-12))
        step = np.einsum("nij,mj->mni", jacobian[:, :, :2] + self.learned[speak], moves_mm)
        upper = normal_cdf((high - mean - step) / sigma)
        inside = np.prod(upper - normal_cdf((low - mean - step) / sigma), axis=2)
        chance: Floats = inside @ weight
        return chance


def update(candidates: Candidates, prior: Prior, observations: list[Observation]) -> Posterior:
    """The belief after all observations, the first at moved_mm (0, 0).

    The last reading is taken for what it is; an earlier one speaks of the present place by way of the moves
    in between, so their doubt is added to it.
    """
    count = len(candidates.jacobian)
    answers = np.maximum(candidates.answer_sigma.reshape(count, -1), 1e-9)
    precision0 = np.concatenate([prior.state_sigma, prior.own_sigma, answers], axis=1) ** -2
    precision = precision0[:, :, None] * np.eye(precision0.shape[1])
    information = np.zeros(precision0.shape)
    quadratic = np.zeros(count)
    log_noise = np.zeros(count)
    for observation in observations:
        seen = np.isfinite(observation.measures[0])
        since = np.subtract(observations[-1].moved_mm, observation.moved_mm)
        weights = 1 / (observation.sigma**2 + candidates.anew(since))[:, seen]
        rows = _response(candidates, -since)[:, seen, :]
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


def _anew(jacobian: Floats, moves_mm: Floats) -> Floats:
    """As `Candidates.anew`, of some candidates' Jacobians alone."""
    parts = jacobian[:, :, :2] * np.asarray(moves_mm)[..., None, None, :]
    parts *= parts
    return np.asarray(ANSWER_DOUBT**2 / 2 * (parts[..., 0] + parts[..., 1]))


def normal_cdf(z: Floats) -> Floats:
    """Standard normal distribution function, to 1.5e-7 (Abramowitz and Stegun 7.1.26)."""
    x = np.abs(z) / math.sqrt(2)
    t = 1 / (1 + 0.3275911 * x)
    series = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    tail = 0.5 * series * np.exp(-x * x)
    return np.where(z > 0, 1 - tail, tail)


def _response(candidates: Candidates, since_mm: tuple[float, float] | Floats) -> Floats:
    """(n, 5, k + 15): the measures' answer to (x, e, D), this move away from the present place."""
    count = len(candidates.jacobian)
    own = np.broadcast_to(np.eye(MEASURES), (count, MEASURES, MEASURES))
    moves = np.broadcast_to(np.kron(np.eye(MEASURES), np.asarray(since_mm)), (count, MEASURES, 2 * MEASURES))
    return np.concatenate([candidates.jacobian, own, moves], axis=2)
