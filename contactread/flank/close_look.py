"""Looking closely at the teeth of a gear found from afar, each time from better places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from contactread.arrays import median
from contactread.axle import FlankName
from contactread.flank.closeup import CloseUp, edges_of, look_closely, seen_of
from contactread.flank.corners import flanks_of_view
from contactread.flank.flank import Flank
from contactread.flank.gear_fit import CORNER_U, CORNER_V, Prior
from contactread.flank.gear_view import GearView
from contactread.flank.rigid import Edges, Rigid, Seen, corner_moves, flanks_of, neighbours, refit_rigid
from contactread.flank.sight import Sight
from contactread.photo.photo import Photo

FIRST = 6  # so many of the teeth seen best place the gear for all others
MOST_BESIDE = 3  # teeth beside those seen from afar that are looked at, to find painted ones missed
REACH = 3  # how far beyond them such teeth are looked for
STILL = 0.03  # teeth that moved less by the first look, as a share of their length, need no second one
_ALONG, _UP = np.linspace(0.1, 0.9, 9), np.linspace(0.15, 0.85, 5)  # where a tooth's paint is asked about
UNPAINTED = 0.15  # chance of paint up to which a tooth isn't looked at again, nor any beside it

# By so much more, in half squared deviations, the axle file's gear must miss the marks than a usual one: of
# 54 rendered photos with right files none exceeds 1.6, of those with four teeth more or fewer two thirds do.
UNLIKE = 2.5


@dataclass(frozen=True, eq=False)
class _Look:
    """One flank seen close up, and what that tells of its place."""

    closeup: CloseUp
    seen: Seen
    edges: Edges


def look_twice(
    photo: Photo,
    view: GearView,
    painted: Sequence[float],
    rolled: Sequence[float],
    worth: Sequence[float],
    name: FlankName,
    prior: Prior,
    sight: Sight,
) -> tuple[list[Flank], list[CloseUp], bool]:
    """The flanks of the view's teeth and some beside them, in order along the gear, their close-ups, and
    whether usual gears explain them much better than the axle file's.

    A few teeth place the gear better first. From there all others are looked at, some beside painted ones
    too where the first look saw paint, and, where the gear has moved, those of the first that carry compound
    once more. painted, rolled, worth: of each of the view's teeth, the chance that it carries compound, that
    it was rolled besides, and how much it tells. sight: the first look. Nothing where none of them is seen.
    """
    chance = dict(zip(view.teeth.tolist(), painted, strict=True))
    share = dict(zip(view.teeth.tolist(), rolled, strict=True))
    best = np.argsort(-np.array(worth), kind="stable")[:FIRST]
    looks = _look_at(photo, view, {tooth: share[tooth] for tooth in view.teeth[best].tolist()})
    if not looks:
        return [], [], False
    before, view = _with_teeth(view, looks), _placed(view, looks, prior).view
    still = _moved(before, view) < STILL
    beside = neighbours(_with_teeth(view, [*chance, *looks]), (photo.width, photo.height), REACH)
    chance |= {tooth: look.closeup.painted_chance for tooth, look in looks.items()}
    share |= {
        tooth: look.closeup.painted_chance * look.closeup.rolled_chance for tooth, look in looks.items()
    }
    # A brush paints neighbours: beside a bare tooth there is nothing to find.
    nearest = {tooth: min(chance, key=lambda known: abs(known - tooth)) for tooth in beside.tolist()}
    inward = sorted(nearest, key=lambda tooth: abs(tooth - nearest[tooth]))
    hopeful = [tooth for tooth in inward if chance[nearest[tooth]] > UNPAINTED]
    chance |= dict.fromkeys(_painted_from_afar(sight, view, hopeful[:MOST_BESIDE], name), 0.0)
    again = {
        t: share.get(t, 0.0) for t, p in chance.items() if t not in looks or (p > UNPAINTED and not still)
    }
    looks |= _look_at(photo, view, again)
    rigid = _placed(view, looks, prior)
    usual = prior.untold()
    unlike = usual is not None and rigid.view.cost - _placed(rigid.view, looks, usual).view.cost > UNLIKE
    inorder = [looks[tooth] for tooth in sorted(looks)]
    confidence = np.exp(-((rigid.misfit / 6) ** 2))
    edges = [look.edges for look in inorder]
    moves = corner_moves(rigid.view, edges)
    return flanks_of(rigid.view, confidence, name, moves, edges), [look.closeup for look in inorder], unlike


def _painted_from_afar(
    sight: Sight, view: GearView, numbers: Sequence[float], name: FlankName
) -> list[float]:
    """Those teeth of the view's gear that are likelier painted than bare by the first look: most beside
    painted ones are bare, and a close look at each would cost as much as at one that shows a pattern.
    """
    if not numbers:
        return []
    view = _with_teeth(view, numbers)
    flanks = flanks_of_view(view, hidden=False)
    places = (flank.map.grid(_ALONG, _UP).reshape(-1, 2) for flank in flanks)
    return [
        tooth for tooth, at in zip(view.teeth.tolist(), places, strict=True) if sight.paint_at(at, name) > 0.5
    ]


def _look_at(photo: Photo, view: GearView, rolled: Mapping[float, float]) -> dict[float, _Look]:
    """The teeth of the view's gear that can be seen close up, by their numbers along it.

    rolled: the numbers wanted, and the chance that each was painted and rolled.
    """
    if not rolled:
        return {}
    view = _with_teeth(view, rolled)
    flanks = flanks_of_view(view, hidden=False)
    closeups = look_closely(photo.pixels, flanks, [rolled[tooth] for tooth in view.teeth.tolist()])
    parts = zip(
        view.teeth.tolist(), closeups, seen_of(flanks, closeups), edges_of(flanks, closeups), strict=True
    )
    return {tooth: _Look(close, seen, edges) for tooth, close, seen, edges in parts if seen is not None}


def _placed(view: GearView, looks: Mapping[float, _Look], prior: Prior) -> Rigid:
    """The view fitted again to what was seen of its teeth."""
    inorder = [looks[tooth] for tooth in sorted(looks)]
    return refit_rigid(
        _with_teeth(view, looks), [look.seen for look in inorder], [look.edges for look in inorder], prior
    )


def _moved(before: GearView, after: GearView) -> float:
    """The farthest that a corner of a tooth moved, in the median of the teeth, as a share of their length."""
    was, now = before.project(CORNER_U, CORNER_V), after.project(CORNER_U, CORNER_V)
    length = np.linalg.norm(now[:, 0] - now[:, 3], axis=-1)
    return float(median(np.linalg.norm(now - was, axis=-1).max(axis=1) / length))


def _with_teeth(view: GearView, numbers: Mapping[float, object] | Sequence[float]) -> GearView:
    """The view of other teeth of its gear, each once, in order along it."""
    return replace(view, teeth=np.array(sorted(set(numbers))))
