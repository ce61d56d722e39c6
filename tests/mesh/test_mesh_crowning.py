"""From measured patches back to place and relief."""

from __future__ import annotations

import numpy as np
import pytest

from contactread.axle import Axle, EaseOff, GearSet
from contactread.errors import MechanicsError
from contactread.mesh.crowning import Measured, model_from_pattern
from contactread.mesh.forecast import forecast_from_patterns
from contactread.mesh.response import FLANKS, MeshModel
from contactread.patch import Patch

GEARS = GearSet(11, 41, 210.0, 32.0, 30.0, 31.0, 20.0, 100.0, cutting="face_milled")


def as_measured(patch: Patch | None, shift: tuple[float, float] = (0.0, 0.0)) -> Measured:
    assert patch is not None
    du, dv = shift
    return Measured(
        (patch.centre[0] + du, patch.centre[1] + dv),
        (patch.length[0] + du, patch.length[1] + du),
        (patch.height[0] + dv, patch.height[1] + dv),
        patch.tilt_deg,
    )


@pytest.mark.parametrize("relief", [EaseOff(0.02, 0.03, 0.004), EaseOff(0.06, 0.014, -0.004)])
def test_place_and_relief_are_found_again(relief: EaseOff) -> None:
    """Exact measurements: place within 0.03 mm, relief within a fifth (priors pull a little)."""
    truth = MeshModel(Axle(GEARS, ease_off=relief)).predict(0.1, -0.08)
    found = model_from_pattern(Axle(GEARS), {f: as_measured(truth.patch(f)) for f in FLANKS})
    assert found.place.pinion == pytest.approx(0.1, abs=0.03)
    assert found.place.ring == pytest.approx(-0.08, abs=0.03)
    assert np.log(found.model.ease_off.lengthwise_mm / relief.lengthwise_mm) == pytest.approx(0, abs=0.2)
    assert np.log(found.model.ease_off.profile_mm / relief.profile_mm) == pytest.approx(0, abs=0.2)
    assert found.misfit < 0.3
    assert 0 < found.place_sigma[0] < 0.1


def test_one_flank_alone_leaves_more_open() -> None:
    truth = MeshModel(Axle(GEARS)).predict(0.1, 0.0)
    both = model_from_pattern(Axle(GEARS), {f: as_measured(truth.patch(f)) for f in FLANKS})
    one = model_from_pattern(Axle(GEARS), {"convex": as_measured(truth.convex)})
    assert max(one.place_sigma) > max(both.place_sigma)


def test_patterns_that_no_place_explains_show_as_misfit() -> None:
    truth = MeshModel(Axle(GEARS)).predict()
    torn = {
        "convex": as_measured(truth.convex, (0.0, 0.25)),
        "concave": as_measured(truth.concave, (0.0, -0.25)),
    }
    assert model_from_pattern(Axle(GEARS), torn).misfit > 2  # type: ignore[arg-type]


def test_relief_of_the_axle_file_is_kept_near() -> None:
    truth = MeshModel(Axle(GEARS, ease_off=EaseOff(0.06, 0.02, 0.0))).predict()
    given = Axle(GEARS, ease_off=EaseOff(0.03, 0.02, 0.0))
    measured = {f: as_measured(truth.patch(f)) for f in FLANKS}
    kept = model_from_pattern(given, measured).model.ease_off.lengthwise_mm
    free = model_from_pattern(Axle(GEARS), measured).model.ease_off.lengthwise_mm
    assert 0.03 < kept < free


def test_forecast_from_patterns_carries_the_unknown_geometry() -> None:
    truth = MeshModel(Axle(GEARS)).predict(0.1, 0.0)
    measured = {f: as_measured(truth.patch(f)) for f in FLANKS}
    vague = Axle(GearSet(11, 41, 210.0, cutting="face_milled"))
    seen = forecast_from_patterns(vague, measured, -0.1, 0.0, 0.2, draws=5)
    shift = seen.shift("convex")
    assert shift is not None and shift[1] < -0.03
    assert seen.shift_spread["convex"][1] > 0 and seen.fit is not None


def test_no_contact_at_all_is_said() -> None:
    relief = EaseOff(1.0, 1.0, 2.0)
    with pytest.raises(MechanicsError) as caught:
        model_from_pattern(
            Axle(GEARS, ease_off=relief),
            {"convex": Measured((0.5, 0.5), (0.3, 0.7), (0.3, 0.7))},
            _NoContact(Axle(GEARS)),
        )
    assert caught.value.code == "no-fit"


class _NoContact(MeshModel):
    """Gears that never touch."""

    def patch(self, flank, at):  # type: ignore[no-untyped-def]
        return None
