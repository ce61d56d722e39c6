"""The parts of a belief, each against its own sums: cut-off patches, doubt of an answer, cost of a move."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from told_setup import setup_from

from contactread.advice import plan, zones
from contactread.advice.by_eye import side_from
from contactread.arrays import Floats
from contactread.axle import Axle, Cutting, EaseOff, GearSet
from contactread.belief import believe
from contactread.belief.believe import BOUND_SIGMA_MM, CUT_SIGMA, _observe, _whole_centre
from contactread.belief.draws import Draws
from contactread.belief.linear import Candidates, Observation, Prior, update
from contactread.belief.outlook import Outlook, Start, outlooks
from contactread.belief.tries import sigma_of
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import Prediction
from contactread.patch import Clear, Edge, told_clear
from contactread.pattern.measures import Side

EXTENTS = np.array([0.3, 0.8])  # of the whole patch, as two candidates have it


def side(clear: Clear, low: float, high: float, axis: int) -> Side:
    """A side whose patch reaches from low to high along one axis, with its centre in their middle."""
    given = setup_from((0.5, 0.5), (0.5, 0.5)).drive
    middle = (low + high) / 2
    if axis == 0:
        return replace(given, length=(low, high), centre=(middle, 0.5), clear=clear)
    return replace(given, height=(low, high), centre=(0.5, middle), clear=clear)


@pytest.mark.parametrize(
    ("axis", "clear", "ends", "expected"),
    [
        (0, Clear(0.5, 0.0, 0.2, 0.2), (0.5, 1.0), [0.75, 0.9]),  # off the heel: from the toe end on
        (0, Clear(0.0, 0.5, 0.2, 0.2), (0.0, 0.5), [0.25, 0.1]),  # off the toe: from the heel end back
        (1, Clear(0.2, 0.2, 0.0, 0.5), (0.5, 1.0), [0.75, 0.9]),  # off the top
        (1, Clear(0.2, 0.2, 0.5, 0.0), (0.0, 0.5), [0.25, 0.1]),  # off the root
    ],
    ids=["heel", "toe", "top", "root"],
)
def test_a_cut_off_patch_is_centred_from_the_end_that_is_seen(
    axis: int, clear: Clear, ends: tuple[float, float], expected: list[float]
) -> None:
    """A candidate too small for what is seen puts the centre no nearer to the seen end than it lies."""
    cut = side(clear, *ends, axis)
    whole, sigma = _whole_centre(cut, axis, EXTENTS)
    assert whole == pytest.approx(expected)
    assert sigma == pytest.approx(np.hypot(sigma_of(cut)[axis], CUT_SIGMA))


@pytest.mark.parametrize("axis", [0, 1])
def test_a_whole_patch_stands_where_it_was_read(axis: int) -> None:
    whole, sigma = _whole_centre(seen := side(Clear(0.2, 0.2, 0.2, 0.2), 0.2, 0.6, axis), axis, EXTENTS)
    assert whole == pytest.approx([0.4, 0.4]) and sigma == sigma_of(seen)[axis]
    both = side(Clear(0.0, 0.0, 0.0, 0.0), 0.0, 1.0, axis)
    whole, sigma = _whole_centre(both, axis, EXTENTS)
    assert whole == pytest.approx([0.5, 0.5]) and sigma > sigma_of(both)[axis]


def sets(jacobian: Floats, between: float = 0.0) -> Candidates:
    return Candidates(jacobian, np.zeros(len(jacobian)), np.full((len(jacobian), 5, 2), between))


def test_the_answer_to_a_move_stays_in_doubt_in_proportion() -> None:
    """Pinion and ring-gear parts add by their squares; nothing moved, nothing in doubt."""
    jacobian = np.zeros((1, 5, 2))
    jacobian[0, :, 0], jacobian[0, :, 1] = 3.0, 4.0
    doubt = sets(jacobian).doubt(np.array([[0.1, 0.1], [0.2, 0.0], [0.0, 0.0]]))[:, 0]
    assert (doubt[0, :4] > 0.02).all() and 0.01 < doubt[0, 4] < doubt[0, 0]
    assert doubt[0] / doubt[1] == pytest.approx([0.5 / 0.6] * 5)
    assert doubt[2] == pytest.approx([0] * 5)


class Believed:
    """A posterior with the chances given to it."""

    def __init__(self, chances: list[float], away: float) -> None:
        self._chances, self._away = np.array(chances), away

    def chances(self, moves: Floats, low: Floats, high: Floats) -> Floats:
        return self._chances

    def chance_pinion_away(self) -> float:
        return self._away


ZONES = zones.Zones(np.zeros(5), np.ones(5))


@pytest.mark.parametrize(
    ("moves", "chances", "away", "chosen"),
    [
        # Which way the pinion is off isn't known: a slightly better chance doesn't pay for moving it.
        ([(0.0, 0.0), (0.1, 0.0)], [0.5, 0.6], 0.5, 0),
        ([(0.0, 0.0), (0.1, 0.0)], [0.5, 0.6], 0.02, 1),
        # Equal chances: the way that is surer.
        ([(0.1, 0.0), (-0.1, 0.0)], [0.7, 0.7], 0.9, 1),
        ([(0.1, 0.0), (-0.1, 0.0)], [0.7, 0.7], 0.1, 0),
        # The ring gear's way is not in doubt here; one member rather than two, and no further than needed.
        ([(0.0, 0.0), (0.0, 0.1)], [0.5, 0.6], 0.5, 1),
        ([(0.0, 0.1), (0.0, 0.3)], [0.7, 0.7], 0.5, 0),
    ],
)
def test_what_a_move_must_earn(
    moves: list[tuple[float, float]], chances: list[float], away: float, chosen: int
) -> None:
    best = plan._best(Believed(chances, away), (ZONES,), np.array(moves))  # type: ignore[arg-type]
    assert tuple(best) == moves[chosen]


def test_the_belief_is_the_gaussian_one() -> None:
    """Two readings with a move between them, one gear set: against conditioning of the whole joint normal."""
    rng = np.random.default_rng(4)
    jacobian = rng.normal(size=(1, 5, 2))
    aim, state, own = rng.normal(size=5), rng.uniform(0.1, 0.3, (1, 2)), rng.uniform(0.02, 0.1, (1, 5))
    candidates, move = sets(jacobian, 0.2), (0.25, -0.1)
    seen = [
        Observation(aim + rng.normal(scale=0.1, size=(1, 5)), np.full(5, 0.03), place)
        for place in ((0.0, 0.0), move)
    ]
    believed = update(candidates, Prior(aim, state, own), seen)
    # Unknowns (x, e, D); each reading is aim + J (x + moved) + e, less D by the move since for the first,
    # whose answer is doubted besides.
    answer = np.hstack([jacobian[0], np.eye(5), np.zeros((5, 10))])
    since = np.hstack([jacobian[0], np.eye(5), -np.kron(np.eye(5), move)])
    prior = np.diag(np.concatenate([state[0], own[0], candidates.answer_sigma.ravel()]) ** 2)
    rows = np.vstack([since, answer])
    noise = np.diag(np.concatenate([0.03**2 + candidates.anew(np.array(move))[0], np.full(5, 0.03**2)]))
    off = np.concatenate([o.measures[0] - aim - jacobian[0] @ o.moved_mm for o in seen])
    gain = prior @ rows.T @ np.linalg.inv(rows @ prior @ rows.T + noise)
    mean, covariance = gain @ off, prior - gain @ rows @ prior
    now, spread = believed.expected((0.0, 0.0))
    assert now == pytest.approx(aim + answer @ mean + jacobian[0] @ np.array(move))
    assert spread == pytest.approx(np.sqrt(np.diag(answer @ covariance @ answer.T)))
    further = np.hstack([jacobian[0], np.eye(5), np.kron(np.eye(5), (0.1, 0.05))])
    then, open_ = believed.expected((0.1, 0.05))
    assert then == pytest.approx(aim + further @ mean + jacobian[0] @ np.add(move, (0.1, 0.05)))
    variance = np.diag(further @ covariance @ further.T) + candidates.anew(np.array((0.1, 0.05)))[0]
    assert open_ == pytest.approx(np.sqrt(variance))
    # One measure's chance after that move, alone of all, is the normal one.
    low, high = np.full(5, -9.0), np.full(5, 9.0)
    high[1] = then[1] + 0.5 * open_[1]
    (chance,) = believed.chances(np.array([(0.1, 0.05)]), low, high)
    assert chance == pytest.approx(0.6915, abs=1e-4)
    away = 0.5 * (1 + math.erf((mean[0] + move[0]) / math.sqrt(2 * covariance[0, 0])))
    assert believed.chance_pinion_away() == pytest.approx(away, abs=1e-6)


def test_teeth_that_bind_say_less_about_backlash_than_a_dial() -> None:
    """And that it is less than none: how far they are from free isn't read."""

    def read(*readings: float) -> tuple[float, float]:
        setup = setup_from((0.5, 0.5), (0.5, 0.5), readings)
        seen = _observe(setup, np.full((1, 4), 0.5), (0.0, 0.0), 0.0)
        return float(seen.measures[0, 4]), float(seen.sigma[4])

    (bound, doubt), (free, dial) = read(0.0, 0.0, 0.0, 0.0), read(0.2)
    assert doubt == BOUND_SIGMA_MM > dial
    assert bound <= -doubt and free == pytest.approx(0.2)
    assert dial == pytest.approx(2 * read(0.2, 0.2, 0.2, 0.2)[1])


