"""read(): the whole path, on the repository's own sample pictures."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from contactread import read
from contactread.axle import Axle, FlankName
from contactread.axle_file import load_axle
from contactread.errors import CornersError, PhotoError, QuantityError
from contactread.flank.corners import flanks_from_corners
from contactread.flank.flank import Found
from contactread.photo.load import load_photo
from contactread.photo.photo import Photo
from contactread.reading import PERHAPS_ANOTHER_AXLE, Reading, pair

SAMPLE = Path(__file__).parents[2] / "sample_images" / "ash_good"
pytestmark = pytest.mark.skipif(not SAMPLE.is_dir(), reason="the sample pictures aren't there")


@pytest.fixture(scope="module", params=["drive", "coast"])
def case(request: pytest.FixtureRequest) -> tuple[dict[str, Any], Reading]:
    truth = json.loads((SAMPLE / f"{request.param}.json").read_text(encoding="utf-8"))
    axle = load_axle(SAMPLE / "axle.toml")
    corners = SAMPLE / f"{request.param}_corners.json"
    return truth, read(SAMPLE / f"{request.param}.jpg", corners=corners, axle=axle)


def test_side_and_place(case: tuple[dict[str, Any], Reading]) -> None:
    truth, reading = case
    assert reading.side.role == truth["side"]
    assert reading.side.flank == truth["flank_shown"]
    assert reading.side.compound == truth["compound"]["colour"]
    seen = [
        tooth["contact"]["centroid_uv"]
        for tooth in truth["teeth"]
        if tooth["painted"] and tooth["visible_fraction"] >= 0.6
    ]
    off = np.subtract(reading.side.centre, np.mean(seen, axis=0))
    assert abs(off[0]) < 0.03
    assert abs(off[1]) < 0.06
    assert "corners-by-hand" in reading.flags


def test_margins_and_outlines_are_there(case: tuple[dict[str, Any], Reading]) -> None:
    _, reading = case
    assert reading.side.margins_mm is not None
    assert reading.side.margins_mm["toe"] > 1
    assert all(tooth.pattern.outlines for tooth in reading.teeth if tooth.pattern)
    assert 0.5 < reading.confidence <= 1


def test_json_is_plain(case: tuple[dict[str, Any], Reading]) -> None:
    text = json.dumps(case[1].to_json(), allow_nan=False)
    assert json.loads(text)["status"] == "read"


def test_the_users_flank_and_rotation_decide_the_role() -> None:
    corners = SAMPLE / "drive_corners.json"
    reading = read(SAMPLE / "drive.jpg", corners=corners, flank="concave")
    assert (reading.side.flank, reading.side.role) == ("concave", "coast")


def test_a_finder_of_ones_own_plugs_in_and_has_the_axle() -> None:
    given = []

    def finder(photo: Photo, name: FlankName | None, axle: Axle | None) -> Found:
        given.append(axle)
        flanks = flanks_from_corners(photo, SAMPLE / "drive_corners.json")
        return Found("convex", 0.6, tuple(flanks), flags=("blurred",))

    axle = load_axle(SAMPLE / "axle.toml")
    reading = read(load_photo(SAMPLE / "drive.jpg"), finder=finder, axle=axle)
    assert given == [axle]
    assert reading.side.flank == "convex"
    assert {"blurred", "flank-uncertain"} <= set(reading.flags)
    assert "corners-by-hand" not in reading.flags


def test_a_single_tooth_by_hand_is_read_with_a_warning() -> None:
    marks = json.loads((SAMPLE / "drive_corners.json").read_text(encoding="utf-8"))
    reading = read(SAMPLE / "drive.jpg", corners={"teeth": marks["teeth"][:1]}, flank="convex")
    assert "few-teeth" in reading.flags


def test_faulty_corners_and_a_grey_photo_are_refused() -> None:
    with pytest.raises(CornersError):
        read(SAMPLE / "drive.jpg", corners={"teeth": []})
    grey = Photo(None, np.full((1600, 1200, 3), 90, np.uint8), "", "png")
    with pytest.raises(PhotoError):
        read(grey, corners=SAMPLE / "drive_corners.json")


@pytest.mark.parametrize(("dimmed", "code"), [(0.3, "dark"), (0.2, "too-dark")])
def test_a_dark_photo_is_told_whoever_marked_the_flanks(dimmed: float, code: str) -> None:
    photo = load_photo(SAMPLE / "drive.jpg")
    dark = Photo(None, (photo.pixels * dimmed).astype(np.uint8), "", "png")
    told = []
    for corners in (None, SAMPLE / "drive_corners.json"):
        try:
            told.append(read(dark, corners=corners).flags)
        except PhotoError as refusal:
            told.append((refusal.code,))
    assert all(code in codes for codes in told), told


def test_doubt_about_the_flanks_themselves_is_stated() -> None:
    """Flanks that lie somewhere within a fifth of their size: no tooth, and no side, is known better."""

    def finder(photo: Photo, name: FlankName | None, axle: Axle | None) -> Found:
        found = flanks_from_corners(photo, SAMPLE / "drive_corners.json")
        flanks = [replace(flank, length_sigma=0.2, height_sigma=0.3) for flank in found]
        return Found("convex", 1.0, tuple(flanks))

    side = read(load_photo(SAMPLE / "drive.jpg"), finder=finder).side
    for sigma in (side.sigma, *(tooth.sigma for tooth in side.teeth)):
        assert 0.2 < sigma[0] < 0.25 and 0.3 < sigma[1] < 0.37


def test_a_refusal_hints_at_an_axle_file_of_another_axle() -> None:
    photo = SAMPLE.parent / "ash_good/coast.jpg"
    with pytest.raises(PhotoError) as wrong:
        read(photo, axle=load_axle(SAMPLE.parent / "birch_good/axle.toml"))
    assert wrong.value.code in PERHAPS_ANOTHER_AXLE
    assert wrong.value.next_step.startswith("Without the axle file this photo is read")
    assert "shows a right-hand ring gear; the file tells of a left-hand one" in wrong.value.next_step
    with pytest.raises(PhotoError) as none:  # no gear, with any axle or none: no word of the file
        read(SAMPLE.parent / "refused/no_gear.jpg", axle=load_axle(SAMPLE.parent / "ash_good/axle.toml"))
    assert "axle file" not in none.value.next_step


@pytest.mark.parametrize("mm", [float("nan"), float("inf"), -0.01, 1.8])
def test_a_backlash_that_can_not_be_is_refused_by_the_library(
    case: tuple[dict[str, Any], Reading], mm: float
) -> None:
    _, reading = case
    other = replace(
        reading, side=replace(reading.side, role="drive" if reading.side.role == "coast" else "coast")
    )
    with pytest.raises(QuantityError) as refused:
        pair(reading, other, (0.18, mm))
    assert refused.value.code in ("backlash-negative", "backlash-impossible")


@pytest.mark.parametrize(("ends", "names"), [("toe heel", "toe and heel"), ("root top", "root and top")])
def test_corners_named_the_other_way_round_are_refused(ends: str, names: str) -> None:
    marks = json.loads((SAMPLE / "coast_corners.json").read_text(encoding="utf-8"))
    turn = dict([ends.split(), ends.split()[::-1]])
    teeth = [
        {"_".join(turn.get(end, end) for end in corner.split("_")): place for corner, place in tooth.items()}
        for tooth in marks["teeth"]
    ]
    with pytest.raises(CornersError, match=f"The photo shows {names} the other way round") as refused:
        read(SAMPLE / "coast.jpg", corners={"teeth": teeth})
    assert refused.value.code == "corners-misnamed"
    reading = read(SAMPLE / "coast.jpg", corners={"teeth": teeth}, flank="concave")  # the person insists
    assert reading.hand == "left", "which an axle file that tells the hand then refuses"
