"""Every fault of a corners file has a code and says which tooth."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from contactread.errors import CornersError
from contactread.flank.corners_file import read_corners

SIZE = (800, 600)
GOOD = {"toe_root": [100, 100], "toe_top": [100, 60], "heel_top": [200, 50], "heel_root": [200, 100]}


def test_good_file(tmp_path: Path) -> None:
    path = tmp_path / "corners.json"
    path.write_text(json.dumps({"flank": "concave", "teeth": [GOOD, GOOD]}), encoding="utf-8")
    marked = read_corners(path, SIZE)
    assert marked.corners.shape == (2, 4, 2)
    assert marked.corners[0, 1].tolist() == [100, 60]
    assert marked.flank == "concave"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        ({}, "corners-no-teeth"),
        ([], "corners-no-teeth"),
        ({"teeth": []}, "corners-no-teeth"),
        ({"teeth": [GOOD] * 500}, "corners-no-teeth"),
        ({"teeth": [7]}, "corners-incomplete"),
        ({"teeth": [{"toe_root": [1, 2]}]}, "corners-incomplete"),
        ({"teeth": [GOOD | {"toe_top": "here"}]}, "corners-bad-number"),
        ({"teeth": [GOOD | {"toe_top": [1, float("nan")]}]}, "corners-bad-number"),
        ({"teeth": [GOOD | {"toe_top": [True, 1]}]}, "corners-bad-number"),
        ({"teeth": [GOOD | {"toe_top": [1, 2, 3]}]}, "corners-bad-number"),
        ({"teeth": [GOOD | {"toe_top": [90000, 60]}]}, "corners-outside"),
        ({"teeth": [GOOD | {"heel_top": [200, 100], "heel_root": [200, 50]}]}, "corners-shape"),
        ({"teeth": [{name: [5, 5] for name in GOOD}]}, "corners-shape"),
        ({"teeth": [GOOD], "flank": "drive"}, "corners-bad-flank"),
        ({"teeth": [GOOD | {"flank": "convex"}, GOOD | {"flank": "concave"}]}, "corners-bad-flank"),
    ],
)
def test_faults(content: Any, code: str) -> None:
    with pytest.raises(CornersError) as caught:
        read_corners(content, SIZE)
    assert caught.value.code == code
    assert caught.value.next_step


@pytest.mark.parametrize("text", ["", "{", "[" * 5000, "\x00"])
def test_not_json(tmp_path: Path, text: str) -> None:
    path = tmp_path / "corners.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CornersError) as caught:
        read_corners(path, SIZE)
    assert caught.value.code == "corners-unreadable"


def test_missing_folder_and_binary(tmp_path: Path) -> None:
    with pytest.raises(CornersError, match="no corners file"):
        read_corners(tmp_path / "none.json", SIZE)
    with pytest.raises(CornersError) as caught:
        read_corners(tmp_path, SIZE)
    assert caught.value.code == "corners-unreadable"
    path = tmp_path / "photo.json"
    path.write_bytes(b"\xff\xd8\xff\xe0")
    with pytest.raises(CornersError) as caught:
        read_corners(path, SIZE)
    assert caught.value.code == "corners-unreadable"
