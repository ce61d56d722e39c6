"""A recorded photo with its reading drawn on it, re-encoded: nothing of the original's EXIF comes along."""

from __future__ import annotations

from contactread.errors import ContactreadError
from contactread.records.book import Book
from contactread.records.check import hash_of
from contactread.records.measured import reading_of
from contactread.records.nouns import RecordedPhoto

WIDEST = 1200  # pixels; enough for half a page in print


def marked_photo(book: Book, photo: RecordedPhoto) -> bytes | None:
    """The marked-up JPEG, or None where the original is missing, altered or unreadable here."""
    if photo.reading is None or "measured" not in photo.reading.json:
        return None
    path = book.photos.place(photo.sha256, photo.suffix)
    if hash_of(path) != photo.sha256:
        return None
    import cv2
    import numpy as np

    from contactread.photo.load import load_photo
    from contactread.show.overlay import encode, mark_up

    try:
        marked = mark_up(load_photo(path), reading_of(photo.reading.json))
    except ContactreadError:
        return None
    scale = WIDEST / marked.shape[1]
    if scale < 1:
        size = (WIDEST, round(marked.shape[0] * scale))
        marked = np.asarray(cv2.resize(marked, size, interpolation=cv2.INTER_AREA), np.uint8)
    return encode(marked)