def test_a_taller_patch_must_stay_farther_from_the_edges() -> None:
    """An ellipse of 5 to 95 % height 0.4 reaches 0.954 / (2 * 0.805) of that from its middle; more, where it
    runs off an edge.
    """

    class Tall:
        posterior = SimpleNamespace(expected=lambda move_mm: (np.array([0.5, 0.68, 0.5, 0.5, 0.2]), None))

        def whole_height(self, flank: str) -> float:
            return 0.4

    def reach(*edges: Edge) -> float:
        side = side_from("convex", "drive", (0.5, 0.68), (0.3, 0.7), (0.48, 0.88))
        clear = told_clear(side.length, side.height, set(edges))
        return zones.reach_of(Tall(), replace(side, clear=clear))  # type: ignore[arg-type]

    assert reach() == pytest.approx(zones.CLEAR + 0.237, abs=0.001)
    assert zones.CLEAR + 0.237 < reach("top") <= 0.32
    assert reach("root") == pytest.approx(zones.CLEAR + 0.237 + zones.SIZES_MISS, abs=0.001)


def test_the_doubt_of_an_outlook_holds_place_answer_and_difference() -> None:
    measures = np.array([[0.4, 0.5, 0.5, 0.5, 0.20], [0.6, 0.5, 0.5, 0.5, 0.20]])
    sigmas, doubts = np.full((2, 5), 0.03), np.full((2, 5), 0.04)
    none = np.zeros((2, 5, 2))
    seen = Outlook(Displacement(), None, None, 0.2, np.array([0.5, 0.5]), measures, sigmas, doubts, none)
    assert seen.sigma["convex"] == pytest.approx((math.hypot(0.05, 0.1), 0.05))
    assert seen.sigma["concave"] == pytest.approx((0.05, 0.05))
    assert seen.backlash_sigma_mm == pytest.approx(0.05)


