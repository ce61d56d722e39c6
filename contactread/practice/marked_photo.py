"""Copies of a photograph for a question: decoded and packed anew, so that nothing of its EXIF, its place or
its comments comes along; with the tooth marked that is asked about, where it is to be shown alone.
"""

from __future__ import annotations

import re
import time
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from contactread.errors import PhotoError, PracticeError
from contactread.practice.question import PhotoPicture
from contactread.show.text import printable

LONGEST_SIDE = 1600
_KEPT_S = 86_400.0  # a copy that was only to be looked at goes after a day
_OF_THE_BOOK = re.compile("[0-9a-f]{64}")


class Copy(NamedTuple):
    """pixels: uint8, (rows, columns, 3), blue, green, red, at most LONGEST_SIDE. scale: of the whole to it.
    size_px: width and height of the whole, upright picture.
    """

    pixels: Any
    scale: float
    size_px: tuple[int, int]


def copied(picture: PhotoPicture) -> Copy:
    """The photograph as it may be handed on.

    Raises PracticeError photo-missing (it can't be read), photo-altered (the book's copy isn't what it was).
    """
    from contactread.photo.load import load_photo
    from contactread.photo.shrink import at_most

    try:
        photo = load_photo(picture.path)
    except PhotoError as error:
        raise PracticeError(
            "photo-missing",
            f"The photograph {printable(picture.path)} can't be read: {error.message}",
            "Put it back, or choose other questions.",
        ) from error
    if _OF_THE_BOOK.fullmatch(picture.path.stem) and photo.sha256 != picture.path.stem:
        raise PracticeError(
            "photo-altered",
            f"The photograph {printable(picture.path)} was altered since it came into the shop book.",
            "Run 'contactread check', and put it back from a backup.",
        )
    pixels = at_most(photo.pixels, long=LONGEST_SIDE)
    scale = min(1.0, LONGEST_SIDE / max(photo.width, photo.height))
    return Copy(pixels.copy() if pixels is photo.pixels else pixels, scale, photo.size_px)


def marked_photo(picture: PhotoPicture, question_id: str, folder: Path | None = None) -> Path:
    """Where the marked copy lies: in `folder`, or among the user's own files that may go again.

    Raises PracticeError as `copied`.
    """
    import cv2
    import numpy as np

    from contactread.show.overlay import encode

    pixels, scale, _ = copied(picture)
    points = np.array([(x * scale, y * scale) for x, y in picture.outline_px])
    thick = max(2, round(max(pixels.shape) / 300))
    outline = [np.round(points).astype(np.int32).reshape(-1, 1, 2)]
    for ink, width in (((0, 0, 0), 3 * thick), ((255, 255, 255), thick)):
        cv2.polylines(pixels, outline, True, ink, width, cv2.LINE_AA)
    x, y = points[points[:, 1].argmin()]
    arrow = np.array([(0, -2), (-5, -12), (5, -12)]) * thick + (x, y)
    tip = [np.round(arrow).astype(np.int32).reshape(-1, 1, 2)]
    cv2.fillPoly(pixels, tip, (255, 255, 255), cv2.LINE_AA)
    cv2.polylines(pixels, tip, True, (0, 0, 0), thick, cv2.LINE_AA)
    place = folder or _own_folder()
    place.mkdir(parents=True, exist_ok=True)
    file = place / f"{question_id}.jpg"
    file.write_bytes(encode(pixels))
    return file


def _own_folder() -> Path:
    """The user's own folder for what may go again; what is a day old is taken away."""
    import platformdirs

    folder = Path(platformdirs.user_cache_dir("contactread", appauthor=False)) / "practice"
    with suppress(OSError):
        for old in folder.glob("*.jpg"):
            if time.time() - old.stat().st_mtime > _KEPT_S:
                old.unlink()
    return folder
