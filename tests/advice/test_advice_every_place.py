"""Every measured place of backlash counts, not their mean alone; one place never makes an all-clear."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_reading import made_side

from contactread import advise
from contactread.advice.backlash import judge_backlash
from contactread.axle import Axle, GearSet, Limits
from contactread.pattern.measures import Setup

AXLE = Axle(GearSet(11, 41, 215.0, cutting="face_milled"), limits=Limits(backlash_mm=(0.13, 0.20)))


def right(*backlash_mm: float) -> Setup:
    """Both patterns in the middle of the tooth."""
    sides = [replace(made_side(flank, (0.47, 0.5)), sigma=(0.008, 0.012)) for flank in ("convex", "concave")]
    return Setup(sides[0], sides[1], backlash_mm)


@pytest.mark.parametrize("axle", [None, AXLE])
def test_one_place_asks_for_the_others(axle: Axle | None) -> None:
    one, four = advise(right(0.18), axle), advise(right(0.18, 0.18, 0.18, 0.18), axle)
    assert one.verdict == four.verdict == "acceptable"
    assert "four places" in one.answer[0] and "Leave it" not in " ".join(one.answer)
    assert four.answer[0].startswith("Leave it")


@pytest.mark.parametrize("axle", [None, AXLE])
@pytest.mark.parametrize("places", [(0.05, 0.30), (0.17, 0.17, 0.17, 0.30), (0.02, 0.19, 0.19, 0.19)])
def test_a_mean_that_hides_a_place_outside_is_not_accepted(
    axle: Axle | None, places: tuple[float, ...]
) -> None:
    advice = advise(right(*places), axle)
    assert advice.verdict == "not_a_shim_problem"
    assert "round the ring gear" in " ".join(s.text for s in advice.diagnosis)


@pytest.mark.parametrize("axle", [None, AXLE])
def test_one_place_just_outside_is_not_accepted(axle: Axle | None) -> None:
    limits = (0.1524, 0.254) if axle is None else AXLE.limits.backlash_mm
    assert limits is not None
    advice = advise(right(limits[1] - 0.02, limits[1] - 0.02, limits[1] - 0.02, limits[1] + 0.01), axle)
    assert advice.verdict != "acceptable"


def test_judged_by_the_place_farthest_outside() -> None:
    limits = Limits(backlash_mm=(0.15, 0.25))
    assert judge_backlash((0.16, 0.24), limits).verdict == "within"  # type: ignore[union-attr]
    low, high = judge_backlash((0.14, 0.2), limits), judge_backlash((0.2, 0.26), limits)
    assert low is not None and low.verdict == "below" and low.miss_mm == pytest.approx(0.01)
    assert high is not None and high.verdict == "above" and high.spread_ok is None
    wide = judge_backlash((0.10, 0.26), limits)
    assert wide is not None and wide.spread_ok is False


def test_no_chance_is_told_as_certain() -> None:
    assert "100%" not in " ".join(advise(right(0.18, 0.18, 0.18, 0.18), AXLE).answer)


def test_a_swing_whose_extremes_lie_between_the_places_is_not_accepted() -> None:
    """Each of the four places is inside; the wave through them goes down to 0.149 mm."""
    axle = replace(AXLE, limits=Limits(backlash_mm=(0.15, 0.25)))
    assert advise(right(0.225, 0.160, 0.163, 0.222), axle).verdict != "acceptable"
    assert advise(right(0.21, 0.18, 0.19, 0.20), axle).verdict == "acceptable"
    # So near the limit a swing beyond what a dial repeats to counts whole.
    assert advise(right(0.203, 0.210, 0.243, 0.238), axle).verdict == "read_again"


@pytest.mark.parametrize(
    "places", [(0.10, 0.20, 0.10, 0.20), (0.20, 0.30, 0.20, 0.30), (0.14, 0.14, 0.22, 0.22)]
)
@pytest.mark.filterwarnings("error")
def test_a_swing_that_fills_the_limits_is_named_and_no_pattern_is_blamed(places: tuple[float, ...]) -> None:
    """Nothing of the limits is left for the mean; the last swings further than its places show."""
    axle = replace(AXLE, limits=Limits(backlash_mm=(0.13, 0.23)))
    advice = advise(right(*places), axle)
    assert advice.verdict == "not_a_shim_problem"
    assert advice.reason.startswith("Backlash swings so far round the ring gear")
    assert "both patterns right" not in " ".join(advice.answer)


def test_the_chance_as_it_stands_is_the_one_that_the_words_tell() -> None:
    axle = replace(AXLE, limits=Limits(backlash_mm=(0.15, 0.25)))
    advice = advise(right(0.203, 0.210, 0.243, 0.252), axle)
    assert advice.verdict == "read_again" and advice.now is not None
    assert advice.now.chance == advice.confidence and 0.2 < advice.now.chance < 0.99
