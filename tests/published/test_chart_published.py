# mypy: disable-error-code="union-attr, operator, arg-type"
# Where a test meets None in place of a value, it fails; that needs no line of its own.
"""The published pattern rules, through `advise`. Test ids begin with the ids of their sources.

Numbers of the check list in `shared/checks.toml` and the issues: 11 to 14, and the traps A11 and A7/A8.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from told_setup import setup_from

from contactread.advice import advise
from contactread.axle import Axle, GearSet, Limits, PinionShim

CAGE = Axle(GearSet(10, 41, 250.0, cutting="face_milled"), pinion_shim=PinionShim("under_cage", 1.0))
HEAD = replace(CAGE, pinion_shim=PinionShim("behind_head", 1.0))
WIDE = Limits(backlash_mm=(0.10, 0.40))
OK_BACKLASH = (0.25, 0.25, 0.25, 0.25)
USUAL = (0.20, 0.20, 0.20, 0.20)


def thicker(axle: Axle, drive: tuple[float, float], coast: tuple[float, float]) -> bool:
    """Whether the advised pinion shim is thicker."""
    advice = advise(setup_from(drive, coast, USUAL), axle)
    shim = next(s for m in advice.moves for s in m.shims if s.part == "pinion_shim")
    return shim.change_mm > 0


# Check 11: A1 to A3 (CAGE) and A5 (HEAD).
@pytest.mark.parametrize(
    "axle, v, expected",
    [(CAGE, 0.85, False), (CAGE, 0.15, True), (HEAD, 0.85, True), (HEAD, 0.15, False)],
    ids=["A1-A3-cage-high-thinner", "A1-A3-cage-low-thicker", "A5-head-high-thicker", "A6-head-low-thinner"],
)
def test_height_decides_the_pinion_shim(axle: Axle, v: float, expected: bool) -> None:
    assert thicker(axle, (0.45, v), (0.45, v)) is expected


# Check 12: A1, A2, A10. Both flanks at the toe: more backlash; both at the heel: less.
@pytest.mark.parametrize(
    "u, direction", [(0.2, "away"), (0.8, "toward")], ids=["A1-A2-A10-toe-more", "A1-A2-A10-heel-less"]
)
def test_common_length_shift_is_backlash(u: float, direction: str) -> None:
    """With the chart alone, and with backlash known to have room for it."""
    advice = advise(setup_from((u, 0.5), (u, 0.5), USUAL))
    assert [m.member for m in advice.moves] == ["ring_gear"]
    assert advice.moves[0].direction == direction


# Check 13: A5 (TM 9-2320-266-34): drive high at the heel, coast high at the toe, HEAD: thicker.
def test_a5_high_heel_drive_high_toe_coast() -> None:
    assert thicker(HEAD, (0.62, 0.8), (0.30, 0.8)) is True


# Check 14: A14. Used gears off centre but on the tooth and clear of the toe: accepted, depth left alone.
@pytest.mark.parametrize("u", [0.35, 0.65], ids=["A14-toeward", "A14-heelward"])
def test_a14_used_on_the_tooth_is_accepted(u: float) -> None:
    used = replace(HEAD, gears=replace(HEAD.gears, condition="used"), limits=WIDE)
    advice = advise(setup_from((u, 0.45), (u, 0.55), OK_BACKLASH), used)
    assert advice.verdict == "acceptable"
    assert advice.moves == ()


# Check 14, other half: off an edge, backlash only.
@pytest.mark.parametrize(
    "u, direction", [(0.12, "away"), (0.88, "toward")], ids=["A14-off-toe", "A14-off-heel"]
)
def test_a14_used_off_the_tooth_is_backlash_only(u: float, direction: str) -> None:
    used = replace(HEAD, gears=replace(HEAD.gears, condition="used"), limits=WIDE)
    advice = advise(setup_from((u, 0.5), (u, 0.5), OK_BACKLASH), used)
    assert [m.member for m in advice.moves] == ["ring_gear"]
    assert advice.moves[0].direction == direction


# Trap A11 (TM 10-3930-643-34): the reverse rule is never followed, and is told beside the rule used.
def test_a11_reverse_rule_is_labelled_not_followed() -> None:
    advice = advise(setup_from((0.45, 0.85), (0.45, 0.85), USUAL), CAGE)
    assert advice.moves[0].member == "pinion"
    assert any("A11" in s.sources for s in advice.alternatives)


# Trap A7/A8 against A5 (contradiction-2): the opposite shift along the length is read in opposite ways.
# The heights are the same in both, so the pinion move must be the same, and both readings are told.
@pytest.mark.parametrize("drive_u, coast_u", [(0.65, 0.25), (0.25, 0.70)], ids=["A5-heel-toe", "A7-toe-heel"])
def test_a7_a8_against_a5_heights_decide(drive_u: float, coast_u: float) -> None:
    advice = advise(setup_from((drive_u, 0.82), (coast_u, 0.82), USUAL))
    assert advice.moves[0].member == "pinion"
    assert advice.moves[0].direction == "toward"
    assert any({"A7", "A8"} & set(s.sources) for s in advice.alternatives)


# A16, A3, contradiction-13: backlash outside its limits is told before the pattern; backlash is set last,
# after depth, and is then expected within its limits.
@pytest.mark.parametrize(
    "backlash, direction", [(0.40, "toward"), (0.02, "away")], ids=["A16-large", "A16-small"]
)
def test_a16_a3_order_of_work(backlash: float, direction: str) -> None:
    axle = replace(HEAD, limits=Limits(backlash_mm=(0.15, 0.25)))
    advice = advise(setup_from((0.45, 0.5), (0.45, 0.5), (backlash,) * 4), axle)
    assert "backlash-before-pattern" in [s.rule for s in advice.diagnosis]
    assert advice.moves[-1].member == "ring_gear"
    assert advice.moves[-1].direction == direction
    assert 0.15 <= advice.moves[-1].expected.backlash_mm <= 0.25
