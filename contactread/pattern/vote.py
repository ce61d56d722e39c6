"""The teeth vote: one patch that all teeth share, then each tooth's own patch near it.

All cells are first brought to one number that best tells inside from outside (Fisher's discriminant,
teeth of clear contrast counting more). A patch is then as likely as two levels, inside above outside,
explain each tooth's numbers. The shared patch is found by a narrowing random search; each tooth's own
patch is the average of many patches near the shared one, weighted by how well they explain that
tooth (importance sampling), which also gives its uncertainty. The random numbers are fixed: the same
photo always reads the same.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from contactread.pattern.cells import CELLS, FEATURES, STREAKS, Cells, grid
from contactread.pattern.patch import TOOTH_SPREAD, Patch, cover, log_prior, product

Floats = NDArray[np.float64]

# How much of a cell is news: neighbours share streaks, dirt and light. Chosen so that the stated
# uncertainties match the errors on synthetic teeth (tests/pattern).
NEWS = 0.0135
_FLOOR = 0.15  # least variance within a level, in units of the whole spread
_NOISE = 0.01  # least variance within, in units of the whole spread: a flat picture tells nothing
_RIDGE = 0.15  # keeps the discriminant from leaning on one weak feature
_FIRST_STEP = np.array([0.06, 0.10, 0.20, 0.22, 0.25])
_NARROWER = 0.7  # the search's step from round to round
_LOOK_ROUNDS, _LOOK_TRIES = 4, 60  # from each start, on a coarser grid
# Rubbed compound and printed compound alike are streakier than what surrounds them. Missed paint, a
# clean-wiped end or a reflection, though all teeth may share it, is smooth. Log odds for each standard
# deviation; least error on sample_images.
_STREAKY = 2.5
_ROUNDS, _TRIES, _BEST = 3, 100, 10  # from the best of them, with one round on the fine grid after
_SAMPLES = 256
_PICTURE = np.array([1, 1, 1, 1, 0], np.float32)  # the features that are measured, not the network's
_FIRM = np.array([1, 1, 0, 1, 1], np.float32)  # the features without lightness


@dataclass(frozen=True, eq=False)
class Vote:
    """The shared patch and how each tooth relates to it.

    shared: (5,). signal: (teeth, CELLS), the discriminant, higher inside. direction: (FEATURES,).
    samples: (n, 5) patches near the shared one; covers: (n, CELLS); chance: (n, teeth), each tooth's
    weights of the samples. gain: (teeth,) log likelihood of having the patch over having none; firm_gain:
    the same without lightness, which shadows and slopes of light can feign; picture_gain: the same without
    the network's word. rivals:
    (n, 5) patches that other starts led to, and the best; rival_chance: (n,) how likely each is.
    """

    shared: Patch
    signal: NDArray[np.float32]
    direction: Floats
    samples: Patch
    covers: NDArray[np.float32]
    chance: Floats
    gain: Floats
    firm_gain: Floats
    picture_gain: Floats
    rivals: Patch
    rival_chance: Floats

    @property
    def own(self) -> Patch:
        """Each tooth's mean patch, (teeth, 5)."""
        patches: Patch = self.chance.T @ self.samples
        return patches

    @property
    def centre_sigma(self) -> Floats:
        """Standard uncertainty of each tooth's area centre in u and v, (teeth, 2)."""
        return _spread(_centres(self.covers), self.chance)

    @property
    def common_sigma(self) -> Floats:
        """Standard uncertainty of what all teeth share, in u and v, (2,): of which patch it is."""
        sigma: Floats = _spread(_centres(cover(self.rivals)), self.rival_chance[:, None])[0]
        return sigma


def _centres(covers: NDArray[np.float32]) -> Floats:
    """Area centres in u and v of covers (n, CELLS): (n, 2)."""
    area = covers.sum(axis=1) + 1e-6
    return np.stack([covers @ axis / area for axis in grid()], axis=1).astype(float)


