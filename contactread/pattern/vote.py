"""The teeth vote: one patch that all teeth share, then each tooth's own patch near it.

All cells are first brought to one number that best tells inside from outside (Fisher's discriminant,
teeth of clear contrast counting more). A patch is then as likely as two levels, inside above outside,
explain each tooth's numbers. The shared patch is found by a narrowing random search; each tooth's own
patch is the average of many patches near the shared one, weighted by how well they explain that
tooth (importance sampling), which also gives its uncertainty. The random numbers are fixed: the same
photo always reads the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from contactread.arrays import Floats, Singles
from contactread.pattern.cells import CELLS, FEATURES, STREAKS, Cells, grid
from contactread.pattern.ellipse import TOOTH_SPREAD, Ellipses, cover, log_prior
from contactread.pattern.moments import Moments

# How much of a cell is news: neighbours share streaks, dirt and light. Chosen so that the stated
# uncertainties match the errors on synthetic teeth (tests/pattern).
NEWS = 0.0135
_FLOOR = 0.15  # least variance within a level, in units of the whole spread
_NOISE = 0.01  # least variance within, in units of the whole spread: a flat picture tells nothing
_RIDGE = 0.15  # keeps the discriminant from leaning on one weak feature
_FIRST_STEP = np.array([0.06, 0.10, 0.20, 0.22, 0.25])
_NARROWER = 0.7  # the search's step from round to round
_LOOK_ROUNDS, _LOOK_TRIES = 5, 60  # from each start
_ROUNDS, _TRIES = 3, 100  # from the best of them
_BEST = 10  # tries of a round whose mean is the next round's patch
# Rubbed compound and printed compound alike are streakier than what surrounds them. Missed paint, a
# clean-wiped end or a reflection, though all teeth may share it, is smooth. Log odds for each standard
# deviation; least error on sample_images.
_STREAKY = 2.5
_SAMPLES = 256  # patches near the shared one, of which each tooth takes its mean
_PICTURE = np.array([1.0, 1, 1, 1, 0])  # the features that are measured, not the network's
_FIRM = np.array([1.0, 1, 0, 1, 1])  # the features without lightness


@dataclass(frozen=True, eq=False)
class Vote:
    """The shared patch and how each tooth relates to it.

    shared: (5,). signal: (teeth, CELLS), the discriminant, higher inside. samples: (n, 5) patches near the
    shared one; covers: (n, CELLS / 4); chance: (n, teeth), each tooth's weights of the samples. seen:
    (teeth,) how much of the shared patch can be judged. gain: (teeth,) log likelihood of having the patch
    over having none; firm_gain: the same without lightness, which shadows and slopes of light can feign;
    picture_gain: the same without the network's word. rivals: (n, 5) patches that other starts led to, and
    the best; rival_chance: (n,) how likely each is.
    """

    shared: Ellipses
    signal: Singles
    samples: Ellipses
    covers: Singles
    chance: Floats
    seen: Floats
    gain: Floats
    firm_gain: Floats
    picture_gain: Floats
    rivals: Ellipses
    rival_chance: Floats

    @property
    def own(self) -> Ellipses:
        """Each tooth's mean patch, (teeth, 5)."""
        patches: Ellipses = self.chance.T @ self.samples
        return patches

    @property
    def centre_sigma(self) -> Floats:
        """Standard uncertainty of each tooth's area centre in u and v, (teeth, 2)."""
        return _spread(_centres(self.covers), self.chance)

    @property
    def common_sigma(self) -> Floats:
        """Standard uncertainty of what all teeth share, in u and v, (2,): of which patch it is."""
        sigma: Floats = _spread(_centres(_cover(self.rivals)), self.rival_chance[:, None])[0]
        return sigma


def _cover(patches: Ellipses) -> Singles:
    """Share of each of the halved cells that the patches (n, 5) cover, (n, CELLS / 4)."""
    return cover(patches, 2)


def _centres(covers: Singles) -> Floats:
    """Area centres in u and v of covers (n, CELLS / 4): (n, 2)."""
    area = covers.sum(axis=1) + 1e-6
    return np.stack([covers @ axis / area for axis in grid(2)], axis=1).astype(float)


