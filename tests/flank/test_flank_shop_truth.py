"""The command that measures readings on a shop's own corrected photos."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from calibration.shop_truth import bounds, outcome

SAMPLE = Path(__file__).parents[2] / "sample_images" / "ash_good"


@pytest.mark.parametrize(("right", "of"), [(0, 5), (5, 5), (3, 4), (47, 50), (1, 200)])
def test_bounds_are_clopper_and_pearsons(right: int, of: int) -> None:
    beta = pytest.importorskip("scipy.stats", reason="scipy is an extra").beta
    low = 0.0 if right == 0 else beta.ppf(0.025, right, of - right + 1)
    high = 1.0 if right == of else beta.ppf(0.975, right + 1, of - right)
    assert bounds(right, of) == pytest.approx((low, high), abs=1e-6)


def test_a_corrected_photo_is_the_truth(tmp_path: Path) -> None:
    photo = tmp_path / "drive.jpg"
    shutil.copy(SAMPLE / "drive.jpg", photo)
    teeth = json.loads((SAMPLE / "drive_corners.json").read_text(encoding="utf-8"))["teeth"]
    told = outcome(photo, {"flank": "convex", "teeth": teeth, "centre": None})
    assert told.right and told.corners and max(told.corners) < 0.1
    assert not outcome(photo, {"flank": "concave", "teeth": teeth, "centre": [0.4, 0.4]}).right
    assert not outcome(photo, {"no_pattern": True}).right
