"""Several photos of one side make one reading: joined by their evidence, a view that disagrees set aside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from contactread.arrays import Floats
from contactread.axle import ROLES, Role
from contactread.pattern.measures import Setup
from contactread.pattern.side import COMMON
from contactread.reading import Reading
from contactread.reading import pair as pair_of

ASIDE = "set-aside"  # code of the flag that such a view gets
COPY = "same-picture"  # and of one that is a copy of another
_FAR = 3.0  # standard deviations, in length and height together, from which a view disagrees
_LEAST = (0.04, 0.06)  # of the length and of the height; nearer than that none does
# How much of a view's own doubt another view of the same teeth cures: what the paint, the gear's fitted shape
# and the networks do wrong in one photo they do in part in the next.
_SHARED = 0.35  # of the variance
_STATED = (
    1.5  # so much does their stated doubt count, in views, beside how much they scatter; on 41 sets of ours
)
# Encoded again or scaled, a picture's flanks move by up to 0.001 of its longer side and its centre by 0.002;
# two snaps by hand differ by far more. Our choice; a phone that stood still gives copies too.
_SAME_PLACE, _SAME_CENTRE = 0.003, 0.003
_ANY = ("both-flanks", "unlike-axle")  # what one view tells holds for all; other flags, where all tell them
_ALIKE = 0.6  # views of one gear count as so many independent ones each, in the chance that all are wrong


@dataclass(frozen=True, eq=False)
class Views:
    """What the photos of one side say together.

    reading: of the surest photo, its side that of all used ones, without the photo's other flank. surest:
    index of that photo's among the readings given; used, aside: likewise; copies: those of a picture that
    counts once already.
    """

    role: Role
    reading: Reading
    surest: int
    used: tuple[int, ...]
    aside: tuple[int, ...]
    copies: tuple[int, ...] = ()


def join(readings: Sequence[Reading]) -> dict[Role, Views]:
    """The readings of each side joined, by role. A photo that shows both sides counts for both (give its
    `other` as a reading of its own)."""
    joined: dict[Role, Views] = {}
    for role in ROLES:
        mine = [k for k, reading in enumerate(readings) if reading.side.role == role]
        if mine:
            once = _once(readings, mine)
            copies = tuple(k for k in mine if k not in once)
            joined[role] = replace(_joined(role, readings, once), copies=copies)
    return joined


def pair(first: Reading, second: Reading, backlash_mm: tuple[float, ...] = ()) -> Setup:
    """The set-up that two photos show, in whichever order they come: the flank seen tells the side. What one
    of them shows of its other flank counts, too, as with `contactread read`.

    backlash_mm: readings of the dial round the ring gear. Raises AdviceError as `contactread.reading.pair`.
    """
    seen = join([each for one in (first, second) for each in (one, one.other) if each is not None])
    readings = [views.reading for views in seen.values()]
    return pair_of(readings[0], readings[-1], backlash_mm)


def _once(readings: Sequence[Reading], mine: list[int]) -> list[int]:
    """Those readings but copies of a picture that is among them: the surest of each stays."""
    kept: list[int] = []
    for k in sorted(mine, key=lambda k: -readings[k].confidence):
        if not any(same_picture(readings[k], readings[j]) for j in kept):
            kept.append(k)
    return sorted(kept)


def same_picture(one: Reading, other: Reading) -> bool:
    """Whether two readings of a side are of one picture, under another name or encoded again."""
    if not np.allclose(one.side.centre, other.side.centre, rtol=0, atol=_SAME_CENTRE):
        return False
    places, others = _places(one), _places(other)
    if min(len(places), len(others)) == 0:
        return False
    apart = np.abs(places[:, None] - others[None]).max(axis=(2, 3)).min(axis=1)
    return bool(np.median(apart) < _SAME_PLACE)


def _places(reading: Reading) -> Floats:
    """Corners of the measured teeth, (teeth, 4, 2), in shares of the picture's longer side."""
    corners = [list(t.flank.corners.values()) for t in reading.teeth if t.pattern is not None]
    return np.asarray(corners, float) / max(reading.size_px)


