"""Makes the corpus: files that a shop's folder really holds, and hostile ones, with the code each must get.

`make_corpus(folder)` writes them and returns file name -> expected error code. Nothing here is a copy of
anybody's file: all are built from random pixels, so the repository needs to keep no binaries.
"""

from __future__ import annotations

import os
import re
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from contactread.photo.opencv import opencv

cv2 = opencv()


def picture(width: int = 320, height: int = 240) -> NDArray[np.uint8]:
    """A smooth random colour picture, nowhere symmetric."""
    rng = np.random.default_rng(7)
    coarse = rng.integers(0, 255, (height // 40, width // 40, 3), dtype=np.uint8)
    return np.asarray(cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC), np.uint8)


def encoded(kind: str, pixels: NDArray[np.generic] | None = None) -> bytes:
    done, data = cv2.imencode(kind, picture() if pixels is None else pixels)
    assert done
    return bytes(data)


def png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(width: int, height: int, body: bytes, *extra: bytes) -> bytes:
    head = png_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(extra) + png_chunk(b"IDAT", body) + png_chunk(b"IEND", b"")


def tiff(tags: dict[int, tuple[int, int, int]], tail: bytes = b"") -> bytes:
    """A little-endian TIFF with one directory of (kind, count, value)."""
    entries = b"".join(struct.pack("<HHII", tag, *entry) for tag, entry in sorted(tags.items()))
    return b"II*\0\x08\0\0\0" + struct.pack("<H", len(tags)) + entries + b"\0\0\0\0" + tail


def box(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", 8 + len(body)) + kind + body


def heic(width: int, height: int, tail: bytes = b"") -> bytes:
    size = box(b"ispe", b"\0\0\0\0" + struct.pack(">II", width, height))
    return box(b"ftyp", b"heic\0\0\0\0mif1heic") + box(b"meta", b"\0\0\0\0" + size) + tail


def many_passes() -> bytes:
    """A progressive JPEG whose last pass comes again and again: each costs a whole decoding."""
    data = bytes(cv2.imencode(".jpg", picture(), [cv2.IMWRITE_JPEG_PROGRESSIVE, 1])[1])
    last = data[data.rfind(b"\xff\xda") : -2]
    return data[:-2] + last * 5000 + b"\xff\xd9"


def scans(data: bytes) -> list[int]:
    """Where the passes of a JPEG begin."""
    return [found.start() for found in re.finditer(b"\xff\xda", data)]


def passes_again(first: bool) -> bytes:
    """A progressive JPEG that sends its first pass, or what refines its last, a few times more."""
    data = bytes(cv2.imencode(".jpg", picture(), [cv2.IMWRITE_JPEG_PROGRESSIVE, 1])[1])
    begin = scans(data)
    again = data[begin[0] : begin[1]] if first else data[begin[-1] : -2]
    return data[:-2] + again * 20 + b"\xff\xd9"


def large_in_passes() -> bytes:
    """A progressive JPEG that says it has 90 million pixels of four colours: 720 MB of coefficients."""
    data = bytearray(cv2.imencode(".jpg", picture(), [cv2.IMWRITE_JPEG_PROGRESSIVE, 1])[1])
    at = data.index(b"\xff\xc2")
    data[at + 5 : at + 9] = struct.pack(">HH", 9000, 10000)
    data[at + 11] = data[at + 14] = data[at + 17] = 0x11
    return bytes(data)


def large_film() -> bytes:
    """A WebP that moves, of 90 million pixels: its decoder holds two such canvases with transparency."""
    size = (9999).to_bytes(3, "little") + (8999).to_bytes(3, "little")
    body = (
        b"WEBPVP8X"
        + struct.pack("<I", 10)
        + b"\x02\0\0\0"
        + size
        + b"ANIM"
        + struct.pack("<I", 6)
        + b"\0" * 6
    )
    return b"RIFF" + struct.pack("<I", len(body)) + body


def decoys() -> bytes:
    """A HEIC with 64 small sizes before its own."""
    sizes = [(300, 300)] * 64 + [(12000, 10000)]
    boxes = b"".join(box(b"ispe", b"\0\0\0\0" + struct.pack(">II", *size)) for size in sizes)
    return box(b"ftyp", b"heic\0\0\0\0mif1heic") + box(b"meta", b"\0\0\0\0" + boxes)


def middle_lost(data: bytes) -> bytes:
    """The size kept, the second half zeroed: an interrupted copy onto a preallocated file."""
    return data[: len(data) // 2] + b"\0" * (len(data) - len(data) // 2)


JPEG, PNG, WEBP, TIFF = (encoded(kind) for kind in (".jpg", ".png", ".webp", ".tiff"))
SOF = JPEG.index(b"\xff\xc0")

FILES: dict[str, tuple[str, Callable[[], bytes]]] = {
    # What happens in a shop.
    "empty.jpg": ("photo-empty", lambda: b""),
    "one_byte.jpg": ("photo-format", lambda: b"\xff"),
    "half.jpg": ("photo-truncated", lambda: JPEG[: len(JPEG) // 2]),
    "last_byte_lost.jpg": ("photo-truncated", lambda: JPEG[:-1]),
    "header_only.jpg": ("photo-truncated", lambda: JPEG[: SOF + 12]),
    "interrupted_copy.jpg": ("photo-truncated", lambda: middle_lost(JPEG)),
    "half.png": ("photo-truncated", lambda: PNG[: len(PNG) // 2]),
    "no_end.png": ("photo-truncated", lambda: PNG[:-12]),
    "half.webp": ("photo-truncated", lambda: WEBP[: len(WEBP) // 2]),
    "half.tiff": ("photo-truncated", lambda: TIFF[: len(TIFF) // 2]),
    "half.heic": ("photo-truncated", lambda: heic(4000, 3000, box(b"mdat", b"\0" * 5000)[:2000])),
    "notes.jpg": ("photo-format", lambda: b"backlash 7 thou, pattern low\n" * 20),
    "manual.jpg": ("photo-format", lambda: b"%PDF-1.7\n" + b"x" * 4000),
    "folder.jpg": ("photo-format", lambda: b"PK\x03\x04" + b"\0" * 400),
    "page.jpg": ("photo-format", lambda: b"<!DOCTYPE html><title>not found</title>"),
    "clip.jpg": ("photo-format", lambda: box(b"ftyp", b"isom\0\0\0\0mp42") + box(b"mdat", b"\0" * 900)),
    "sticker.jpg": ("photo-format", lambda: b"GIF89a" + b"\0" * 400),
    "next_generation.jpg": ("photo-format", lambda: box(b"ftyp", b"avif\0\0\0\0mif1avif") + b"\0" * 400),
    "bitmap.bmp": ("photo-format", lambda: encoded(".bmp")),
    "negative.dng": (
        "photo-raw",
        lambda: tiff({256: (3, 1, 300), 257: (3, 1, 200), 50706: (1, 4, 1)}),
    ),
    "thumbnail.jpg": ("photo-too-small", lambda: encoded(".jpg", picture(160, 120))),
    "noise.jpg": ("photo-format", lambda: np.random.default_rng(1).bytes(5000)),
    "zeros.jpg": ("photo-format", lambda: bytes(5000)),
    "float.tiff": ("photo-depth", lambda: encoded(".tiff", np.ones((300, 300), np.float32))),
    # Enormous by their own account.
    "enormous.png": ("photo-too-many-pixels", lambda: png(30000, 30000, zlib.compress(bytes(90_000)))),
    "most_enormous.png": ("photo-too-many-pixels", lambda: png(2**31 - 1, 2**31 - 1, b"")),
    "enormous.jpg": (
        "photo-too-many-pixels",
        lambda: JPEG[: SOF + 5] + struct.pack(">HH", 65000, 65000) + JPEG[SOF + 9 :],
    ),
    "enormous.webp": (
        "photo-too-many-pixels",
        lambda: b"RIFF" + struct.pack("<I", 22) + b"WEBPVP8X" + struct.pack("<II", 10, 0) + b"\xff" * 6,
    ),
    "enormous.tiff": ("photo-too-many-pixels", lambda: tiff({256: (4, 1, 50000), 257: (4, 1, 50000)})),
    "enormous.heic": ("photo-too-many-pixels", lambda: heic(40000, 40000)),
    # Structure that contradicts itself.
    "no_pixels.png": ("photo-damaged", lambda: png(0, 0, b"")),
    "false_size.png": ("photo-truncated", lambda: PNG[:33] + b"\xff\xff\xff\xf0IDAT" + PNG[41:]),
    "spoilt_pixels.png": ("photo-damaged", lambda: png(320, 240, b"not deflate")),
    "wrong_checksum.png": ("photo-damaged", lambda: png(320, 240, zlib.compress(bytes(240 * 961))[:-4])),
    "no_size.jpg": (
        "photo-damaged",
        lambda: b"\xff\xd8\xff\xda\0\x08\x01\x01\0\0\0\0" + b"\0" * 99 + b"\xff\xd9",
    ),
    "all_fill.jpg": ("photo-damaged", lambda: b"\xff\xd8" + b"\xff" * 2_000_000),
    "many_passes.jpg": ("photo-damaged", many_passes),
    "first_pass_again.jpg": ("photo-damaged", lambda: passes_again(first=True)),
    "last_pass_again.jpg": ("photo-damaged", lambda: passes_again(first=False)),
    "large_in_passes.jpg": ("photo-too-much-memory", large_in_passes),
    "decoy_sizes.heic": ("photo-too-many-pixels", decoys),
    "one_large_strip.tiff": (
        "photo-too-much-memory",
        lambda: tiff(
            {256: (4, 1, 9000), 257: (4, 1, 9000), 258: (3, 1, 16), 277: (3, 1, 4), 278: (4, 1, 9000)}
        ),
    ),
    "many_segments.jpg": ("photo-damaged", lambda: b"\xff\xd8" + b"\xff\xe5\0\x02" * 500_000),
    "many_chunks.png": (
        "photo-damaged",
        lambda: png(320, 240, b"", *[png_chunk(b"tEXt", b"")] * 100_000),
    ),
    "strip.png": ("photo-too-narrow", lambda: encoded(".png", np.zeros((20_000, 200, 3), np.uint8))),
    "large_film.webp": ("photo-too-much-memory", large_film),
    "many_chunks.webp": (
        "photo-damaged",
        lambda: b"RIFF" + struct.pack("<I", 800_004) + b"WEBP" + (b"JUNK\0\0\0\0" * 100_000),
    ),
    "many_boxes.heic": ("photo-damaged", lambda: heic(4000, 3000, box(b"free", b"") * 100_000)),
    "no_length.heic": ("photo-damaged", lambda: heic(4000, 3000, b"\0\0\0\x04free" + b"\0" * 99)),
    "endless_tags.tiff": ("photo-truncated", lambda: b"II*\0\x08\0\0\0\xff\xff" + b"\0" * 500),
    "tags_elsewhere.tiff": ("photo-truncated", lambda: b"II*\0\xff\xff\xff\x7f" + b"\0" * 500),
    "big_tags.tiff": ("photo-truncated", lambda: b"II+\0\x08\0\0\0" + b"\xff" * 16),
    "no_pixels.tiff": ("photo-damaged", lambda: tiff({256: (3, 1, 0), 257: (3, 1, 0)})),
    "no_strips.tiff": ("photo-damaged", lambda: tiff({256: (3, 1, 300), 257: (3, 1, 300)})),
}


def make_corpus(folder: Path) -> dict[str, str]:
    """Write every bad file into `folder`; the expected error code by file name."""
    for name, (_, build) in FILES.items():
        (folder / name).write_bytes(build())
    expected = {name: code for name, (code, _) in FILES.items()}

    (folder / "a_folder.jpg").mkdir()
    expected["a_folder.jpg"] = "photo-folder"
    expected["not_there.jpg"] = "photo-missing"
    expected["n" * 300 + ".jpg"] = "photo-unreadable"
    with (folder / "too_big.jpg").open("wb") as file:
        file.write(JPEG)
        file.truncate(60_000_001)  # sparse: takes no room on the disk
    expected["too_big.jpg"] = "photo-too-big"
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "pipe.jpg")
        expected["pipe.jpg"] = "photo-not-a-file"
    if Path("/dev/zero").exists():
        (folder / "device.jpg").symlink_to("/dev/zero")
        expected["device.jpg"] = "photo-not-a-file"
    (folder / "lost_link.jpg").symlink_to(folder / "nowhere.jpg")
    expected["lost_link.jpg"] = "photo-missing"
    (folder / "circle.jpg").symlink_to(folder / "circle.jpg")
    expected["circle.jpg"] = "photo-unreadable"
    if hasattr(os, "geteuid") and os.geteuid() != 0:  # root may read everything
        (folder / "forbidden.jpg").write_bytes(JPEG)
        (folder / "forbidden.jpg").chmod(0)
        expected["forbidden.jpg"] = "photo-unreadable"
    return expected