def test_a_set_whose_whole_patch_is_shorter_than_what_is_seen_of_one_is_unlikely() -> None:
    seen = setup_from((0.85, 0.5), (0.5, 0.5), size=(0.6, 0.45))  # cut off at the heel: 0.45 is left
    extents = np.log([0.45, 0.45, 0.6, 0.45])
    features = np.tile([*extents, 0.0, 0.0], (3, 1))
    features[:, 0] = np.log([0.3, 0.46, 0.7])
    draws = Draws((), features, np.zeros((3, 5, 4)), np.zeros((3, 4)), np.zeros((3, 4)))
    short, fits, long = draws.fit(seen).candidates.log_weight
    assert short < fits - 4 and long == pytest.approx(fits, abs=1)


def test_gears_of_which_the_file_tells_no_relief_are_computed_all_the_same() -> None:
    axle = Axle(GearSet(11, 41, 222.0, cutting="face_milled"), ease_off=EaseOff(0.0, 0.0, 0.0))
    drawn = believe(axle, setup_from((0.45, 0.6), (0.46, 0.6), (0.2,) * 4)).drawn.draws
    assert np.isfinite(drawn.relief).all()


def test_the_line_bends_toward_the_mesh_where_the_gears_are_brought_to_its_nominal_place() -> None:
    patch = side_from("convex", "drive", (0.5, 0.5), (0.3, 0.7), (0.3, 0.7))
    model: Any = SimpleNamespace(
        predictions=lambda places, against_first: [Prediction(patch, patch, 0.0, 0.0) for _ in places]
    )
    start = Start(model, 1.0, Displacement(pinion=0.2), np.zeros(4), 0.2, np.zeros(5), np.zeros((5, 2)))
    lines = np.full((2, 1, 4), 0.5)
    lines[0] += 0.1
    before, after = outlooks([start], [(0.0, 0.0), (-0.2, 0.0)], np.zeros((2, 1, 5)), lines)
    assert before.measures[0, [0, 2]] == pytest.approx(0.6)
    assert after.measures[0, [0, 2]] == pytest.approx(0.5)


@pytest.mark.parametrize("height", [0.15, 0.85])
def test_short_patches_do_not_turn_the_answer_of_the_gears_round(height: float) -> None:
    """Patches shorter than any drawn: the way in which a pinion move takes them is the same for all gears."""
    setup = setup_from((0.45, height), (0.46, height), (0.2,), sigma=(0.012, 0.02), size=(0.45, 0.2))
    cuttings: tuple[Cutting, ...] = ("unknown", "face_milled")
    for cutting in cuttings:
        belief = believe(Axle(GearSet(11, 41, 222.0, cutting=cutting)), setup)
        drawn, fitted = belief.drawn.draws.jacobian, belief.drawn.candidates.jacobian
        assert (drawn[:, [1, 3], 0] > 0).all() and (fitted[:, [1, 3], 0] > 0).all()
        # A patch of given height gives way the less, the more relief holds it in place.
        assert fitted[:, 1, 0].mean() < 0.6 * drawn[:, 1, 0].mean()


def test_a_chance_counts_what_measures_share() -> None:
    """Two measures that stand and fall together are right as often as one; apart, as often as both."""
    measures, sigmas, doubts = np.full((1, 5), 0.5), np.full((1, 5), 0.03), np.zeros((1, 5))
    low, high = np.full(5, -9.0), np.full(5, 9.0)
    low[:2], high[:2] = 0.47, 0.53
    shared = np.zeros((1, 5, 2))
    one = math.erf(1 / math.sqrt(2))

    def chance() -> float:
        seen = Outlook(Displacement(), None, None, 0.2, np.ones(1), measures, sigmas, doubts, shared)
        return seen.chance(low, high)

    assert chance() == pytest.approx(one**2, abs=1e-6)
    shared[0, :2, 0] = 0.025
    assert one**2 + 0.04 < chance() < one
