# mypy: disable-error-code="comparison-overlap"
# pytest.approx stands for a number in what is compared.
"""One axle, one reading, one move: one forecast, through whichever door it is asked for."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calibration.set_ups import MisSetUp, draw, read, true_state
from contactread.advice import advise
from contactread.axle import FLANKS, Axle, EaseOff, GearSet, Limits
from contactread.axle_file.write import axle_toml
from contactread.belief import Seen, believe, foresee
from contactread.belief.forecast import SUPPOSED_BACKLASH_MM
from contactread.cli.main import main
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import MeshModel
from contactread.pattern.measures import Setup, Side

GEARS = GearSet(11, 41, 210.0, 32.0, 30.0, 31.0, 20.0, 100.0, hand="right", cutting="face_milled")
KNOWN = Axle(GEARS, ease_off=EaseOff(0.03, 0.02, 0.0))
VAGUE = Axle(GearSet(11, 41, 210.0))
AWAY = Displacement(pinion=0.1)
HERE = Displacement()


@pytest.fixture(scope="module")
def case() -> MisSetUp:
    return draw(np.random.default_rng(22))


def reading(case: MisSetUp, pinion: float = 0.2, ring: float = -0.05) -> Setup:
    setup = read(true_state(case, pinion, ring), np.random.default_rng(3))
    assert setup is not None
    return setup


def test_every_door_gives_the_same_forecast(
    case: MisSetUp, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Advice, the library and `predict --reading` on one reading: centres, backlash and doubt to 1e-6."""
    setup = reading(case)
    advice = advise(setup, case.axle)
    expected = advice.moves[-1].expected
    assert expected is not None and advice.pinion_mm is not None and advice.ring_mm is not None
    file, axle_file = tmp_path / "reading.json", tmp_path / "axle.toml"
    file.write_text(
        json.dumps({"photos": [photo(side) for side in (setup.drive, setup.coast)]}), encoding="utf-8"
    )
    axle_file.write_text(axle_toml(case.axle), encoding="utf-8")
    moves = ["--pinion", f"{advice.pinion_mm!r} mm", "--ring", f"{advice.ring_mm!r} mm"]
    backlash = ["--backlash", f"{setup.backlash_mm[0]!r} mm"]
    assert main(["predict", str(axle_file), "--reading", str(file), *moves, *backlash, "--json"]) == 0
    seen = json.loads(capsys.readouterr().out)
    library = believe(case.axle, setup).forecast(advice.pinion_mm, advice.ring_mm)
    for role, flank, centre, sigma in (
        ("drive", "convex", expected.drive, expected.drive_sigma),
        ("coast", "concave", expected.coast, expected.coast_sigma),
    ):
        patch = library.after.patch("convex" if flank == "convex" else "concave")
        assert patch is not None
        assert seen[role]["after"]["centroid"] == pytest.approx(centre, abs=1e-6)
        assert patch.centre == pytest.approx(centre, abs=1e-6)
        assert seen[role]["standard_deviation_after"] == pytest.approx(sigma, abs=1e-6)
    assert seen["backlash_mm"]["after"] == pytest.approx(expected.backlash_mm, abs=1e-6)


def photo(side: Side) -> dict[str, Any]:
    pattern = {
        "centroid": side.centre,
        "length": side.length,
        "height": side.height,
        "sigma": side.sigma,
        "tilt_deg": side.tilt_deg,
        "runs_off": sorted(side.runs_off),
    }
    return {"flank": side.flank, "pattern": pattern}


def test_known_gears_are_the_mesh_itself() -> None:
    seen = foresee(KNOWN, HERE, AWAY)
    mesh = MeshModel(KNOWN).predict(0.1)
    assert seen.known and seen.backlash_spread_mm == 0 and seen.shift_spread["convex"] == (0, 0)
    assert [seen.after.patch(flank) for flank in FLANKS] == [mesh.convex, mesh.concave]


def test_unknown_gears_carry_their_doubt_and_both_methods() -> None:
    seen = foresee(VAGUE, HERE, AWAY)
    assert not seen.known and seen.backlash_spread_mm > 0 and min(seen.shift_spread["convex"]) > 0.003
    milled, hobbed = seen.methods
    assert milled.chance + hobbed.chance == pytest.approx(1.0)
    assert milled.shift["concave"] != hobbed.shift["concave"]


def test_a_forecast_says_where_backlash_comes_from() -> None:
    end = Displacement(ring=-0.1)
    assert foresee(KNOWN, HERE, end, 0.18).before.backlash_mm == pytest.approx(0.18)
    limits = foresee(replace(KNOWN, limits=Limits(backlash_mm=(0.15, 0.25))), HERE, end)
    assert (limits.backlash_from, limits.before.backlash_mm) == ("limits", pytest.approx(0.2))
    supposed = foresee(KNOWN, HERE, end)
    assert (supposed.backlash_from, supposed.before.backlash_mm) == (
        "supposed",
        pytest.approx(SUPPOSED_BACKLASH_MM),
    )
    assert supposed.after.backlash_mm < supposed.before.backlash_mm


def test_one_flank_alone_leaves_more_open(case: MisSetUp) -> None:
    setup = reading(case)
    both = believe(case.axle, setup).forecast(-0.1, 0.0).before
    one = believe(case.axle, Seen(setup.drive, None, setup.backlash_mm)).forecast(-0.1, 0.0).before
    assert one.sigma["concave"][0] > both.sigma["concave"][0]
    assert one.centre["convex"] == pytest.approx(both.centre["convex"], abs=0.1)


def test_patterns_that_no_place_explains_show_as_misfit(case: MisSetUp) -> None:
    setup = reading(case, 0.0, 0.0)
    assert believe(case.axle, setup).misfit < 2
    up, down = (
        replace(side, centre=(side.centre[0], v)) for side, v in ((setup.drive, 0.75), (setup.coast, 0.25))
    )
    assert believe(case.axle, replace(setup, drive=up, coast=down)).misfit > 2


def test_sizes_tell_the_relief(case: MisSetUp) -> None:
    """A shorter patch speaks for more crowning."""

    def length_relief(scale: float) -> float:
        setup = reading(case, 0.0, 0.0)
        sides = [replace(s, length=(0.5 - scale / 2, 0.5 + scale / 2)) for s in (setup.drive, setup.coast)]
        return believe(case.axle, replace(setup, drive=sides[0], coast=sides[1])).drawn.relief_mm()[0][0]

    assert length_relief(0.3) > 1.5 * length_relief(0.6)
