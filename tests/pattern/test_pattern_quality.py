"""How sure a reading is said to be, and where nine centres in ten lie."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from contactread import read
from contactread.errors import PhotoError
from contactread.pattern import quality
from contactread.pattern.quality import (
    FACTORS,
    LEAST_SURE,
    SURE_ENOUGH,
    Evidence,
    agreement,
    class_of,
    confidence,
    interval,
)

SAMPLE = Path(__file__).parents[2] / "sample_images" / "ash_good" / "drive.jpg"
CLEAR = Evidence(9.0, 13.0, 7.0, 0.85, 1.0, 1.0, 5, 0.01, 0.055, 1.0, 400.0)
FAINT = Evidence(3.0, 3.0, 0.5, 0.3, 0.65, 0.6, 2, 0.08, 0.09, 0.6, 80.0)


def test_clear_evidence_is_sure_and_faint_is_none() -> None:
    assert confidence(CLEAR) > 0.85 > SURE_ENOUGH > LEAST_SURE > confidence(FAINT)


@pytest.mark.parametrize(
    ("name", "worse"),
    [("gain", 2.0), ("own", 0.3), ("agreement", 0.3), ("peak", 0.6), ("teeth", 2), ("sigma", 0.15)],
)
def test_less_of_any_evidence_is_less_sure(name: str, worse: float) -> None:
    assert confidence(replace(CLEAR, **{name: worse})) < confidence(CLEAR)


def test_agreement_of_two_maps() -> None:
    one = np.array([1, 1, 0, 0], np.float32)
    assert agreement(one, one) == 1
    assert agreement(one, one[::-1]) == 0
    assert agreement(one, np.array([1, 0, 0, 0], np.float32)) == 0.5
    assert agreement(0 * one, 0 * one) == 0


def test_classes_and_their_intervals() -> None:
    assert class_of(("corners-by-hand", "both-flanks"), 3) == "clear"
    assert class_of(("cut-off",), 5) == class_of((), 2) == "ordinary"
    assert class_of(("cut-off", "dark"), 5) == "hard"
    (low, high), (bottom, top) = interval((0.4, 0.5), (0.02, 0.04), "clear")
    assert (high - low, top - bottom) == pytest.approx(
        (0.04 * FACTORS["clear"][0], 0.08 * FACTORS["clear"][1])
    )


def test_a_reading_that_is_not_sure_at_all_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    reading = read(SAMPLE)
    assert reading.confidence > SURE_ENOUGH
    (low, high), _ = reading.interval
    assert low < reading.side.centre[0] < high
    monkeypatch.setattr("contactread.reading.path.confidence", lambda _: LEAST_SURE / 2)
    with pytest.raises(PhotoError) as refused:
        read(SAMPLE)
    assert refused.value.code == "no-pattern"
    assert quality.BIAS < 0
