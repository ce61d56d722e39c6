"""Shrinking by halves first, against OpenCV's own averaging in one step."""

import cv2
import numpy as np
import pytest

from contactread.photo.shrink import shrink


def smooth(height: int, width: int) -> np.ndarray:
    y, x = np.mgrid[:height, :width]
    waves = [128 + 100 * np.sin(x / 90 + k) * np.cos(y / 70 - k) for k in range(3)]
    return np.stack(waves, axis=2).astype(np.uint8)


@pytest.mark.parametrize(("height", "width"), [(1200, 1600), (1208, 1592), (400, 530)])
def test_like_one_step(height: int, width: int) -> None:
    picture = smooth(height, width)
    small = shrink(picture, 160, 120)
    assert small.shape == (120, 160, 3)
    one_step = cv2.resize(picture, (160, 120), interpolation=cv2.INTER_AREA)
    assert np.abs(small.astype(int) - one_step).max() <= 3


def test_noise_is_averaged_out() -> None:
    noise = np.random.default_rng(0).integers(0, 2, (2000, 3000, 3), np.uint8) * 255
    assert shrink(noise, 150, 100).std() < 10  # a pixel is the mean of 400, each spread by 127


def test_the_same_size_is_the_same_picture() -> None:
    picture = smooth(120, 160)
    assert (shrink(picture, 160, 120) == picture).all()
