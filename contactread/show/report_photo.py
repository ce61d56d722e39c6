"""A recorded photo with its reading drawn on it, cut to the teeth that were measured and re-encoded:
nothing of the original's EXIF comes along.
"""

from __future__ import annotations

from contactread.errors import ContactreadError
from contactread.reading import Reading
from contactread.records.book import Book
from contactread.records.measured import reading_of
from contactread.records.nouns import RecordedPhoto
from contactread.records.photo_store import hash_of

WIDEST = 1200  # pixels; enough for half a page in print
_MARGIN = 0.15  # of the teeth's extent, left round them
_SHAPE = 1.6  # width over height of the cut, where the photo is large enough


def marked_photo(book: Book, photo: RecordedPhoto) -> bytes | None:
    """The marked-up JPEG, or None where the original is missing, altered or unreadable here."""
    if photo.reading is None or "measured" not in photo.reading.json:
        return None
    path = book.photos.place(photo.sha256, photo.suffix)
    if hash_of(path) != photo.sha256:
        return None
    import numpy as np

    from contactread.photo.load import load_photo
    from contactread.photo.shrink import at_most
    from contactread.show.overlay import encode, mark_up

    reading = reading_of(photo.reading.json)
    try:
        original = load_photo(path)
        marked = mark_up(original, reading)
    except ContactreadError:
        return None
    scale = marked.shape[1] / original.width
    left, top, right, bottom = (round(edge * scale) for edge in _cut(reading))
    return encode(at_most(np.ascontiguousarray(marked[top:bottom, left:right]), wide=WIDEST))


def _cut(reading: Reading) -> tuple[float, float, float, float]:
    """Left, top, right, bottom in photo pixels: the measured teeth with a margin, in a quiet shape."""
    corners = [xy for t in reading.teeth if t.pattern is not None for xy in t.flank.corners.values()]
    width, height = reading.size_px
    if not corners:
        return 0, 0, width, height
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    wide = (max(xs) - min(xs)) * (1 + 2 * _MARGIN)
    tall = (max(ys) - min(ys)) * (1 + 2 * _MARGIN)
    wide, tall = max(wide, tall * _SHAPE), max(tall, wide / _SHAPE)
    left, right = _span((min(xs) + max(xs)) / 2, min(wide, width), width)
    top, bottom = _span((min(ys) + max(ys)) / 2, min(tall, height), height)
    return left, top, right, bottom


def _span(middle: float, length: float, whole: float) -> tuple[float, float]:
    """A span about `middle`, moved inside 0..whole."""
    start = min(max(middle - length / 2, 0), whole - length)
    return start, start + length
