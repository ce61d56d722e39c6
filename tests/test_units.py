"""Workshop quantities: exact conversion, and no guessing."""

from __future__ import annotations

from fractions import Fraction

import pytest

from contactread import units
from contactread.errors import QuantityError
from contactread.plausible import parse_measured, parse_notches


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("0.25 mm", 0.25),
        ("0,25mm", 0.25),
        ("10 thou", 0.254),
        (".010 in", 0.254),
        (".010 in.", 0.254),
        ('.010"', 0.254),
        ("10 thousandths", 0.254),
        ("10 thousandths of an inch", 0.254),
        ("+0.003in", 0.0762),
        ("-3 thou", -0.0762),
        ("− 3 THOU", -0.0762),
        ("8 3/4 in", 222.25),
        ('8-3/4"', 222.25),
        ("3/4 inch", 19.05),
        ("25 µm", 0.025),
        ("1e-2 in", 0.254),
        ("0,250 mm", 0.25),
    ],
)
def test_lengths(text: str, mm: float) -> None:
    assert units.parse_length(text) == pytest.approx(mm, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "nm"),
    [
        ("2.8 N·m", 2.8),
        ("2.8 Nm", 2.8),
        ("2.8 N-m", 2.8),
        ("2.8 N m", 2.8),
        ("280 N·cm", 2.8),
        ("25 in-lb", 25 * 0.1129848290276167),
        ("25 in-lbs", 25 * 0.1129848290276167),
        ("25 lb-in", 25 * 0.1129848290276167),
        ("25 lbf·in", 25 * 0.1129848290276167),
        ("70 ft-lb", 70 * 12 * 0.1129848290276167),
        ("70 lb ft", 70 * 12 * 0.1129848290276167),
    ],
)
def test_torques(text: str, nm: float) -> None:
    assert units.parse_torque(text) == pytest.approx(nm, rel=1e-14)


def test_factors_are_exact() -> None:
    """The inch and the pound are exact by definition (1959 agreement), standard gravity too (1901)."""
    assert Fraction("25.4") == Fraction(str(units.MM_PER_INCH))
    exact = Fraction("0.45359237") * Fraction("9.80665") * Fraction("0.0254")
    assert float(exact) == pytest.approx(units.NM_PER_LBF_IN, rel=1e-15)
    assert pytest.approx(0.1129848290276167, rel=1e-15) == units.NM_PER_LBF_IN


def test_published_pairs() -> None:
    """Pairs printed side by side in the manuals: B15, B22, B29, H14, B13, C10 (their rounding)."""
    for inch, mm, half_place in [
        ("0.005 in", 0.13, 0.005), ("0.008 in", 0.20, 0.005), ("0.0059 in", 0.15, 0.005),
        ("0.244 in", 6.198, 0.0005), ("0.279 in", 7.087, 0.0005),
    ]:  # fmt: skip
        assert units.parse_length(inch) == pytest.approx(mm, abs=half_place)
    for pound, nm, half_place in [
        ("55 lb-ft", 75, 0.5), ("87 lb-ft", 118, 0.5), ("430 lb-ft", 583, 0.5), ("10 lb-in", 1.13, 0.005),
        ("10 lb-ft", 14, 0.5),
    ]:  # fmt: skip
        assert units.parse_torque(pound) == pytest.approx(nm, abs=half_place)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("0.25", "length-unit-missing"),
        ("", "length-number"),
        ("mm", "length-number"),
        ("0.25 furlong", "length-unit"),
        ("0.25 mm mm", "length-unit"),
        ("10 mil", "length-unit"),
        ("1,250 mm", "length-number"),
        ("1/0 in", "length-number"),
        ("1e999 mm", "length-number"),
        ("nan mm", "length-number"),
        ("inf mm", "length-number"),
        ("--3 thou", "length-number"),
        ("9" * 5000 + " mm", "length-number"),
        ("1/" + "9" * 5000 + " mm", "length-number"),
        ("1.2.3 mm", "length-unit"),
    ],
)
def test_refusals_show_the_expected_form(text: str, code: str) -> None:
    with pytest.raises(QuantityError) as caught:
        units.parse_length(text)
    assert caught.value.code == code
    assert "10 thou" in caught.value.next_step
    assert len(caught.value.message) < 200


def test_torque_and_angle_refusals() -> None:
    with pytest.raises(QuantityError, match="in-lb"):
        units.parse_torque("25")
    with pytest.raises(QuantityError, match="torque"):
        units.parse_torque("25 mm")
    with pytest.raises(QuantityError, match="deg"):
        units.parse_angle("35")
    assert units.parse_angle("35°") == 35


def test_shown_side_by_side() -> None:
    assert units.show_length(0.254) == "0.254 mm (0.0100 in)"
    assert units.show_length(222.25) == "222.25 mm (8.750 in)"
    assert units.show_rough_length(34.41) == "34 mm (1.35 in)"
    assert units.show_move(0.0762) == "+0.08 mm (+3.0 thou)"
    assert units.show_move(-0.0762) == "-0.08 mm (-3.0 thou)"
    assert units.show_move(-1e-9) == "0.00 mm (0.0 thou)"
    assert units.show_clearance(0.18) == "0.18 mm (7.1 thou)"
    assert units.show_clearance(8.4) == "8.40 mm (0.331 in)"
    assert units.show_torque(2.8246) == "2.82 N·m (25.0 in-lb)"
    assert units.show_torque(94.9) == "94.9 N·m (70.0 ft-lb)"


def test_nothing_is_rounded_on_the_way() -> None:
    for thou in range(-300, 301):
        mm = units.parse_length(f"{thou} thou")
        assert mm / units.MM_PER_THOU == pytest.approx(thou, abs=1e-12)


@pytest.mark.parametrize("text", ["0.18 cm", "0.018cm", "-0.1 mm", "1.8 mm", "180 thou"])
def test_a_backlash_in_centimetres_or_far_off_is_a_slip(text: str) -> None:
    with pytest.raises(QuantityError) as slip:
        parse_measured("backlash", text)
    assert slip.value.code in ("backlash-negative", "backlash-impossible")
    assert parse_measured("distance", "12 cm") == pytest.approx(120)


@pytest.mark.parametrize(("text", "notches"), [("1,5", 1.5), ("-2", -2), (" −0.5 ", -0.5), ("1e3", 1000)])
def test_notches_as_people_write_them(text: str, notches: float) -> None:
    assert parse_notches(text) == notches


@pytest.mark.parametrize("text", ["", "two", "1001", "nan", "1.5 mm"])
def test_what_counts_no_notches_is_refused(text: str) -> None:
    with pytest.raises(QuantityError) as told:
        parse_notches(text)
    assert told.value.code == "notches"


def test_a_backlash_in_inches_told_as_mm_is_refused() -> None:
    with pytest.raises(QuantityError, match="less than a dial tells"):
        parse_measured("backlash", "0.008 mm")
    assert parse_measured("backlash", "0 mm") == 0
    assert parse_measured("backlash", "0.008 in") == pytest.approx(0.2032)
