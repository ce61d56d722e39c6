"""What stays though it isn't called right: contact as tall as the tooth, moves that earn too little."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from told_setup import setup_from

from calibration.set_ups import read, true_state
from calibration.setup_conditions import CONDITIONS
from calibration.setup_loop import ZONES, start_of, target_as_wide_as
from contactread.advice import Advice, EarlierTry, advise
from contactread.advice.by_eye import side_from
from contactread.advice.standing import Standing
from contactread.advice.zones import Zones, at_every_place, clear_of_edges
from contactread.axle import Axle, FlankName, GearSet, Interval, Limits, Role
from contactread.belief import believe
from contactread.patch import Edge, Point, told_clear
from contactread.pattern.measures import Setup

AXLE = Axle(
    GearSet(12, 42, 250.0, cutting="face_hobbed"), limits=Limits(backlash_mm=(0.15, 0.25)), target="centred"
)


def looked_twice(drive: Point, coast: Point, height: float, off: str = "", sigma: float = 0.03) -> Advice:
    """The answer to two looks that saw the same; `off`: the edge that the drive pattern runs off."""

    def extent(v: float) -> Interval:
        return max(v - height / 2, 0.0), min(v + height / 2, 1.0)

    kinds: tuple[tuple[FlankName, Role, Point], ...]
    kinds = (("convex", "drive", drive), ("concave", "coast", coast))
    sides = [
        side_from(flank, role, (u, v), (u - 0.22, u + 0.22), extent(v), sigma=(sigma / 2, sigma))
        for flank, role, (u, v) in kinds
    ]
    sides = [replace(side, clear=told_clear(side.length, (0.05, 0.95))) for side in sides]
    if off:
        sides[0] = replace(sides[0], clear=told_clear(sides[0].length, (0.05, 0.95), {off}))  # type: ignore[arg-type]
    setup = Setup(sides[0], sides[1], (0.2,) * 4)
    return advise(setup, AXLE, [EarlierTry(setup)], target_as_wide_as(ZONES["wide"]))


@pytest.mark.parametrize("edge", ["top", "root"])
def test_a_centred_contact_as_tall_as_the_tooth_stays_and_is_no_all_clear(edge: str) -> None:
    advice = looked_twice((0.5, 0.5), (0.5, 0.5), 0.76, edge)
    assert advice.verdict == "no_better_place" and not advice.moves
    assert "no all-clear" in advice.answer[0] and edge in advice.answer[1] and "coat" in advice.answer[2]
    assert all(len(line) <= 90 for line in advice.answer)


@pytest.mark.parametrize(("edge", "height", "way"), [("top", 0.59, "toward"), ("root", 0.41, "away")])
def test_a_tall_contact_is_set_to_the_middle_of_the_height_first(edge: str, height: float, way: str) -> None:
    advice = looked_twice((0.5, height), (0.5, height), 0.76, edge, 0.02)
    assert next((move.member, move.direction) for move in advice.moves) == ("pinion", way)


def test_a_contact_seen_off_both_edges_is_as_tall_as_the_tooth_only_where_it_lies_between_them() -> None:
    """Off the top far above the middle, it may well come clear, though it ran off the root before a move."""
    low = told(0.44, "root")
    for height, verdict in ((0.56, True), (0.62, False)):
        earlier = [EarlierTry(low, pinion_mm=0.1), EarlierTry(told(height, "top"))]
        standing = Standing(told(height, "top"), AXLE, earlier, target_as_wide_as(ZONES["wide"]))
        assert standing.as_tall is verdict


def test_a_move_off_one_edge_is_meant_to_stay_clear_of_the_other() -> None:
    setup = told(0.62, "top")
    wide = Zones(np.array([0.4, 0.35] * 2 + [0.15]), np.array([0.6, 0.65] * 2 + [0.25]))
    zones = clear_of_edges(wide, setup, believe(AXLE, setup))
    assert zones.low[1] == pytest.approx(1 - zones.high[1]) and zones.low[1] > 0.36
    assert (zones.low[3], zones.high[3]) == (0.35, 0.65)


def told(height: float, edge: Edge) -> Setup:
    """Both patterns this high, and the drive one running off that edge."""
    setup = setup_from((0.5, height), (0.5, height), (0.2,) * 4, sigma=(0.015, 0.03), size=(0.44, 0.6))
    clear = told_clear(setup.drive.length, (0.1, 0.9), {edge})
    return replace(setup, drive=replace(setup.drive, clear=clear))


def test_a_short_contact_off_an_edge_is_moved() -> None:
    advice = looked_twice((0.5, 0.58), (0.5, 0.58), 0.5, "top")
    assert advice.verdict.startswith("move")


def test_what_stands_inside_its_zone_as_read_twice_stays() -> None:
    """Of starts that are right already, some read twice as on the edge of a zone: no all-clear, no move."""
    told = []
    for seed in range(1000, 1004):  # three of them
        case, _ = start_of(CONDITIONS["inside"], ZONES["tight"], seed)
        setup = read(true_state(case, case.pinion_mm, case.ring_mm), np.random.default_rng(seed))
        assert setup is not None
        setup = replace(setup, backlash_mm=setup.backlash_mm * 4)
        told.append(advise(setup, case.axle, [EarlierTry(setup)], target_as_wide_as(ZONES["tight"])))
    stays = [advice for advice in told if advice.verdict == "no_better_place"]
    assert stays
    for advice in stays:
        assert "no all-clear" in advice.answer[0] and "zone or on its edge" in advice.answer[1]
        assert "%" in advice.answer[1] and (" toward" in advice.answer[1] or " away" in advice.answer[1])


def test_what_was_read_holds_where_the_gears_stand() -> None:
    """The outlook before any move lies where photos put the patterns, however far from the designed place."""
    told = CONDITIONS["three-numbers"]
    for seed in (1000, 1002, 1013):
        case, _ = start_of(told, ZONES["tight"], seed)
        random = np.random.default_rng(seed)
        setup = read(true_state(case, case.pinion_mm, case.ring_mm), random)
        assert setup is not None
        belief = believe(case.axle, setup)
        mean, _ = belief.posterior.expected((0.0, 0.0))
        now = belief.outlooks([(0.0, 0.0)])[0].centre
        for k, side in enumerate((setup.drive, setup.coast)):
            assert now[side.flank][0] == pytest.approx(mean[2 * k], abs=0.02)
            if not side.runs_off & {"root", "top"}:  # else the mesh knows what the edge leaves of it
                assert now[side.flank][1] == pytest.approx(mean[2 * k + 1], abs=0.03)


def test_places_that_differ_by_what_a_dial_repeats_to_are_one() -> None:
    zones = Zones(np.array([0.0] * 4 + [0.15]), np.array([1.0] * 4 + [0.25]))

    def band(*places: float) -> tuple[float, float]:
        found = at_every_place(zones, places)
        return float(found.low[4]), float(found.high[4])

    assert band(0.19, 0.20, 0.20, 0.21) == (0.15, 0.25)
    assert band(0.16, 0.20, 0.20, 0.24) == pytest.approx((0.15 + 0.04 * 0.952, 0.25 - 0.04 * 0.952), abs=2e-3)
    # One place outside: all of it counts, but for what stays without an all-clear.
    assert band(0.14, 0.16, 0.16, 0.16) == pytest.approx((0.165, 0.24))  # of the swing half, 0.01
    likely = at_every_place(zones, (0.14, 0.16, 0.16, 0.16), as_read=False)
    assert tuple(likely.low[4:]) == (0.15,)
    plain = at_every_place(zones, (0.10, 0.20, 0.20, 0.20), as_read=False)
    assert plain.low[4] > 0.2


@pytest.mark.parametrize(
    ("backlash", "verdict"),
    [(0.152, "measure_first"), (0.25, "measure_first"), (0.1, "move"), (0.34, "move"), (0.2, "acceptable")],
)
def test_one_place_near_its_limit_moves_nothing(backlash: float, verdict: str) -> None:
    """Both patterns right: the other places are measured first, but for what lies plainly outside."""
    extents = (0.3, 0.7), (0.3, 0.7)
    sides = (
        side_from("convex", "drive", (0.5, 0.5), *extents, sigma=(0.01, 0.015)),
        side_from("concave", "coast", (0.5, 0.5), *extents, sigma=(0.01, 0.015)),
    )
    one = Setup(sides[0], sides[1], (backlash,))
    wide = target_as_wide_as(ZONES["wide"])
    for history in ([], [EarlierTry(one)]):
        advice = advise(one, AXLE, history, wide)
        assert advice.verdict.startswith(verdict)
    four = advise(replace(one, backlash_mm=(backlash,) * 4), AXLE, [EarlierTry(one)], wide)
    assert four.verdict != "measure_first"