def _spread(centres: Floats, chance: Floats) -> Floats:
    """Standard deviation of centres (n, 2) under each column of chance (n, k): (k, 2)."""
    mean = chance.T @ centres
    spread: Floats = np.sqrt(np.maximum(chance.T @ centres**2 - mean**2, 0))
    return spread


@dataclass(eq=False)
class _Search:
    """Narrowing random searches for the shared patch, each from its own start.

    patch: (searches, 5). step: (5,). say: (searches, teeth), how much each tooth's cells count in the
    discriminant; direction: (searches, FEATURES), the discriminant. score: (searches,), log likelihood over
    having no patch, plus the prior.
    """

    patch: Ellipses
    step: Floats
    say: Floats
    direction: Floats
    score: Floats

    @classmethod
    def begin(cls, patch: Ellipses, teeth: int) -> _Search:
        count = len(patch)
        return cls(patch, _FIRST_STEP, np.ones((count, teeth)), np.zeros((count, FEATURES)), np.zeros(count))

    def of(self, which: int) -> _Search:
        """One of the searches alone."""
        one = slice(which, which + 1)
        return _Search(self.patch[one], self.step, self.say[one], self.direction[one], self.score[one])

    def go(self, moments: Moments, draw: np.random.Generator, rounds: int, tries: int) -> None:
        count = len(self.patch)
        for _ in range(rounds):
            self.direction = _discriminant(moments, moments.inside(_cover(self.patch)), self.say)
            tried = np.repeat(self.patch[:, None], 1 + tries, axis=1)
            tried[:, 1:] += self.step * draw.normal(size=(count, tries, 5))
            tried[..., 2:4] = np.clip(tried[..., 2:4], np.log(0.08), np.log(0.8))
            sums = moments.inside(_cover(tried.reshape(-1, 5)))
            sums = sums.reshape(count, 1 + tries, *sums.shape[1:])
            gain = _gain(moments, sums, self.direction)
            score = gain.sum(axis=-1) + log_prior(tried) + _streakiness(moments, sums)
            best = np.argsort(-score, axis=1)[:, :_BEST]
            top = np.take_along_axis(score, best, 1)
            share = np.exp(top - top[:, :1])
            share /= share.sum(axis=1, keepdims=True)
            self.patch = (share[:, None] @ np.take_along_axis(tried, best[..., None], 1))[:, 0]
            self.score = top[:, 0]
            contrast = gain[np.arange(count), best[:, 0]] / np.maximum(_news(moments) * moments.weight, 1e-3)
            self.say = np.exp(2 * contrast)
            self.say /= self.say.mean(axis=1, keepdims=True)
            self.step = self.step * _NARROWER


