"""The automatic finder on our own pictures: what must be read, what must be refused, and why."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from contactread import read
from contactread.errors import PhotoError
from contactread.flank import finder
from contactread.flank.finder import find_flanks
from contactread.flank.sight import Sight, letterbox, look, to_photo
from contactread.flank.verdict import sharpness
from contactread.photo.load import load_photo
from contactread.photo.photo import Photo

SAMPLES = Path(__file__).parents[2] / "sample_images"
CLEAR = SAMPLES / "ash_good" / "coast.jpg"


def as_photo(pixels: np.ndarray) -> Photo:
    return Photo(None, np.ascontiguousarray(pixels), "", "png")


@pytest.mark.parametrize(
    ("name", "codes"),
    [
        ("blurred", {"too-blurred", "no-ring-gear"}),
        ("far_away", {"teeth-too-small", "no-ring-gear"}),
        ("no_compound", {"no-compound"}),
        ("no_gear", {"no-ring-gear", "too-blurred"}),
        ("straight_teeth", {"no-pattern", "no-ring-gear", "glare-over-flanks"}),
        ("too_dark", {"too-dark"}),
    ],
)
def test_what_shows_no_pattern_is_refused_with_a_reason(name: str, codes: set[str]) -> None:
    with pytest.raises(PhotoError) as refused:
        read(SAMPLES / "refused" / f"{name}.jpg")
    assert refused.value.code in codes
    assert refused.value.next_step


def test_pictures_of_other_things_are_refused() -> None:
    from skimage import data

    for name in ("coffee", "coins", "brick", "page", "gravel"):
        picture = getattr(data, name)()
        if picture.ndim == 2:
            picture = np.dstack([picture] * 3)
        with pytest.raises(PhotoError):
            read(as_photo(picture))


def changed(pixels: np.ndarray, how: str) -> np.ndarray:
    if how == "turned":
        return np.rot90(pixels)
    if how == "mirrored":
        return pixels[:, ::-1]
    if how == "half size":
        return cv2.resize(pixels, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    packed = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 60])[1]
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR))


@pytest.mark.parametrize("how", ["turned", "mirrored", "half size", "compressed again"])
def test_the_same_photo_otherwise_stored_reads_the_same(how: str) -> None:
    photo = load_photo(CLEAR)
    plain, other = read(photo), read(as_photo(changed(photo.pixels, how)))
    assert other.side.flank == plain.side.flank
    assert other.side.centre == pytest.approx(plain.side.centre, abs=0.02)


def test_the_flank_asked_for_is_looked_for() -> None:
    photo = load_photo(SAMPLES / "cedar_both" / "both.jpg")
    for name in ("convex", "concave"):
        assert find_flanks(photo, name).name == name


def test_both_flanks_come_from_one_look(monkeypatch: pytest.MonkeyPatch) -> None:
    """The flanks of the other kind are found from the same looks at the photo, just as if asked for alone."""
    photo = load_photo(SAMPLES / "cedar_both" / "both.jpg")
    looks = []

    def noted(*asked: Any) -> Sight:
        looks.append(asked[1:])
        return look(*asked)

    monkeypatch.setattr(finder, "look", noted)
    first = find_flanks(photo)
    assert first.other is not None
    second = first.other()
    assert looks == [(None,)]
    alone = find_flanks(photo, second.name)
    assert second.other is alone.other is None
    assert {first.name, second.name} == {"convex", "concave"}
    assert [flank.corners for flank in second.flanks] == [flank.corners for flank in alone.flanks]


def test_letterbox_and_back() -> None:
    """A pixel of the photo is found again, for either way up."""
    for height, width in ((300, 420), (420, 300)):
        pixels = np.zeros((height, width, 3), np.uint8)
        pixels[100:104, 200:204] = 255
        picture, scale, turned = letterbox(pixels)
        ys, xs = np.nonzero(picture[..., 0] > 128)
        back = to_photo(np.array([[xs.mean(), ys.mean()]], np.float32), scale, turned, width)
        assert back[0] == pytest.approx([201.5, 101.5], abs=0.6)


def test_sharpness_falls_with_blur() -> None:
    grey = np.asarray(cv2.imdecode(np.fromfile(CLEAR, np.uint8), cv2.IMREAD_GRAYSCALE), np.uint8)
    blurred = [cv2.GaussianBlur(grey, (0, 0), s) for s in (0.5, 2, 6)]
    values = [sharpness(np.asarray(picture, np.uint8)) for picture in blurred]
    assert values == sorted(values, reverse=True)


def test_models_have_their_record() -> None:
    """Each network is shipped with how it was made and what it reached."""
    folder = Path(find_flanks.__code__.co_filename).parent
    for name in ("finder", "closeup"):
        assert (folder / f"{name}.onnx").stat().st_size < 10e6
        record = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
        assert {"made_by", "lessons", "steps", "held_out", "limits"} <= set(record)
