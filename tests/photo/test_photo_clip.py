"""A clip's sharp frames are photos; what is no clip is refused with a code."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from contactread.errors import PhotoError
from contactread.photo.clip import FRAMES, sharp_frames
from contactread.photo.intake import is_clip
from contactread.photo.load import load_photo

SAMPLE = Path(__file__).parents[2] / "sample_images" / "ash_good" / "coast.jpg"


def clip_of(path: Path, sharp: set[int], count: int = 27) -> Path:
    try:
        str(path).encode()
    except UnicodeEncodeError:
        pytest.skip("OpenCV crashes on a name that isn't text")
    still = cv2.resize(load_photo(SAMPLE).pixels, (640, 480), interpolation=cv2.INTER_AREA)
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), 30, (640, 480))
    if not writer.isOpened():
        pytest.skip("this OpenCV writes no clips")
    for number in range(count):
        frame = still if number in sharp else cv2.GaussianBlur(still, (0, 0), 6)
        writer.write(np.roll(frame, number, axis=1))
    writer.release()
    return path


def test_the_sharp_frames_of_a_clip(tmp_path: Path) -> None:
    path = clip_of(tmp_path / "coast.avi", sharp={3, 12, 24})
    frames = sharp_frames(path)
    assert is_clip(path) and len(frames) == FRAMES
    blurred = sharp_frames(clip_of(tmp_path / "soft.avi", sharp=set()))
    for frame, soft in zip(frames, blurred, strict=True):
        assert (frame.width, frame.height, frame.path) == (640, 480, path)
        assert (
            cv2.Laplacian(frame.pixels, cv2.CV_32F).var() > 5 * cv2.Laplacian(soft.pixels, cv2.CV_32F).var()
        )
    assert len({frame.sha256 for frame in frames}) == FRAMES


@pytest.mark.parametrize(("content", "code"), [(None, "photo-missing"), (b"no clip", "clip-unreadable")])
def test_what_is_no_clip_is_refused(tmp_path: Path, content: bytes | None, code: str) -> None:
    path = tmp_path / "coast.mp4"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(PhotoError) as refused:
        sharp_frames(path)
    assert refused.value.code == code


def test_a_long_clip_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = clip_of(tmp_path / "long.avi", sharp=set())
    monkeypatch.setattr("contactread.photo.clip.MOST_FRAMES", 20)
    with pytest.raises(PhotoError) as refused:
        sharp_frames(path)
    assert refused.value.code == "clip-too-long"