def vote(cells: Cells, starts: Ellipses) -> Vote:
    """Refine the best of some rough shared patches, (n, 5), and find every tooth's own."""
    draw = np.random.default_rng(1)
    searches = _Search.begin(starts, len(cells.weight))
    searches.go(Moments.of(cells), draw, _LOOK_ROUNDS, _LOOK_TRIES)
    rival_chance = np.exp(searches.score - searches.score.max())
    best = searches.of(int(np.argmax(searches.score)))
    cells = cells.levelled_outside(cover(best.patch)[0])
    moments = Moments.of(cells)
    best.go(moments, draw, _ROUNDS, _TRIES)
    shared, direction, say = best.patch[0], best.direction[0], best.say[0]
    for last in (False, True):
        near = shared + TOOTH_SPREAD * draw.normal(size=(_SAMPLES if last else _SAMPLES // 2, 5))
        samples = np.vstack([shared, near])
        covers = _cover(samples)
        sums = moments.inside(covers)
        gain = _gain(moments, sums, direction)
        chance = np.exp(gain - gain.max(axis=0))
        chance /= chance.sum(axis=0)
        if not last:
            shared = _consensus(shared, samples, chance)

    def gain_by(features: Floats) -> Floats:
        some, told = moments.only(features), sums * np.concatenate([[1.0], features])
        return _mean_gain(_gain(some, told, _discriminant(some, told[0], say)))

    return Vote(
        shared, cells.features @ direction.astype(np.float32), samples, covers, chance, sums[0, :, 0],
        _mean_gain(gain), gain_by(_FIRM), gain_by(_PICTURE),
        searches.patch, rival_chance / rival_chance.sum(),
    )  # fmt: skip


def _mean_gain(gain: Floats) -> Floats:
    """Gain of each tooth averaged over the samples: a patch anywhere near must pay for its freedom."""
    top = gain.max(axis=0)
    mean: Floats = np.log(np.exp(gain - top).mean(axis=0)) + top
    return mean


def _discriminant(moments: Moments, sums: Floats, say: Floats) -> Floats:
    """Fisher's direction between inside and outside, (..., FEATURES), unit spread within.

    sums: (..., teeth, 1 + FEATURES) inside a patch; say: (..., teeth).
    """
    size = np.stack([sums[..., 0], moments.weight - sums[..., 0]], axis=-1)
    size = np.maximum(size, 1e-6)
    level = np.stack([sums[..., 1:], moments.first - sums[..., 1:]], axis=-2) / size[..., None]
    spread = moments.second - (level * size[..., None]).swapaxes(-1, -2) @ level
    least = size.min(axis=-1)
    both = say * (least >= 2 * moments.cells / CELLS)  # teeth that show inside and outside
    scatter = np.einsum("...t,...tfg->...fg", both, spread)
    scatter /= np.maximum((both * size.sum(axis=-1)).sum(axis=-1), 1e-6)[..., None, None]
    gap = np.einsum("...t,...tf->...f", both * least, level[..., 0, :] - level[..., 1, :])
    scatter += _NOISE * np.eye(FEATURES)
    ridge = _RIDGE / FEATURES * np.trace(scatter, axis1=-2, axis2=-1)[..., None, None] * np.eye(FEATURES)
    direction = np.linalg.solve(scatter + ridge, gap[..., None])
    length = np.sqrt((direction * (scatter @ direction)).sum(axis=-2))
    return np.asarray(direction[..., 0] / (length + 1e-9))


def _news(moments: Moments) -> float:
    return NEWS * CELLS / moments.cells


def _gain(moments: Moments, sums: Floats, direction: Floats) -> Floats:
    """Log likelihood of two levels, inside above outside, over that of one level: (..., n, teeth).

    sums: (..., n, teeth, 1 + FEATURES) inside n patches; direction: (..., FEATURES).
    """
    told = (sums[..., 1:] @ direction[..., None, :, None])[..., 0]
    total = moments.weight + 1e-6
    first = (direction @ moments.first.T)[..., None, :]
    second = np.einsum("...f,tfg,...g->...t", direction, moments.second, direction)[..., None, :]
    inside = np.maximum(sums[..., 0], 1e-3)
    outside = np.maximum(total - inside, 1e-3)
    step = np.maximum(told / inside - (first - told) / outside, 0)
    whole = second - first**2 / total
    within = (whole - inside * outside / total * step**2) / total
    whole = np.maximum(whole / total, 0) + _FLOOR
    return np.asarray(-0.5 * _news(moments) * total * np.log((np.maximum(within, 0) + _FLOOR) / whole))


def _streakiness(moments: Moments, sums: Floats) -> Floats:
    """Log prior of patches by how much streakier they are than what lies outside, (...).

    sums: (..., teeth, 1 + FEATURES) inside them.
    """
    size, streaks = sums[..., 0].sum(axis=-1), sums[..., 1 + STREAKS].sum(axis=-1)
    within = streaks / np.maximum(size, 1e-3)
    around = moments.first[:, STREAKS].sum() - streaks
    around /= np.maximum(moments.weight.sum() - size, 1e-3)
    return np.asarray(_STREAKY * np.minimum(within - around, 1.0), float)


def _consensus(shared: Ellipses, samples: Ellipses, chance: Floats) -> Ellipses:
    """The shared patch moved to the mean of the teeth, each counting by what it has learnt."""
    own = chance.T @ samples
    spread = np.sqrt(np.einsum("nt,ntk->tk", chance, (samples[:, None] - own[None]) ** 2))
    learnt = np.clip(1 - spread / TOOTH_SPREAD, 0.02, 1)
    moved: Ellipses = 0.8 * (own * learnt).sum(axis=0) / learnt.sum(axis=0) + 0.2 * shared
    return moved
