"""The marked-up picture shows what was read, where it was read, and leaves the photo alone."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from made_reading import made_photo, made_reading

from contactread.belief.targets import target_for
from contactread.patch import Clear
from contactread.show.overlay import CENTRE, FLANK, LONGEST_SIDE, PATCH, ZONE, encode, mark_up


def near(marked: np.ndarray, colour: tuple[int, int, int], x: float, y: float, reach: int = 3) -> bool:
    """Whether a pixel of about this colour lies within `reach` of (x, y)."""
    around = marked[round(y) - reach : round(y) + reach + 1, round(x) - reach : round(x) + reach + 1]
    return bool((np.abs(around.astype(int) - colour).max(axis=2) < 60).any())


def test_marks_lie_where_they_were_read() -> None:
    photo, reading = made_photo(), made_reading()
    marked = mark_up(photo, reading)
    for tooth in reading.teeth:
        for u, v in ((0.0, 0.25), (1.0, 0.75), (0.3, 1.0), (0.6, 1.0)):
            assert near(marked, FLANK, *tooth.flank.map(u, v))
        if tooth.pattern:
            assert near(marked, CENTRE, *tooth.flank.map(*tooth.pattern.centre))
            for u, v in tooth.pattern.outlines[0][::8]:
                assert near(marked, PATCH, *tooth.flank.map(u, v))
    bare = reading.teeth[-1].flank
    x, y = bare.map(0.42, 0.35)
    assert not near(marked, PATCH, float(x), float(y), reach=20)


def test_photo_is_untouched_and_caption_is_below() -> None:
    photo, reading = made_photo(), made_reading()
    before = photo.pixels.copy()
    marked = mark_up(photo, reading)
    assert np.array_equal(photo.pixels, before)
    assert marked.shape[1] == photo.width
    assert marked.shape[0] > photo.height


def test_large_photos_are_shrunk_and_marks_follow() -> None:
    photo = made_photo(4000, 3000)
    reading = made_reading()
    flank = replace(reading.teeth[0].flank, map=replace(reading.teeth[0].flank.map,
                    coefficients=reading.teeth[0].flank.map.coefficients * 5))  # fmt: skip
    large = replace(reading, teeth=(replace(reading.teeth[0], flank=flank),), size_px=(4000, 3000))
    marked = mark_up(photo, large)
    assert marked.shape[1] == LONGEST_SIDE
    assert near(marked, CENTRE, *flank.map(0.42, 0.35) / 2)


@pytest.mark.parametrize("clear", [Clear(0.2, 0.2, 0.2, 0.2), Clear(0.0, 0.2, 0.2, 0.0)])
def test_caption_fits_narrow_pictures(clear: Clear) -> None:
    """Nothing of the caption is cut off at the right edge."""
    reading = made_reading()
    reading = replace(reading, side=replace(reading.side, clear=clear))
    marked = mark_up(made_photo(320, 600), reading)
    band = marked[600:]
    assert band.max() > 200
    assert np.ptp(band[:, -4:].astype(int), axis=(0, 1)).max() == 0


def test_encoded_picture_carries_no_exif() -> None:
    data = encode(mark_up(made_photo(), made_reading()))
    assert data[:3] == b"\xff\xd8\xff"
    assert b"Exif" not in data
    decoded = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert decoded is not None and decoded.shape[1] == 800


def test_the_wanted_zone_and_the_move_are_drawn_on_one_tooth() -> None:
    reading = made_reading()
    zone = target_for(None).zone("drive")
    after = (0.7, 0.6)
    marked = mark_up(made_photo(), reading, zone, after)
    bare = mark_up(made_photo(), reading)
    with_zone = [
        tooth
        for tooth in reading.teeth
        if sum(near(marked, ZONE, *tooth.flank.map(u, zone.v[1])) for u in np.linspace(*zone.u, 9)) > 3
    ]
    assert len(with_zone) == 1
    there = with_zone[0].flank.map(*after)
    assert near(marked, CENTRE, *there) and not near(bare, CENTRE, *there)
    assert marked[600:].shape == bare[600:].shape  # the band only gains words
