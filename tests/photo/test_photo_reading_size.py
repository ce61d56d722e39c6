"""Large photos at half their size: which ones, how large, and that everything stays in its place."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from contactread.photo.load import load_photo
from contactread.photo.photo import LARGE, Photo

SPOT = 40  # pixels, the side of a white square


def picture(width: int, height: int) -> NDArray[np.uint8]:
    """Black, with a white square near the lower right corner."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[height - 3 * SPOT : height - 2 * SPOT, width - 3 * SPOT : width - 2 * SPOT] = 255
    return pixels


def middle_of_spot(photo: Photo) -> NDArray[np.float64]:
    """Where the square's middle lies, in pixels of the whole picture."""
    weight = photo.pixels[..., 1].astype(float)
    at = np.array([weight.sum(axis=0) @ np.arange(photo.width), weight.sum(axis=1) @ np.arange(photo.height)])
    return np.asarray((at / weight.sum() + 0.5) * photo.reduced - 0.5)


def encoded(pixels: NDArray[np.uint8], kind: str, orientation: int = 1) -> bytes:
    exif = Image.Exif()
    exif[274] = orientation
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, kind, exif=exif)
    return file.getvalue()


@pytest.mark.parametrize("size", [(LARGE - 1, 300), (300, LARGE - 1), (640, 480)])
def test_smaller_photos_stay_as_they_are(size: tuple[int, int]) -> None:
    photo = Photo(None, picture(*size), "", "png")
    assert photo.at_reading_size() is photo
    assert photo.size_px == size
    assert load_photo(encoded(photo.pixels, "JPEG"), reduce=True).reduced == 1


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
@pytest.mark.parametrize("size", [(LARGE, 300), (300, LARGE), (LARGE + 1, 401), (401, LARGE + 1)])
def test_large_photos_are_halved_and_keep_their_places(kind: str, size: tuple[int, int]) -> None:
    width, height = size
    photo = load_photo(encoded(picture(width, height), kind), reduce=True)
    assert photo.reduced == 2
    assert photo.size_px == size
    assert (photo.width, photo.height) == ((width + 1) // 2, (height + 1) // 2)
    expected = np.array(size) - 2.5 * SPOT - 0.5
    # A side that is odd by one is stretched by that pixel where the file format has no half size of its own.
    assert np.abs(middle_of_spot(photo) - expected).max() <= (0.1 if kind == "JPEG" else 1.0)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turned_photos_are_halved_upright(orientation: int) -> None:
    """Every turn of EXIF: the reduced photo is the whole one, halved."""
    data = encoded(picture(LARGE + 1, 500), "JPEG", orientation)
    whole, half = load_photo(data), load_photo(data, reduce=True)
    assert half.size_px == whole.size_px == ((LARGE + 1, 500) if orientation < 5 else (500, LARGE + 1))
    expected = cv2.resize(whole.pixels, (half.width, half.height), interpolation=cv2.INTER_AREA)
    assert np.abs(half.pixels.astype(int) - expected).mean() < 1
    # The last stored pixel of an odd side becomes one of the half alone; when flipped, it is the first.
    assert np.abs(middle_of_spot(half) - middle_of_spot(whole)).max() < 1.1


def test_a_grey_jpeg_is_halved_in_three_channels() -> None:
    data = bytes(cv2.imencode(".jpg", picture(LARGE, 300)[..., 0])[1])
    assert load_photo(data, reduce=True).pixels.shape == (150, LARGE // 2, 3)


def test_nothing_is_halved_twice() -> None:
    half = Photo(None, picture(2 * LARGE, 400), "", "png").at_reading_size()
    assert half.width == LARGE
    assert half.at_reading_size() is half
    assert half.size_px == (2 * LARGE, 400)
