"""The tag directory of TIFF files and EXIF blocks."""

from __future__ import annotations

import struct

import pytest

from contactread.photo.tiff import BadDirectory, Directory, exif_orientation


def block(kind: int, count: int, value: int, order: str = "<") -> bytes:
    """A directory with the one tag 274, orientation."""
    values = struct.pack(f"{order}HH", value, 0) if kind == 3 else struct.pack(f"{order}I", value)
    head = (b"II" if order == "<" else b"MM") + struct.pack(f"{order}HIH", 42, 8, 1)
    return head + struct.pack(f"{order}HHI", 274, kind, count) + values


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("kind, value, turned", [(3, 6, 6), (4, 8, 8), (3, 0, 1), (3, 9, 1), (7, 6, 1)])
def test_an_orientation_that_there_is_not_counts_as_upright(
    kind: int, value: int, turned: int, order: str
) -> None:
    assert exif_orientation(block(kind, 1, value, order)) == turned


def test_spoilt_exif_leaves_the_picture_upright() -> None:
    assert exif_orientation(b"") == exif_orientation(b"II*\0\xff\xff\xff\xff") == 1
    with pytest.raises(BadDirectory):
        Directory(block(3, 1, 6)[:12])
