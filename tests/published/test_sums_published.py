# mypy: disable-error-code="union-attr, operator, arg-type"
# Where a test meets None in place of a value, it fails; that needs no line of its own.
"""Published set-up sums, through the code that `contactread sums` and the advice use.

Each test id begins with the id of its source in `shared/sources.toml`; values are those of
`shared/checks.toml`, in inches as printed.
"""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from contactread.advice.arithmetic import (
    SIGN_WORDS,
    cone_centre_gap,
    gauge_pack,
    mark_change,
    mounting_distance_pack,
    new_housing_pack,
    parse_mark,
    side_shim_start,
)
from contactread.advice.backlash import judge_backlash
from contactread.advice.dial import judge_runout, travel_for_backlash
from contactread.advice.shims import carrier_change
from contactread.axle import Carrier, Limits
from contactread.errors import QuantityError
from contactread.facts import facts
from contactread.units import MM_PER_INCH, MM_PER_THOU

CHECKS = facts("checks")
MARKS = CHECKS["marks"]
EXACT_IN = 1e-9


def inches(mm: float) -> float:
    return mm / MM_PER_INCH


def change_in(old: int, new: int, sign: str) -> float:
    return inches(mark_change(parse_mark(f"{old:+d}"), parse_mark(f"{new:+d}"), sign).result_mm)


# B1 (TM 5-3895-369-14 p. 5-409) and B3 (TM 9-2320-280-34 p. 19-12): the printed examples and corners.
@pytest.mark.parametrize(
    "case", [*MARKS["example"], *MARKS["corner"]], ids=lambda c: f"{c['source']}-{c['old']:+d}-{c['new']:+d}"
)
def test_pinion_marks_printed(case: dict[str, Any]) -> None:
    got = change_in(case["old"], case["new"], case["convention"])
    assert got == pytest.approx(case["change_in"], abs=EXACT_IN)
    if "change_mm" in case:
        assert got * MM_PER_INCH == pytest.approx(case["change_mm"], abs=0.0005)


# B1 against B2 and B3: all 81 cells of the two tables; one is the other with its sign turned over.
@pytest.mark.parametrize(
    "old, new", list(itertools.product(MARKS["values"], repeat=2)), ids=lambda v: f"{v:+d}"
)
def test_b1_b2_b3_whole_table(old: int, new: int) -> None:
    cage, head = change_in(old, new, "plus_adds"), change_in(old, new, "plus_subtracts")
    assert cage == pytest.approx((new - old) * 0.001, abs=EXACT_IN)
    assert head == pytest.approx((old - new) * 0.001, abs=EXACT_IN)


# B1's own metric row: 1 to 8 thousandths as the page prints them.
@pytest.mark.parametrize("thou, mm", list(enumerate(MARKS["mm_row"], start=1)), ids=lambda v: f"B1-{v}")
def test_b1_metric_row(thou: float, mm: float) -> None:
    assert round(parse_mark(f"+{thou}"), 3) == mm


# B5, B6: the printed chain by way of a standard pack gives new - old, and two changes join into one.
@pytest.mark.parametrize("sign", SIGN_WORDS, ids=lambda s: f"B5-B6-{s}")
def test_b5_b6_marks_join(sign: Any) -> None:
    for a, b, c in itertools.product((-4, -1, 0, 3), repeat=3):
        assert change_in(a, b, sign) + change_in(b, c, sign) == pytest.approx(
            change_in(a, c, sign), abs=EXACT_IN
        )
        assert change_in(a, b, sign) == pytest.approx(-change_in(b, a, sign), abs=EXACT_IN)


# B6 (TM 5-3805-262-34 p. 4-230): the worksheet, c = a - old, e = c + new, for an old pack of 0.031 in.
@pytest.mark.parametrize("old, new", [(2, -1), (-3, 4)], ids=["B6-+2--1", "B6--3-+4"])
def test_b6_worksheet(old: int, new: int) -> None:
    pack = 0.031
    standard = pack - old * 0.001
    wanted = standard + new * 0.001
    working = mark_change(parse_mark(str(old)), parse_mark(str(new)), "plus_adds", pack * MM_PER_INCH)
    assert inches(working.result_mm) == pytest.approx(wanted, abs=EXACT_IN)


