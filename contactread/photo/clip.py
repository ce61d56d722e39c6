"""A short clip: its sharp frames, as photos."""

from __future__ import annotations

import hashlib
import time
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from contactread.errors import PhotoError
from contactread.photo.opencv import opencv
from contactread.photo.photo import Photo

FRAMES = 3  # that are read of a clip: one from each of as many equal parts
MOST_FRAMES = 1800  # a minute at 30 a second
MOST_PIXELS = 9_000_000  # of a frame: twice that of 2160 lines' would be no phone's
MOST_SECONDS = 8.0  # of looking at a clip; what comes later isn't seen
_BOXES = (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip")  # MP4 and QuickTime
_EACH = 3  # every third frame is looked at: neighbours are alike
_SMALL = 320  # pixels along the longer side at which sharpness is compared


def sharp_frames(path: Path) -> list[Photo]:
    """The sharpest frame of each of FRAMES equal parts of a clip, in order.

    Raises PhotoError: photo-missing, clip-name, clip-unreadable, clip-too-long.
    """
    if not path.is_file():
        raise PhotoError("photo-missing", "There is no such file.", "Check the name and the folder.")
    if not _is_clip(path):
        raise _unreadable()
    cv2 = opencv()
    # The whole path: a name alone may look like an address or a numbered series, and is taken for one.
    clip = cv2.VideoCapture(str(path.absolute()), cv2.CAP_FFMPEG)
    try:
        total = int(clip.get(cv2.CAP_PROP_FRAME_COUNT))
        size = clip.get(cv2.CAP_PROP_FRAME_WIDTH) * clip.get(cv2.CAP_PROP_FRAME_HEIGHT)
        if not clip.isOpened() or total < 1 or not 0 < size <= MOST_PIXELS:
            raise _unreadable()
        if total > MOST_FRAMES:
            raise PhotoError(
                "clip-too-long",
                f"The clip has {total} frames; at most {MOST_FRAMES} are looked at.",
                "Film one side for a few seconds, and the other in a second clip.",
            )
        best = _sharpest(cv2, clip, total)
    finally:
        clip.release()
    if not best:
        raise _unreadable()
    return [Photo(path, pixels, hashlib.sha256(pixels.tobytes()).hexdigest(), "clip") for pixels in best]


def _is_clip(path: Path) -> bool:
    """Whether a file begins as one of the usual kinds, and not as a list of other files.

    Raises PhotoError (clip-name): OpenCV crashes on a name that isn't text.
    """
    try:
        str(path.absolute()).encode()
    except UnicodeEncodeError as error:
        raise PhotoError(
            "clip-name", "The name of the clip, or of its folder, isn't text in UTF-8.", "Rename it."
        ) from error
    with path.open("rb") as file:
        begin = file.read(12)
    return begin[4:8] in _BOXES or begin[:4] == b"\x1aE\xdf\xa3" or begin[:4] + begin[8:] == b"RIFFAVI "


def _sharpest(cv2: Any, clip: Any, total: int) -> list[NDArray[np.uint8]]:
    found: dict[int, tuple[float, NDArray[np.uint8]]] = {}
    until = time.monotonic() + MOST_SECONDS
    for number in range(total):
        if time.monotonic() > until or not clip.grab():
            break
        if number % _EACH:
            continue
        got, frame = clip.retrieve()
        if not got:
            continue
        scale = _SMALL / max(frame.shape[:2])
        grey = cv2.cvtColor(cv2.resize(frame, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA),
                            cv2.COLOR_BGR2GRAY)  # fmt: skip
        sharp = float(cv2.Laplacian(grey, cv2.CV_32F).var())
        part = min(FRAMES - 1, number * FRAMES // max(total, 1))
        if part not in found or sharp > found[part][0]:
            found[part] = sharp, np.asarray(frame, np.uint8)
    return [found[part][1] for part in sorted(found)]


def _unreadable() -> PhotoError:
    return PhotoError(
        "clip-unreadable",
        "The clip can't be read.",
        "Save it as MP4, or give three photos of each side instead.",
    )
