"""Damaged and hostile photos in every format that is read."""

from __future__ import annotations

import random
import re
import struct
from collections.abc import Iterator
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

SAMPLE = Path(__file__).parents[2] / "sample_images" / "ash_good" / "drive.jpg"
KINDS = ("flip", "cut", "grow", "swap", "header", "noise", "splice", "number", "repeat", "zero")
# What stands before numbers that say how large something is, in the formats read.
_SIZES = re.compile(
    rb"\xff[\xc0-\xc3\xda\xdd\xe1]|IHDR|IDAT|acTL|fcTL|eXIf|VP8[ LX]|ANMF|EXIF|II\*\0|MM\0\*|ispe|iloc|infe|"
    rb"grid|hvcC|ipma|pitm|irot|mdat|meta"
)
_EDGES = (0, 1, 2, 255, 256, 32767, 65535, 2**16, 2**31 - 1, 2**31, 2**32 - 1)


@cache
def originals() -> list[bytes]:
    """Small photos in every format and kind of pixels that is read, so that many can be tried."""
    from PIL import Image

    found: list[bytes] = []
    with Image.open(SAMPLE) as photo:
        small = photo.convert("RGB").resize((480, 400))
    exif = Image.Exif()
    exif[274] = 6
    kinds: list[tuple[str, Image.Image, dict[str, Any]]] = [
        ("JPEG", small, {}),
        ("JPEG", small, {"progressive": True, "exif": exif}),
        ("JPEG", small.convert("CMYK"), {"progressive": True}),
        ("JPEG", small.convert("L"), {"restart_marker_rows": 1}),
        ("MPO", small, {"save_all": True, "append_images": [small]}),
        ("PNG", small, {"exif": exif}),
        ("PNG", small.convert("P"), {}),
        ("PNG", small.convert("RGBA"), {"save_all": True, "append_images": [small.convert("RGBA")]}),
        ("PNG", small.convert("I;16"), {}),
        ("PNG", small.convert("1"), {}),
        ("WEBP", small, {"exif": exif}),
        ("WEBP", small, {"lossless": True}),
        ("WEBP", small, {"save_all": True, "append_images": [small]}),
        ("TIFF", small, {}),
        ("TIFF", small, {"compression": "tiff_lzw"}),
        ("TIFF", small, {"compression": "jpeg"}),
        ("TIFF", small.convert("CMYK"), {"compression": "tiff_deflate"}),
        ("TIFF", small.convert("1"), {"compression": "group4"}),
        ("TIFF", small.convert("LAB"), {}),
        ("TIFF", small, {"save_all": True, "append_images": [small], "big_tiff": True}),
    ]
    for kind, image, options in kinds:
        out = BytesIO()
        image.save(out, kind, **options)
        found.append(out.getvalue())
    return found + _heic(small)


def _heic(image: Any) -> list[bytes]:
    """The photo as HEIC, where the extra is installed."""
    try:
        import pillow_heif
    except ImportError:
        return []
    out = BytesIO()
    pillow_heif.from_pillow(image).save(out, quality=50)
    return [out.getvalue()]


def mutated(data: bytes, other: bytes, rng: random.Random) -> bytes:
    """One damaged copy; `other` is what parts are taken from."""
    kind, changed = rng.choice(KINDS), bytearray(data)
    at = rng.randrange(len(changed))
    if kind == "flip":
        for _ in range(rng.choice((1, 4, 64))):
            changed[rng.randrange(len(changed))] ^= 1 << rng.randrange(8)
    elif kind == "cut":
        del changed[at:]
    elif kind == "grow":
        changed[at:at] = rng.randbytes(rng.choice((1, 100, 5000)))
    elif kind == "swap":
        end = min(len(changed), at + 200)
        changed[at:end] = changed[at:end][::-1]
    elif kind == "header":
        for _ in range(rng.choice((1, 2, 8))):
            changed[rng.randrange(min(200, len(changed)))] = rng.randrange(256)
    elif kind == "noise":
        changed[:] = rng.randbytes(rng.choice((0, 1, 16, 4096)))
    elif kind == "splice":
        changed[at:] = other[rng.randrange(len(other)) :]
    elif kind == "number":
        _a_number(changed, rng)
    elif kind == "repeat":
        end = min(len(changed), at + rng.choice((16, 400, 20_000)))
        changed[at:at] = changed[at:end] * rng.choice((1, 8, 60))
    else:
        end = min(len(changed), at + rng.choice((4, 100, 20_000)))
        changed[at:end] = bytes(end - at)
    return bytes(changed)


def _a_number(changed: bytearray, rng: random.Random) -> None:
    """Set a number near something that says how large a part is to an edge of what it can say."""
    places = [found.start() for found in _SIZES.finditer(changed[:200_000])]
    at = (rng.choice(places) if places else 0) + rng.randrange(-8, 28)
    value, (letter, most) = rng.choice(_EDGES), rng.choice((("H", 2**16), ("I", 2**32)))
    packed = struct.pack(rng.choice("<>") + letter, value % most)
    if 0 <= at <= len(changed) - len(packed):
        changed[at : at + len(packed)] = packed


def photos(count: int, seed: int) -> Iterator[bytes]:
    """So many damaged photos; three in ten are damaged twice."""
    rng, whole = random.Random(seed), originals()
    for _ in range(count):
        data = mutated(rng.choice(whole), rng.choice(whole), rng)
        if data and rng.random() < 0.3:
            data = mutated(data, rng.choice(whole), rng)
        yield data


def load_one(data: bytes) -> str:
    """The picture of a photo's bytes, as a reading would load it; "loaded" or the code of its refusal."""
    from contactread.errors import PhotoError
    from contactread.photo.load import load_photo

    try:
        load_photo(data, reduce=True)
    except PhotoError as error:
        return error.code
    return "loaded"


def read_one(data: bytes) -> str:
    """The whole way from the bytes to a reading's JSON; "read" or the code of its refusal."""
    import json

    from contactread.errors import PhotoError
    from contactread.reading import read

    try:
        found = read(data)
    except PhotoError as error:
        return error.code
    json.dumps(found.to_json(), allow_nan=False)
    return "read"


def load_or_read(case: tuple[bytes, bool]) -> str:
    """One photo, read or only loaded."""
    data, whole = case
    return read_one(data) if whole else load_one(data)