def _joined(role: Role, readings: Sequence[Reading], mine: list[int]) -> Views:
    used, aside = _agreeing(readings, mine)
    best = max(used, key=lambda k: readings[k].confidence)
    against = max((readings[k].confidence for k in aside), default=0.0)
    if len(used) == 1:
        alone = replace(readings[best], other=None, confidence=_despite(readings[best].confidence, against))
        return Views(role, alone, best, tuple(used), tuple(aside))
    views = [readings[k] for k in used]
    weights, centre, sigma = _mean(views)
    first = readings[best].side
    share = weights.mean(axis=1)
    side = replace(
        first,
        centre=(float(centre[0]), float(centre[1])),
        sigma=(float(sigma[0]), float(sigma[1])),
        length=_ends(views, weights, 0),
        height=_ends(views, weights, 1),
        area_fraction=float(share @ [view.side.area_fraction for view in views]),
        spread=(
            float(weights[:, 0] @ [view.side.spread[0] for view in views]),
            float(weights[:, 1] @ [view.side.spread[1] for view in views]),
        ),
    )
    wrong = float(np.prod([1 - view.confidence for view in views]) ** _ALIKE)
    sure = max(1 - wrong, max(view.confidence for view in views))
    flags = tuple(dict.fromkeys(code for view in views for code in view.flags))
    kept = [code for code in flags if all(code in view.flags for view in views) or code in _ANY]
    sure = _despite(sure, against)
    reading = replace(readings[best], side=side, confidence=sure, flags=tuple(kept), other=None)
    return Views(role, reading, best, tuple(used), tuple(aside))


def _despite(sure: float, against: float) -> float:
    """The chance of being right where another view, right with the chance `against`, says otherwise: they
    can't both be (Bayes)."""
    return sure * (1 - against) / max(sure * (1 - against) + 1 - sure, 1e-9)


def _agreeing(readings: Sequence[Reading], mine: list[int]) -> tuple[list[int], list[int]]:
    """Which views agree, and which are set aside: those of the other hand, then the one farthest from the
    others, as long as it disagrees. Of two that disagree the surer one stands."""
    used = _of_one_hand(readings, mine)
    aside = [k for k in mine if k not in used]
    while len(used) > 1:
        off = []
        for k in used:
            rest = [readings[j] for j in used if j != k]
            _, centre, sigma = _mean(rest)
            gap = np.abs(np.subtract(readings[k].side.centre, centre))
            far = float(np.hypot(*(gap / np.hypot(readings[k].side.sigma, sigma))))
            off.append(far if (gap > _LEAST).any() else 0.0)
        if max(off) <= _FAR:
            break
        if len(used) == 2:
            worst = min(used, key=lambda k: readings[k].confidence)
        else:
            worst = used[int(np.argmax(off))]
        used.remove(worst)
        aside.append(worst)
    return used, sorted(aside)


def _of_one_hand(readings: Sequence[Reading], mine: list[int]) -> list[int]:
    """The views of the hand that the photos show more surely; those of the other are mirrored, or of another
    axle.
    """
    hands = {k: readings[k].hand for k in mine}
    sure = {hand: sum(readings[k].confidence for k in mine if hands[k] == hand) for hand in hands.values()}
    likeliest = max(sure, key=lambda hand: sure[hand])
    return [k for k in mine if hands[k] == likeliest]


def _mean(views: Sequence[Reading]) -> tuple[Floats, Floats, Floats]:
    """Weights of the views, (views, 2), the centre that they make, (2,), and its standard uncertainty."""
    centres = np.array([view.side.centre for view in views])
    variance = np.array([view.side.sigma for view in views]) ** 2
    shared = np.maximum(np.array(COMMON) ** 2, _SHARED * variance.min(axis=0))
    own = np.maximum(variance - shared, 0.1 * variance)
    weights = np.array([[view.confidence] for view in views]) / own
    weights /= weights.sum(axis=0)
    centre = (weights * centres).sum(axis=0)
    # Where the views scatter more than they say, they know less than they say; where less, more: a view's
    # doubt holds the mistakes of some, which views that agree didn't make.
    free = len(views) - 1
    scatter = (weights * (centres - centre) ** 2 / own).sum(axis=0) * len(views)
    known = (scatter + _STATED) / (free + _STATED)
    sigma = np.sqrt(((weights**2 * own).sum(axis=0) + shared) * known)
    return weights, centre, sigma


def _ends(views: Sequence[Reading], weights: Floats, axis: int) -> tuple[float, float]:
    """5 and 95 % points, the views' mean."""
    ends = np.array([(view.side.length, view.side.height)[axis] for view in views])
    low, high = weights[:, axis] @ ends
    return float(low), float(high)
