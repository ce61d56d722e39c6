"""Each measure of how flanks show has its note and its refusal, on both sides of its limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from contactread.errors import PhotoError
from contactread.flank.verdict import Showing, check_paint, nothing_seen, picture_flags

CLEAR = Showing(light=150.0, sharp=0.3, length=300.0, slant=0.3, burnt=0.0)


def test_a_clear_photo_has_no_flag() -> None:
    assert picture_flags(CLEAR) == ()


@pytest.mark.parametrize(
    ("measure", "noted_at", "code", "refused_at", "refusal"),
    [
        ("light", 60.0, "dark", 40.0, "too-dark"),
        ("sharp", 0.12, "blurred", 0.08, "too-blurred"),
        ("length", 90.0, "small-teeth", 40.0, "teeth-too-small"),
        ("burnt", 0.2, "glare", 0.5, "glare-over-flanks"),
        ("slant", 0.10, "oblique", 0.05, "too-oblique"),
    ],
)
def test_each_measure_is_noted_and_then_refused(
    measure: str, noted_at: float, code: str, refused_at: float, refusal: str
) -> None:
    assert picture_flags(replace(CLEAR, **{measure: noted_at})) == (code,)
    with pytest.raises(PhotoError) as told:
        picture_flags(replace(CLEAR, **{measure: refused_at}))
    assert told.value.code == refusal


def test_one_painted_tooth_is_not_enough() -> None:
    with pytest.raises(PhotoError) as told:
        check_paint([0.9, 0.3])
    assert told.value.code == "too-few-teeth"
    check_paint([0.9, 0.9, 0.1])


def test_a_picture_with_nothing_lit_is_too_dark_whatever_else_it_lacks() -> None:
    grain = np.random.default_rng(1).integers(0, 30, (240, 320)).astype(np.uint8)
    assert nothing_seen(grain).code == "too-dark"
    assert nothing_seen(np.full((240, 320), 120, np.uint8)).code == "too-blurred"
    sharp = np.kron(grain // 15 * 120, np.ones((4, 4), np.uint8))
    assert nothing_seen(sharp).code == "no-ring-gear"
    assert nothing_seen(sharp, bare=True).code == "no-compound"
