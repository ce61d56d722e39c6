"""`contactread read`: the contract of its output, its exit codes, and files that are never overwritten."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from made_reading import made_reading

import contactread.reading
from contactread.axle import FlankName
from contactread.cli import reading_job
from contactread.cli.main import main
from contactread.errors import PhotoError
from contactread.flags import flag
from contactread.reading import Reading

AXLE = """
[gears]
pinion_teeth = 11
ring_teeth = 41
ring_diameter = "218 mm"
cutting = "face_milled"
[pinion_shim]
place = "behind_head"
thickness = "0.86 mm"
"""


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with photos whose reading is known by their name; the pipeline itself has its own tests."""
    monkeypatch.chdir(tmp_path)
    for name in ("drive.png", "drive2.png", "coast.png", "dark.png"):
        cv2.imwrite(name, np.full((600, 800, 3), 90, np.uint8))
    (tmp_path / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0")
    (tmp_path / "axle.toml").write_text(AXLE, encoding="utf-8")

    def read(photo: Any, **options: Any) -> Reading:
        assert options["flank"] in (None, "convex", "concave")
        if photo.path.stem == "dark":
            raise flag("too-dark").refusal()
        kind: FlankName = "concave" if photo.path.stem == "coast" else "convex"
        reading = made_reading(photo.path, kind, (0.42, 0.2) if options["corners"] is None else (0.5, 0.5))
        return replace(reading, confidence=0.7 if photo.path.stem == "drive2" else 0.9)

    monkeypatch.setattr(contactread.reading, "read", read)
    return tmp_path


def run_json(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, dict[str, Any]]:
    code = main(["read", *arguments, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_pair_is_advised_in_either_order(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, one = run_json(capsys, "drive.png", "coast.png", "--axle", "axle.toml", "--backlash", "7 thou")
    assert code == 0
    code, other = run_json(capsys, "coast.png", "drive.png", "--axle", "axle.toml", "--backlash", "7 thou")
    assert code == 0
    assert one["advice"] == other["advice"]
    assert one["advice"]["cautions"]
    assert one["estimated"]["offset_mm"]["standard_deviation"] > 0
    assert one["backlash_mm"] == [pytest.approx(0.1778)]
    assert [photo["side"] for photo in other["photos"]] == ["coast", "drive"]


def test_json_contract(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, result = run_json(capsys, "drive.png", "dark.png", "broken.jpg", "nowhere.jpg")
    assert code == 3
    assert result["schema"] == 1
    read, *refused = result["photos"]
    assert read["path"] == "drive.png"
    assert read["status"] == "read"
    assert read["refusal"] is None
    assert (read["flank"], read["side"]) == ("convex", "drive")
    assert 0 <= read["confidence"] <= 1
    assert read["flags"] == ["oblique", "scatter"]
    painted = [tooth for tooth in read["teeth"] if tooth["painted"]]
    assert len(painted) == 3
    assert set(painted[0]["corners_px"]) == {"toe_root", "toe_top", "heel_top", "heel_root"}
    assert painted[0]["corners_px"]["toe_root"] == pytest.approx([150, 180])
    for patch in (painted[0]["pattern"], read["pattern"]):
        assert patch["centroid"] == [0.42, 0.2]
        assert patch["length"] == [0.22, 0.62]
        assert patch["height"] == [0.05, 0.35]
        assert patch["runs_off"] == []
        assert patch["area_fraction"] == 0.2
    assert "tilt_deg" in painted[0]["pattern"]
    assert read["pattern"]["spread"] == {"length": 0.01, "height": 0.015}
    assert read["teeth"][-1]["pattern"] is None
    for photo, wanted in zip(refused, ("too-dark", "photo-truncated", "photo-missing"), strict=True):
        assert photo["status"] == "refused"
        assert photo["refusal"]["code"] == wanted
        assert photo["refusal"]["next_step"]
        assert photo["pattern"] is None
    assert result["advice"] is None


def test_progress_goes_to_stderr(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", "drive.png", "coast.png", "dark.png", "--json"]) == 3
    seen = capsys.readouterr()
    assert "Reading 1 of 3: drive.png" in seen.err
    assert json.loads(seen.out)["schema"] == 1


def test_photos_read_side_by_side_are_as_if_read_alone() -> None:
    """One of them shows both flanks; they come in the order in which they were given."""
    samples = Path(__file__).parents[2] / "sample_images"
    photos = [samples / "ash_too_deep" / "drive.jpg", samples / "ash_good" / "coast.jpg"]
    beside = list(reading_job.read_all(photos, {}, [None, None], None))
    alone = [reading_job.read_each(path, None, None, None) for path in photos]
    assert [[each.to_json() for each in read] for read in beside] == [
        [each.to_json() for each in read] for read in alone
    ]


def test_terminal_says_where_why_and_what_next(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = ["drive.png", "coast.png", "dark.png", "--axle", "axle.toml", "--explain"]
    assert main(["read", *given]) == 3
    seen = capsys.readouterr()
    text = " ".join(seen.out.split())
    assert "Drive pattern (convex flank)" in text
    assert "Coast pattern (concave flank)" in text
    assert flag("too-dark").next_step[:40] in text
    assert "Cautions" in text
    assert "Estimated, as the axle file leaves it out: face width about 34 mm" in text
    assert "Reading 1 of 3" in seen.err
    assert "\x1b" not in seen.out


def test_one_side_alone_says_what_is_lacking(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", "drive.png"]) == 0
    assert "Photograph the coast side too" in capsys.readouterr().out
    code, result = run_json(capsys, "drive.png", "drive2.png")
    assert code == 0
    assert "All photos show the drive side." in result["no_advice"]
    assert result["no_advice_code"] == "sides-missing"


def test_flank_for_all_or_for_each() -> None:
    photos = [Path("a"), Path("b")]
    assert reading_job.flanks_for(photos, []) == [None, None]
    assert reading_job.flanks_for(photos, ["convex"]) == ["convex", "convex"]
    assert reading_job.flanks_for(photos, ["auto", "concave"]) == [None, "concave"]
    assert reading_job.flanks_for([], ["convex"]) == []


def test_surest_photo_of_a_side_counts(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, with_worse = run_json(capsys, "drive2.png", "coast.png", "drive.png")
    _, without = run_json(capsys, "coast.png", "drive.png")
    assert with_worse["advice"] == without["advice"]


def test_pictures_go_into_new_folders_and_nothing_is_overwritten(shop: Path) -> None:
    before = {path.name: path.read_bytes() for path in shop.iterdir()}
    for number in (1, 2):
        assert main(["read", "drive.png", "coast.png"]) == 0
        folder = shop / f"contactread-marked-{number}"
        assert sorted(path.name for path in folder.iterdir()) == ["coast-marked.jpg", "drive-marked.jpg"]
    first = (shop / "contactread-marked-1" / "drive-marked.jpg").read_bytes()
    assert main(["read", "drive.png", "--marked", "contactread-marked-1"]) == 0
    assert (shop / "contactread-marked-1" / "drive-marked.jpg").read_bytes() == first
    assert (shop / "contactread-marked-1" / "drive-marked-2.jpg").exists()
    assert {name: (shop / name).read_bytes() for name in before} == before


def test_no_pictures_no_folder(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = sorted(path.name for path in shop.iterdir())
    assert main(["read", "drive.png", "--no-pictures"]) == 0
    assert main(["read", "dark.png"]) == 3
    capsys.readouterr()
    run_json(capsys, "drive.png")
    assert sorted(path.name for path in shop.iterdir()) == before
    _, result = run_json(capsys, "drive.png", "--marked", "m")
    assert Path(result["photos"][0]["marked"]).read_bytes()[:2] == b"\xff\xd8"


def test_corners_by_file_and_by_name(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("one.json").write_text('{"teeth": []}', encoding="utf-8")
    Path("both.json").write_text('{"photos": {"coast.png": {"teeth": []}}}', encoding="utf-8")
    _, result = run_json(capsys, "drive.png", "coast.png", "--corners", "both.json")
    centres = {Path(photo["path"]).stem: photo["pattern"]["centroid"] for photo in result["photos"]}
    assert centres == {"drive": [0.42, 0.2], "coast": [0.5, 0.5]}
    code, result = run_json(capsys, "drive.png", "coast.png", "--corners", "one.json")
    assert (code, result["error"]["code"]) == (1, "corners-count")
    code, result = run_json(capsys, "drive.png", "--corners", "both.json")
    assert (code, result["error"]["code"]) == (1, "corners-unknown-photo")


@pytest.mark.parametrize(
    ("arguments", "exit_code", "code"),
    [
        (["drive.png", "--backlash", "0.18"], 2, "length-unit-missing"),
        (["drive.png", "--backlash", "-7 thou"], 2, "backlash-negative"),
        (["drive.png", "--flank", "upper"], 2, "usage"),
        (["drive.png", "--no-such-option"], 2, "usage"),
        ([], 2, "usage"),
        (["drive.png", "--flank", "convex", "--flank", "auto"], 1, "flank-count"),
        (["drive.png", "--axle", "none.toml"], 1, "axle-missing"),
        (["drive.png", "--marked", "axle.toml"], 1, "marked-not-a-folder"),
    ],
)
def test_wrong_use(
    arguments: list[str], exit_code: int, code: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    got, result = run_json(capsys, *arguments)
    assert (got, result["error"]["code"]) == (exit_code, code)
    assert main(["read", *arguments]) == exit_code
    assert capsys.readouterr().err.rstrip().endswith(f"[{code}]")


def test_hostile_names_stay_text(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name = "[red]\x1b[31m\u202egnp.png"
    Path("drive.png").rename(name)
    main(["read", name, "--no-pictures"])
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "\u202e" not in out
    assert "[red]\\x1b[31m" in out


def test_a_fault_in_one_photo_is_not_hidden(shop: Path, monkeypatch: pytest.MonkeyPatch,
                                            capsys: pytest.CaptureFixture[str]) -> None:  # fmt: skip
    monkeypatch.delenv("CONTACTREAD_DEBUG", raising=False)

    def broken(photo: Any, **options: Any) -> Reading:
        raise KeyError("oops")

    monkeypatch.setattr(contactread.reading, "read", broken)
    assert main(["read", "drive.png"]) == 1
    assert "[fault]" in capsys.readouterr().err


def test_refusals_are_results_for_every_photo_error() -> None:
    result = reading_job.Result(
        Path("x.jpg"), None, PhotoError("photo-empty", "It is empty.", "Copy it."), None
    )
    assert result.to_json()["refusal"] == {
        "code": "photo-empty",
        "message": "It is empty.",
        "next_step": "Copy it.",
    }


def test_a_picture_that_cannot_be_written_does_not_cost_the_reading(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(self: Path, *arguments: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "mkdir", full)
    assert main(["read", "drive.png"]) == 0
    seen = capsys.readouterr()
    assert "DRIVE side" in seen.out
    assert "No space left on device" in seen.err


def test_a_bad_file_is_refused_before_anything_slow_is_imported(tmp_path: Path) -> None:
    script = f"""
import sys
from contactread.cli.main import main
code = main(["read", {str(tmp_path / "none.jpg")!r}, "--json"])
print(code, *sorted({{"numpy", "cv2", "rich", "scipy"}} & set(sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    assert done.stdout.splitlines()[-1] == "3"