def _spread(centres: Floats, chance: Floats) -> Floats:
    """Standard deviation of centres (n, 2) under each column of chance (n, k): (k, 2)."""
    mean = chance.T @ centres
    spread: Floats = np.sqrt(np.maximum(chance.T @ centres**2 - mean**2, 0))
    return spread


@dataclass(eq=False)
class _Search:
    """A narrowing random search for the shared patch. say: (teeth,), how much each tooth's cells count in
    the discriminant; score: log likelihood over having no patch, plus the prior."""

    patch: Patch
    step: Floats
    say: Floats
    signal: NDArray[np.float32]
    direction: Floats
    score: float = 0.0

    @classmethod
    def begin(cls, cells: Cells, patch: Patch) -> _Search:
        say = np.ones(len(cells.weight))
        return cls(patch.copy(), _FIRST_STEP, say, cells.features[..., 0], np.zeros(FEATURES))

    def go(self, cells: Cells, draw: np.random.Generator, rounds: int, tries: int) -> None:
        at = cells.places
        news = NEWS * CELLS / len(at[0])
        for _ in range(rounds):
            self.direction = _discriminant(cells, cover(self.patch[None], at)[0], self.say)
            self.signal = cells.features @ self.direction.astype(np.float32)
            tried = np.vstack([self.patch, self.patch + self.step * draw.normal(size=(tries, 5))])
            tried[:, 2:4] = np.clip(tried[:, 2:4], np.log(0.08), np.log(0.8))
            covers = cover(tried, at)
            gain = _gain(covers, self.signal, cells.weight)
            score = gain.sum(axis=1) + log_prior(tried) + _streakiness(covers, cells)
            best = np.argsort(-score)[:_BEST]
            share = np.exp(score[best] - score[best[0]])
            self.patch, self.score = share @ tried[best] / share.sum(), float(score[best[0]])
            contrast = gain[best[0]] / np.maximum(news * cells.weight.sum(axis=1), 1e-3)
            self.say = np.exp(2 * contrast)
            self.say /= self.say.mean()
            self.step = self.step * _NARROWER


