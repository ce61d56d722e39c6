"""HEIC files whose boxes lie, where the extra is installed: damaged, whatever the decoder meets."""

from __future__ import annotations

import struct
import sys

import pytest
from bad_photos import heic, picture

from contactread.errors import PhotoError
from contactread.photo.load import load_photo

pytest.importorskip("pillow_heif")


def good() -> bytes:
    import io

    import pillow_heif
    from PIL import Image

    out = io.BytesIO()
    pillow_heif.from_pillow(Image.fromarray(picture())).save(out, quality=50)
    return out.getvalue()


@pytest.mark.parametrize(
    "lost", [b"iloc", b"iinf", b"infe", b"pitm", b"iprp", b"ipco", b"ipma", b"hvcC", b"hvc1"]
)
def test_a_box_that_is_lost(lost: bytes) -> None:
    data = good()
    assert load_photo(data).size_px == (320, 240)
    assert lost in data
    with pytest.raises(PhotoError) as caught:
        load_photo(data.replace(lost, b"free"))
    assert caught.value.code == "photo-damaged"


def test_no_items_at_all() -> None:
    with pytest.raises(PhotoError) as caught:
        load_photo(heic(4000, 3000))
    assert caught.value.code == "photo-damaged"


@pytest.mark.skipif(sys.platform != "linux", reason="measures memory by /proc")
def test_sizes_that_lie() -> None:
    data = bytearray(good())
    at = data.index(b"ispe")
    for size in ((9000, 9000), (201, 201)):
        data[at + 8 : at + 16] = struct.pack(">II", *size)
        with pytest.raises(PhotoError) as caught:
            load_photo(bytes(data))
        assert caught.value.code == "photo-damaged"
