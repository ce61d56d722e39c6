"""What a photo file says of itself before anything is decoded: format by content, size, turn, wholeness.

Only a few bytes of structure are looked at, so a hostile file costs microseconds, not gigabytes.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from typing import NamedTuple

from contactread.errors import PhotoError
from contactread.photo.jpeg import Frame, passes_excess, read_frame
from contactread.photo.tiff import BadDirectory, Directory, exif_orientation

SUPPORTED = "JPEG, PNG, WebP, TIFF or HEIC"
_COPY_AGAIN = "Copy it from the phone or camera again, and check that it opens there."
_SAVE_AS_JPEG = "Photograph or export it as a JPEG and try that file."

_MOST_PARTS = 50_000  # segments, chunks or boxes; real files have a few thousand at most

_MOST_SIZES = 4096  # that a HEIC may give: real ones have one for each kind of tile, preview and mask

_OTHER_KINDS: tuple[tuple[bytes, str], ...] = (
    (b"GIF8", "a GIF picture"),
    (b"BM", "a BMP picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive or office document"),
    (b"\xff\x0a", "a JPEG XL picture"),
    (b"\x00\x00\x00\x0cJXL ", "a JPEG XL picture"),
    (b"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture"),
    (b"8BPS", "a layered editor document"),
    (b"<svg", "an SVG drawing"),
    (b"<?xml", "an XML document"),
    (b"<!DOCTYPE", "a web page"),
    (b"<html", "a web page"),
    (b"\x1aE\xdf\xa3", "a video"),
)
_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
_AVIF_BRANDS = {b"avif", b"avis"}


class Header(NamedTuple):
    """format: as in `Photo.format`. width, height: stored pixels, before turning. orientation: the
    turn, EXIF 1 to 8, that decoding leaves to be done. beside: bytes of memory that decoding takes beside
    the picture's pixels.
    """

    format: str
    width: int
    height: int
    orientation: int = 1
    beside: int = 0


def read_header(data: bytes) -> Header:
    """Look at a file's own account of itself.

    Raises PhotoError: photo-format (not a picture of a kind we read), photo-raw, photo-depth (pixels of a
    kind we don't read), photo-truncated (it ends early), photo-damaged (it contradicts itself).
    """
    try:
        if data.startswith(b"\xff\xd8\xff"):
            return _jpeg(data)
        if data.startswith(b"\x89PNG\r\n\x1a\n"):
            return _png(data)
        if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
            return _webp(data)
        if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
            return _tiff(data)
        if data[4:8] == b"ftyp":
            return _heic(data)
    except (struct.error, IndexError) as error:
        raise truncated() from error
    raise _not_a_photo(data)


def truncated() -> PhotoError:
    return PhotoError("photo-truncated", "The photo file ends before the picture does.", _COPY_AGAIN)


def damaged(detail: str) -> PhotoError:
    return PhotoError("photo-damaged", f"The photo file is damaged: {detail}.", _COPY_AGAIN)


def _not_a_photo(data: bytes) -> PhotoError:
    kind = next((words for magic, words in _OTHER_KINDS if data.startswith(magic)), "")
    found = f"The file is {kind}" if kind else "The file isn't a picture of any kind known here"
    return PhotoError("photo-format", f"{found}; contactread reads {SUPPORTED}.", _SAVE_AS_JPEG)


def _jpeg(data: bytes) -> Header:
    frame: Frame | None = None
    orientation = 1
    at = 2
    for _ in range(_MOST_PARTS):
        if data[at] != 0xFF:
            raise damaged("a JPEG marker is missing")
        marker = data[at + 1]
        if marker == 0xFF:  # fill byte
            at += 1
            continue
        if marker == 0x01 or 0xD0 <= marker <= 0xD8:  # these stand alone
            at += 2
            continue
        if marker == 0xD9:
            raise truncated()
        (length,) = struct.unpack_from(">H", data, at + 2)
        if length < 2:
            raise damaged("a JPEG segment has no length")
        if marker == 0xDA:  # the picture's data begin
            break
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            frame = read_frame(data, at)
        elif marker == 0xE1 and data[at + 4 : at + 10] == b"Exif\0\0":
            orientation = exif_orientation(data[at + 10 : at + 2 + length])
        at += 2 + length
    else:
        raise damaged("the JPEG has too many parts")
    if frame is None:
        raise damaged("the JPEG never gives its size")
    # Within picture data a 0xFF byte is always followed by 0x00 or a restart mark, so the first end
    # mark found here is the picture's own. What phones append after it (a film, a second view) is ignored.
    if not data.endswith(b"\xff\xd9") and data.find(b"\xff\xd9", at) < 0:
        raise truncated()
    in_passes = frame.progressive or data[at + 4] < len(frame.components)
    if in_passes and (excess := passes_excess(data, at, frame)):
        raise damaged(f"the JPEG {excess}")
    return Header("jpeg", frame.width, frame.height, orientation, frame.coefficient_bytes * in_passes)


def _png(data: bytes) -> Header:
    width, height = struct.unpack_from(">II", data, 16)
    if data[12:16] != b"IHDR":
        raise damaged("the PNG never gives its size")
    orientation, at = 1, 8
    for _ in range(_MOST_PARTS):
        length, kind = struct.unpack_from(">I4s", data, at)
        if at + 12 + length > len(data):
            raise truncated()
        if kind == b"eXIf":
            orientation = exif_orientation(data[at + 8 : at + 8 + length])
        if kind == b"IEND":
            return Header("png", width, height, orientation)
        at += 12 + length
    raise damaged("the PNG has too many parts")


def plain_png(data: bytes) -> bytes:
    """A PNG that `read_header` took, with its picture only: texts that unfold to gigabytes, films and
    profiles, which no pixel that is read depends on, stay away from the decoder.
    """
    parts, at = [data[:8]], 8
    while at < len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        if not kind[0] & 0x20 or kind == b"tRNS":  # a capital: needed to show the picture
            parts.append(data[at : at + 12 + length])
        at += 12 + length
        if kind == b"IEND":
            break
    return b"".join(parts)


def _webp(data: bytes) -> Header:
    (size,) = struct.unpack_from("<I", data, 4)
    if size + 8 > len(data):
        raise truncated()
    width = height = 0
    orientation, moves = 1, False
    for kind, start, length in _riff_chunks(data, min(size + 8, len(data))):
        if kind == b"VP8X":
            low, high = int.from_bytes(data[start + 4 : start + 7], "little"), data[start + 7 : start + 10]
            width, height = low + 1, int.from_bytes(high, "little") + 1
        elif kind == b"VP8 " and not width:
            width, height = (n & 0x3FFF for n in struct.unpack_from("<HH", data, start + 6))
        elif kind == b"VP8L" and not width:
            (bits,) = struct.unpack_from("<I", data, start + 1)
            width, height = (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
        elif kind == b"ANIM":
            moves = True
        elif kind == b"EXIF":
            block = data[start : start + length]
            orientation = exif_orientation(block.removeprefix(b"Exif\0\0"))
    canvases = 8 * width * height if moves else 0  # two, with transparency
    return Header("webp", width, height, orientation, canvases)


def _riff_chunks(data: bytes, end: int) -> Iterator[tuple[bytes, int, int]]:
    at = 12
    for _ in range(_MOST_PARTS):
        if at + 8 > end:
            return
        kind, length = struct.unpack_from("<4sI", data, at)
        if at + 8 + length > end:
            raise truncated()
        yield kind, at + 8, length
        at += 8 + length + length % 2
    raise damaged("the WebP has too many parts")


def _tiff(data: bytes) -> Header:
    dng_version, cr2_mark = 50706, b"CR"
    try:
        tags = Directory(data)
        if dng_version in tags or data[8:10] == cr2_mark:
            raise PhotoError(
                "photo-raw", "This is a camera's raw file, which holds no finished picture.", _SAVE_AS_JPEG
            )
        width, height = tags.value(256, 0), tags.value(257, 0)
        depth, channels, floats = max(tags.values(258, (1,))), tags.value(277, 1), tags.value(339, 1) == 3
        starts = tags.values(273) or tags.values(324)  # of strips, or of tiles
        lengths = tags.values(279) or tags.values(325)
        rows = min(tags.value(278, height), height)  # of a strip
        at_once = tags.value(322, 0) * tags.value(323, 0) or width * rows  # pixels of a tile or a strip
    except BadDirectory as error:
        raise truncated() from error
    if any(start + length > len(data) for start, length in zip(starts, lengths, strict=False)):
        raise truncated()
    if depth > 16 or channels > 4 or floats:
        kind = f"{channels} channels of {depth} bits{' (decimal numbers)' if floats else ''}"
        raise PhotoError(
            "photo-depth", f"The TIFF has {kind}; up to 4 channels of 8 or 16 bits are read.", _SAVE_AS_JPEG
        )
    beside = at_once * max(channels, 4) * (2 if depth > 8 else 1)
    return Header("tiff", width, height, beside=beside)  # OpenCV turns a TIFF upright, whatever it is asked


def _heic(data: bytes) -> Header:
    (length,) = struct.unpack_from(">I", data, 0)
    brands = {data[8:12], *(data[at : at + 4] for at in range(16, min(length, 256), 4))}
    if brands & _AVIF_BRANDS:
        raise PhotoError("photo-format", f"The file is an AVIF picture; contactread reads {SUPPORTED}.",
                         _SAVE_AS_JPEG)  # fmt: skip
    if not brands & _HEIC_BRANDS:
        raise PhotoError("photo-format", "The file is a video, not a photo.", "Take a photo instead.")
    # Every size in the file is in an 'ispe' box; tiles and thumbnails have smaller ones than the picture.
    sizes: list[tuple[int, int]] = []
    for start, end in _meta_boxes(data):
        at = data.find(b"ispe", start, end)
        while at >= 0:
            sizes.append(struct.unpack_from(">II", data, at + 8))
            if len(sizes) > _MOST_SIZES:
                raise damaged("the HEIC has too many parts")
            at = data.find(b"ispe", at + 4, end)
    if not sizes:
        raise damaged("the HEIC never gives its size")
    width, height = max(sizes, key=lambda size: size[0] * size[1])
    return Header("heic", width, height)  # its own decoder turns it upright


def _meta_boxes(data: bytes) -> list[tuple[int, int]]:
    """Where the boxes lie that describe the pictures. The last outermost box must end where the file ends."""
    at, found = 0, []
    for _ in range(_MOST_PARTS):
        if at >= len(data):
            break
        length, kind = struct.unpack_from(">I4s", data, at)
        if length == 1:
            (length,) = struct.unpack_from(">Q", data, at + 8)
        if length == 0:  # to the end of the file
            length = len(data) - at
        if length < 8:
            raise damaged("a box has no length")
        if kind == b"meta":
            found.append((at, at + length))
        at += length
    else:
        raise damaged("the HEIC has too many parts")
    if at > len(data):
        raise truncated()
    return found