def vote(cells: Cells, starts: Patch) -> Vote:
    """Refine the best of some rough shared patches, (n, 5), and find every tooth's own."""
    draw = np.random.default_rng(1)
    searches = [_Search.begin(cells, start) for start in starts]
    coarse = cells.halved()
    for search in searches:
        search.go(coarse, draw, _LOOK_ROUNDS, _LOOK_TRIES)
    scores = np.array([search.score for search in searches])
    rival_chance = np.exp(scores - scores.max())
    best = searches[int(np.argmax(scores))]
    rivals = np.stack([search.patch for search in searches])
    cells = cells.levelled_outside(cover(best.patch[None])[0])
    best.go(cells.halved(), draw, _ROUNDS, _TRIES)
    best.go(cells, draw, 1, _LOOK_TRIES)
    shared, signal = best.patch, best.signal
    for last in (False, True):
        near = shared + TOOTH_SPREAD * draw.normal(size=(_SAMPLES if last else _SAMPLES // 2, 5))
        samples = np.vstack([shared, near])
        covers = cover(samples)
        gain = _gain(covers, signal, cells.weight)
        chance = np.exp(gain - gain.max(axis=0))
        chance /= chance.sum(axis=0)
        if not last:
            shared = _consensus(shared, samples, chance)

    def gain_by(features: NDArray[np.float32]) -> Floats:
        some = cells.features * features
        told = some @ _discriminant(replace(cells, features=some), covers[0], best.say).astype(np.float32)
        return _mean_gain(_gain(covers, told, cells.weight))

    return Vote(
        shared, signal, best.direction, samples, covers, chance,
        _mean_gain(gain), gain_by(_FIRM), gain_by(_PICTURE),
        rivals, rival_chance / rival_chance.sum(),
    )  # fmt: skip


def _mean_gain(gain: Floats) -> Floats:
    """Gain of each tooth averaged over the samples: a patch anywhere near must pay for its freedom."""
    top = gain.max(axis=0)
    mean: Floats = np.log(np.exp(gain - top).mean(axis=0)) + top
    return mean


def _discriminant(cells: Cells, inside: NDArray[np.float32], say: Floats) -> Floats:
    """Fisher's direction between inside and outside, (FEATURES,), unit spread within."""
    features = cells.features
    weight = np.stack([cells.weight * inside, cells.weight * (1 - inside)], axis=1)  # (teeth, 2, cells)
    size = np.maximum(weight.sum(axis=2), 1e-6).astype(float)
    level = (weight @ features).astype(float) / size[..., None]  # (teeth, 2, FEATURES)
    square = np.swapaxes(features * cells.weight[..., None], 1, 2) @ features
    spread = square - np.einsum("tp,tpf,tpg->tfg", size, level, level)
    both = say * (size.min(axis=1) >= 2 * cells.weight.shape[1] / CELLS)  # teeth that show inside and outside
    scatter = np.einsum("t,tfg->fg", both, spread) / max(float(both @ size.sum(axis=1)), 1e-6)
    gap = (both * size.min(axis=1)) @ (level[:, 0] - level[:, 1])
    scatter += _NOISE * np.eye(FEATURES)
    ridge = _RIDGE * np.trace(scatter) / FEATURES * np.eye(FEATURES)
    direction = np.linalg.solve(scatter + ridge, gap)
    return np.asarray(direction / (np.sqrt(direction @ scatter @ direction) + 1e-9))


def _gain(covers: NDArray[np.float32], signal: NDArray[np.float32], weight: NDArray[np.float32]) -> Floats:
    """Log likelihood of two levels, inside above outside, over that of one level: (n, teeth).

    covers: (n, CELLS); signal, weight: (teeth, CELLS).
    """
    teeth = len(signal)
    sums = product(covers, np.concatenate([weight, weight * signal])).astype(float)
    total, first = weight.sum(axis=1).astype(float) + 1e-6, (weight * signal).sum(axis=1).astype(float)
    second = (weight * signal * signal).sum(axis=1).astype(float)
    inside = np.maximum(sums[:, :teeth], 1e-3)
    outside = np.maximum(total - inside, 1e-3)
    step = np.maximum(sums[:, teeth:] / inside - (first - sums[:, teeth:]) / outside, 0)
    within = (second - first**2 / total - inside * outside / total * step**2) / total
    news = NEWS * CELLS / signal.shape[1]
    whole = np.maximum((second - first**2 / total) / total, 0) + _FLOOR
    gain: Floats = -0.5 * news * total * np.log((np.maximum(within, 0) + _FLOOR) / whole)
    return gain


def _streakiness(covers: NDArray[np.float32], cells: Cells) -> Floats:
    """Log prior of patches (n, cells) by how much streakier they are than what lies outside, (n,)."""
    weight = cells.weight.sum(axis=0)
    streaks = np.einsum("tc,tc->c", cells.weight, cells.features[..., STREAKS])
    inside = product(covers, np.stack([weight, streaks]))
    within = inside[:, 1] / np.maximum(inside[:, 0], 1e-3)
    around = (streaks.sum() - inside[:, 1]) / np.maximum(weight.sum() - inside[:, 0], 1e-3)
    return np.asarray(_STREAKY * np.minimum(within - around, 1.0), float)


def _consensus(shared: Patch, samples: Patch, chance: Floats) -> Patch:
    """The shared patch moved to the mean of the teeth, each counting by what it has learnt."""
    own = chance.T @ samples
    spread = np.sqrt(np.einsum("nt,ntk->tk", chance, (samples[:, None] - own[None]) ** 2))
    learnt = np.clip(1 - spread / TOOTH_SPREAD, 0.02, 1)
    moved: Patch = 0.8 * (own * learnt).sum(axis=0) / learnt.sum(axis=0) + 0.2 * shared
    return moved
