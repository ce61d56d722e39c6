"""The main job on the sample photographs, from the command line to the advice and the marked-up pictures.

The flanks are given by hand here; finding them has its own tests. The samples are rendered, their truth is
exact; what a set-up was given (pinion too deep) must come back as advice.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from contactread.cli.main import main

SAMPLES = Path(__file__).parents[2] / "sample_images"


def read_set_up(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    folder = SAMPLES / name
    if not (folder / "drive.jpg").exists():
        pytest.skip(f"sample_images/{name} isn't there")
    arguments = ["read", "--axle", str(folder / "axle.toml"), "--marked", str(tmp_path), "--json"]
    arguments += ["--backlash", "0.18 mm"]  # else the answer is to measure it
    for side in ("coast", "drive"):
        arguments += [str(folder / f"{side}.jpg"), "--corners", str(folder / f"{side}_corners.json")]
    assert main(arguments) == 0
    shown: dict[str, Any] = json.loads(capsys.readouterr().out)
    return shown


@pytest.mark.parametrize(("name", "direction"), [("ash_too_deep", "away"), ("ash_too_shallow", "toward")])
def test_depth_that_was_set_wrong_comes_back_as_advice(
    name: str, direction: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = read_set_up(name, tmp_path, capsys)
    for photo in shown["photos"]:
        truth = json.loads(Path(photo["path"]).with_suffix(".json").read_text(encoding="utf-8"))
        assert photo["side"] == truth["side"]
        seen = [t for t in truth["teeth"] if t["painted"] and t["contact"] and t["visible_fraction"] >= 0.6]
        for axis, allowed in ((0, 0.06), (1, 0.10)):
            true = sum(tooth["contact"]["centroid_uv"][axis] for tooth in seen) / len(seen)
            assert photo["pattern"]["centroid"][axis] == pytest.approx(true, abs=allowed)
        assert Path(photo["marked"]).stat().st_size > 10_000
    moves = [move for move in shown["advice"]["moves"] if move["member"] == "pinion"]
    assert [move["direction"] for move in moves] == [direction]
    assert shown["advice"]["cautions"]


def test_one_photo_of_both_sides_is_noticed_and_read_for_each(capsys: pytest.CaptureFixture[str]) -> None:
    photo = str(SAMPLES / "cedar_both" / "both.jpg")
    assert main(["read", photo, "--json"]) == 0
    assert "both-flanks" in json.loads(capsys.readouterr().out)["photos"][0]["flags"]
    assert main(["read", photo, photo, "--flank", "convex", "--flank", "concave", "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert [entry["side"] for entry in shown["photos"]] == ["drive", "coast"]
    assert shown["advice"] is not None


def advice_on(name: str, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    """The advice on a sample's two photos, nothing marked by hand."""
    folder = SAMPLES / name
    photos = [str(folder / "drive.jpg"), str(folder / "coast.jpg")]
    told = ["read", *photos, "--axle", str(folder / "axle.toml"), "--backlash", "0.18 mm", "--json"]
    assert main(told) == 0
    advice: dict[str, Any] = json.loads(capsys.readouterr().out)["advice"]
    return advice


def test_a_pattern_that_runs_off_gets_its_move_from_the_first_two_photos(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Each measure alone may be right, yet the coast pattern runs off the root and the move would mend it."""
    moves = advice_on("birch_too_deep", capsys)["moves"]
    assert [move["direction"] for move in moves if move["member"] == "pinion"] == ["away"]


def test_no_rule_names_a_move_beside_a_fault(capsys: pytest.CaptureFixture[str]) -> None:
    advice = advice_on("birch_crossed", capsys)
    assert advice["verdict"] == "not_a_shim_problem" and not advice["moves"]
    assert "Move the" not in " ".join(statement["text"] for statement in advice["diagnosis"])
