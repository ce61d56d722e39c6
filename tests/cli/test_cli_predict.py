"""`contactread predict` as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from contactread.axle_file import load_axle
from contactread.cli.main import main
from contactread.cli.reading_file import seen_in

AXLE = """
name = "Bench axle <3> & co"
[gears]
pinion_teeth = 11
ring_teeth = 41
ring_diameter = "210 mm"
face_width = "32 mm"
offset = "30 mm"
spiral_angle = "31 deg"
pressure_angle = "20 deg"
cutter_radius = "100 mm"
cutting = "face_milled"
[ease_off]
lengthwise = "0.03 mm"
profile = "0.02 mm"
"""


@pytest.fixture
def axle(tmp_path: Path) -> Path:
    path = tmp_path / "axle.toml"
    path.write_text(AXLE, encoding="utf-8")
    return path


def run_json(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert main(["predict", *arguments, "--json"]) == 0
    shown: dict[str, Any] = json.loads(capsys.readouterr().out)
    return shown


def test_backlash_at_several_places_in_one_value_or_once_for_each(
    axle: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for places in (["0.15 0.19 0.17 mm"], ["0.15 0.19 mm", "0.17 mm"], ["0.15 mm", "0.19 mm", "0.17 mm"]):
        given = [word for place in places for word in ("--backlash", place)]
        seen = run_json(capsys, str(axle), "--pinion", "0.05 mm", *given)
        assert seen["backlash_mm"]["before"] == pytest.approx(0.17)


def test_json_fields(axle: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seen = run_json(capsys, str(axle), "--pinion", "-0.1 mm", "--ring", "+2 thou", "--backlash", "8 thou")
    assert seen["schema"] == 1
    assert seen["pinion_move_mm"] == pytest.approx(-0.1)
    assert seen["ring_move_mm"] == pytest.approx(0.0508)
    assert (seen["drive"]["flank"], seen["coast"]["flank"]) == ("convex", "concave")
    for role in ("drive", "coast"):
        for when in ("before", "after"):
            patch = seen[role][when]
            assert len(patch["centroid"]) == len(patch["length"]) == len(patch["height"]) == 2
            assert 0 < patch["area_fraction"] < 1
        assert seen[role]["after"]["centroid"][1] < seen[role]["before"]["centroid"][1]
    assert seen["backlash_mm"]["before"] == pytest.approx(0.2032)
    assert seen["backlash_mm"]["before_is"] == "measured"


def test_shims_move_the_gears_the_way_the_axle_says(axle: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = axle.read_text(encoding="utf-8")
    axle.write_text(text + '[pinion_shim]\nplace = "behind_head"\n', encoding="utf-8")
    assert run_json(capsys, str(axle), "--pinion-shim", "+0.003in")["pinion_move_mm"] == pytest.approx(
        -0.0762
    )
    axle.write_text(text + '[pinion_shim]\nplace = "under_cage"\n', encoding="utf-8")
    assert run_json(capsys, str(axle), "--pinion-shim", "+0.003in")["pinion_move_mm"] == pytest.approx(0.0762)
    both = run_json(capsys, str(axle), "--ring-side-shim", "+5 thou", "--opposite-side-shim", "-5 thou")
    assert both["ring_move_mm"] == pytest.approx(-0.127)


def test_unequal_side_shims_are_warned_of(axle: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["predict", str(axle), "--ring-side-shim", "+4 thou"]) == 0
    assert "preload" in capsys.readouterr().err


def test_words_for_people(axle: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["predict", str(axle), "--pinion", "+0.1 mm", "--ring", "-0.4 mm"]) == 0
    out = capsys.readouterr().out
    assert "Drive (convex)" in out and "higher" in out and "toward the toe" in out
    assert "would bind" in out  # 0.2 mm of backlash are gone
    assert "manual has the last word" in " ".join(out.split())


def test_reverse_rotation_swaps_the_roles(axle: Path, capsys: pytest.CaptureFixture[str]) -> None:
    axle.write_text('rotation = "reverse"\n' + AXLE, encoding="utf-8")
    assert run_json(capsys, str(axle), "--pinion", "0.05 mm")["drive"]["flank"] == "concave"


def test_a_picture_never_takes_the_place_of_a_file(
    axle: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    photo = tmp_path / "photo.png"
    photo.write_bytes(b"the user's own")
    assert main(["predict", str(axle), "--pinion", "0.1 mm", "--picture", str(photo)]) == 1
    assert "[file-exists]" in capsys.readouterr().err and photo.read_bytes() == b"the user's own"


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_picture(axle: Path, tmp_path: Path, kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    picture = tmp_path / f"chart.{kind}"
    assert main(["predict", str(axle), "--pinion", "0.1 mm", "--picture", str(picture)]) == 0
    data = picture.read_bytes()
    if kind == "svg":
        from xml.etree import ElementTree

        root = ElementTree.fromstring(data)
        assert "Bench axle <3> & co" in "".join(root.itertext())
    else:
        assert data.startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("arguments", "code", "exit_code"),
    [
        (["--pinion", "0.1"], "length-unit-missing", 2),
        (["--pinion", "3 in"], "move-too-large", 1),
        (["--pinion", "0.1 mm", "--backlash", "0.18 in"], "backlash-impossible", 2),
        (["--pinion", "0.1 mm", "--pinion-shim", "3 thou"], "usage", 2),
        (["--ring", "0.1 mm", "--opposite-side-shim", "3 thou"], "usage", 2),
        (["--pinion-shim", "3 thou"], "shim-place-unknown", 1),
        (["--picture", "chart.gif"], "picture-kind", 1),
    ],
)
def test_what_a_user_can_get_wrong(
    axle: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: str, exit_code: int
) -> None:
    assert main(["predict", str(axle), *arguments]) == exit_code
    assert f"[{code}]" in capsys.readouterr().err


def test_impossible_gears_are_one_coded_error(axle: Path, capsys: pytest.CaptureFixture[str]) -> None:
    axle.write_text(AXLE.replace("100 mm", "30 mm"), encoding="utf-8")
    assert main(["predict", str(axle), "--pinion", "0.1 mm", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["error"]["next_step"]


def reading_of(flanks: dict[str, tuple[float, float]]) -> str:
    """What `contactread read --json` prints, with the fields that matter here."""
    photos = [
        {
            "flank": flank,
            "pattern": {
                "centroid": [u, v],
                "length": [u - 0.2, u + 0.2],
                "height": [v - 0.25, v + 0.25],
                "tilt_deg": 0.0,
                "sigma": [0.01, 0.02],
            },
        }
        for flank, (u, v) in flanks.items()
    ]
    return json.dumps({"schema": 1, "photos": photos})


def test_forecast_starts_from_measured_patterns(
    axle: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    reading = tmp_path / "reading.json"
    reading.write_text(reading_of({"convex": (0.55, 0.65), "concave": (0.5, 0.62)}), encoding="utf-8")
    seen = run_json(capsys, str(axle), "--reading", str(reading), "--pinion", "-0.1 mm")
    assert seen["place_before_mm"]["pinion"] > 0.03  # high on both flanks: pinion too far away
    assert seen["drive"]["before"]["centroid"][1] == pytest.approx(0.65, abs=0.06)
    assert seen["drive"]["after"]["centroid"][1] < seen["drive"]["before"]["centroid"][1] - 0.03


def test_nothing_is_measured_without_doubt(axle: Path, tmp_path: Path) -> None:
    reading = tmp_path / "reading.json"
    reading.write_text(
        reading_of({"convex": (0.55, 0.65)}).replace("[0.01, 0.02]", "[0, 0.02]"), encoding="utf-8"
    )
    seen = seen_in(reading, load_axle(axle))
    assert seen.drive is not None and seen.drive.sigma == (0.001, 0.02) and seen.coast is None


@pytest.mark.parametrize("mm", [7.0, 0.007, -0.1])
def test_a_backlash_that_no_dial_shows_is_refused_in_a_file_too(
    axle: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], mm: float
) -> None:
    told = json.loads(reading_of({"convex": (0.55, 0.65)})) | {"backlash_mm": [0.18, mm]}
    reading = tmp_path / "reading.json"
    reading.write_text(json.dumps(told), encoding="utf-8")
    assert main(["predict", str(axle), "--reading", str(reading)]) == 2
    assert "[backlash-" in capsys.readouterr().err


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"photos": [{"flank": "convex", "pattern": 7}]}', "\x00"])
def test_a_file_that_is_no_reading_is_refused(
    axle: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    reading = tmp_path / "reading.json"
    reading.write_text(text, encoding="utf-8")
    assert main(["predict", str(axle), "--reading", str(reading)]) == 1
    assert "[reading-file]" in capsys.readouterr().err


def test_the_picture_starts_from_the_patch_that_was_read_and_the_backlash_measured_then(
    axle: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    reading = tmp_path / "reading.json"
    content = json.loads(reading_of({"convex": (0.55, 0.65), "concave": (0.5, 0.62)})) | {
        "backlash_mm": [0.17]
    }
    reading.write_text(json.dumps(content), encoding="utf-8")
    given = [str(axle), "--reading", str(reading), "--pinion", "-0.1 mm"]
    seen = run_json(capsys, *given)
    assert seen["backlash_mm"]["before_is"] == "measured"
    picture = tmp_path / "chart.svg"
    assert main(["predict", *given, "--picture", str(picture)]) == 0
    text = picture.read_text(encoding="utf-8")
    assert "read at 55%" in text and "read at 62%" in text and "wanted place of the centre" in text


def test_a_forecast_names_teeth_and_diameter_that_nobody_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    little = tmp_path / "little.toml"
    little.write_text('[gears]\npinion_teeth = 11\ncutting = "face_milled"\n', encoding="utf-8")
    assert main(["predict", str(little), "--pinion", "+0.1 mm"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "ring diameter" in told and "ring teeth" in told and "pinion teeth" not in told