# B5, B7: "+3" is 0.003 in; "+.03" and "-.05 mm" are millimetres. B6: "025" is the match number.
@pytest.mark.parametrize(
    "text, mm", [("+3", 0.0762), ("+.03", 0.03), ("-.05 mm", -0.05), ("0", 0.0), ("", 0.0)]
)
def test_b5_b7_units_of_marks(text: str, mm: float) -> None:
    assert parse_mark(text) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize("text", ["025", "PC", "+.9", "45 in"], ids=lambda t: f"B6-{t}")
def test_b6_match_numbers_are_no_marks(text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_mark(text)
    assert caught.value.code == "pinion-mark"


# B7 (TM 9-2320-365-34-2 p. 23-16), a trap: its rule adds old and new, so an unchanged pinion would change
# the shim. No convention here does that.
@pytest.mark.parametrize("sign", SIGN_WORDS, ids=lambda s: f"B7-trap-{s}")
def test_b7_an_unchanged_mark_changes_nothing(sign: Any) -> None:
    for mark in MARKS["values"]:
        assert change_in(mark, mark, sign) == 0
    assert mark_change(0.05, 0.05, sign, pack_mm=0.8).result_mm == 0.8


# B9 (TM 10-3930-671-24 step 3). The second example's labels contradict the page's own rule
# (contradiction-11); its result fits them exchanged, as in checks.toml.
@pytest.mark.parametrize("case", CHECKS["mounting_distance"], ids=lambda c: f"B9-{c['new_in']}")
def test_b9_mounting_distance(case: dict[str, Any]) -> None:
    pack, old, new = (case[k] * MM_PER_INCH for k in ("pack_in", "old_in", "new_in"))
    assert inches(mounting_distance_pack(pack, old, new, "behind_head").result_mm) == pytest.approx(
        case["result_in"], abs=EXACT_IN
    )


# B9 and contradiction-4: the same two pinions under a cage turn the sign over (derived).
def test_b9_turns_over_under_a_cage() -> None:
    head = mounting_distance_pack(0.8, 149.0, 149.1, "behind_head").result_mm
    cage = mounting_distance_pack(0.8, 149.0, 149.1, "under_cage").result_mm
    assert head == pytest.approx(0.7) and cage == pytest.approx(0.9)


# B10 (TM 10-3930-671-24 step 2): B > A takes the difference off, B < A adds it, the stamp keeps its sign.
@pytest.mark.parametrize(
    "etched, stamp, expected",
    [
        (5.900, 0.0, 0.034),
        (5.903, 0.0, 0.031),
        (5.896, 0.0, 0.038),
        (5.903, -0.002, 0.029),
        (5.9, 0.004, 0.038),
    ],
    ids=lambda v: f"B10-{v}",
)
def test_b10_new_housing(etched: Any, stamp: Any, expected: float) -> None:
    nominal = CHECKS["new_housing"]
    values = (nominal["nominal_pack_in"], stamp, etched, nominal["nominal_distance_in"])
    assert inches(new_housing_pack(*(v * MM_PER_INCH for v in values)).result_mm) == pytest.approx(
        expected, abs=EXACT_IN
    )


# B11, B12 (TM 9-2320-289-34 p. 6-37). The page prints 0.057 for the mark's 0.051 mm: contradiction-12.
@pytest.mark.parametrize("case", CHECKS["depth_gauge"], ids=lambda c: c["source"])
def test_b11_b12_depth_gauge(case: dict[str, Any]) -> None:
    working = gauge_pack(case["gauge_in"] * MM_PER_INCH, parse_mark(f"{case['mark']:+d}"), case["convention"])
    assert inches(working.result_mm) == pytest.approx(case["result_in"], abs=EXACT_IN)
    assert working.result_mm == pytest.approx(case["result_mm"], abs=0.001)  # rounded before adding
    assert case["source"] in working.sources


# B12: no mark, the gauge value as it is.
def test_b12_no_mark() -> None:
    assert gauge_pack(0.5, parse_mark(""), "plus_adds").result_mm == 0.5


# B13 (TM 9-2320-280-34 p. 19-16): a gauge whose hand means 0.100 in more below 12; the mark taken off.
@pytest.mark.parametrize("case", CHECKS["arbor_gauge"], ids=lambda c: f"B13-{c['hand']}")
def test_b13_gauge_with_an_offset(case: dict[str, Any]) -> None:
    read = case["hand"] * MM_PER_THOU
    offset = case["gauge_in"] * MM_PER_INCH - read
    assert offset == pytest.approx(100 * MM_PER_THOU if case["hand"] < 12 else 0.0)
    working = gauge_pack(read, parse_mark(f"{case['mark']:+d}"), "plus_subtracts", offset)
    assert inches(working.result_mm) == pytest.approx(case["result_in"], abs=EXACT_IN)
    assert "B13" in working.sources


# B14 (TM 10-3930-643-34 p. 16-29): A = D - C/2.
def test_b14_cone_centre() -> None:
    assert cone_centre_gap(100.0, 150.0).result_mm == 25.0


# B29 (TM 9-2320-289-34 Table 6-1): the side-shim sum, in inches and in the printed millimetres.
def test_b29_side_shims() -> None:
    case = CHECKS["side_shims"]
    keys = ("tool_in", "opposite_in", "away_in", "preload_each_in")
    ring_side, opposite = side_shim_start(*(case[k] * MM_PER_INCH for k in keys))
    assert inches(ring_side.result_mm) == pytest.approx(case["ring_side_in"], abs=EXACT_IN)
    assert inches(opposite.result_mm) == pytest.approx(case["opposite_result_in"], abs=EXACT_IN)
    assert ring_side.result_mm == pytest.approx(case["ring_side_mm"], abs=0.0005)
    assert opposite.result_mm == pytest.approx(case["opposite_result_mm"], abs=0.0005)


# B16 (TM 9-2320-289-34 p. 6-21, 6-22): too much backlash, thicker on the ring-gear side, total unchanged.
def test_b16_too_much_backlash() -> None:
    limits = tuple(v * MM_PER_INCH for v in CHECKS["backlash_spread"]["backlash_in"])
    judged = judge_backlash((0.011 * MM_PER_INCH,) * 4, Limits(limits))
    assert judged.verdict == "above"
    travel, _ = travel_for_backlash(judged.mean_mm, sum(limits) / 2)
    ring_side, opposite = carrier_change(travel, Carrier(ring_side_mm=6.2, opposite_side_mm=7.0))
    assert ring_side.change_mm > 0 > opposite.change_mm
    assert ring_side.new_mm + opposite.new_mm == pytest.approx(13.2)


# B28 (TM 9-2320-289-34 p. 6-19) and B30 (a light-car manual, 1998): backlash for a ring-gear travel.
@pytest.mark.parametrize("case", CHECKS["backlash_travel"], ids=lambda c: c["source"])
def test_b28_b30_backlash_per_travel(case: dict[str, Any]) -> None:
    least, most = (travel_for_backlash(0.0, backlash) for backlash in case["backlash_in"])
    assert most[0] <= case["travel_in"] + EXACT_IN
    assert least[1] >= case["travel_in"] - EXACT_IN


# B15 (TM 9-2320-289-34 p. 6-21): runout above 0.003 in rejects.
@pytest.mark.parametrize(
    "thou, verdict", [(2, "within"), (3, "within"), (3.5, "beyond")], ids=lambda v: f"B15-{v}"
)
def test_b15_runout(thou: float, verdict: str) -> None:
    limit = CHECKS["backlash_spread"]["runout_limit_in"] * MM_PER_INCH
    assert judge_runout(thou * 0.0254, limit).verdict == verdict
    assert judge_runout(thou * 0.0254, None).verdict == "no_limit"
