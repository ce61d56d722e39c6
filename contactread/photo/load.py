"""From a file or its bytes to an upright picture."""

from __future__ import annotations

import hashlib
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from contactread.errors import ContactreadError, MissingExtraError
from contactread.photo.header import Header, damaged, plain_png
from contactread.photo.intake import check_photo_bytes, read_photo_bytes
from contactread.photo.limits import MOST_PIXELS
from contactread.photo.opencv import opencv, out_of_memory
from contactread.photo.photo import LARGE, Photo


def load_photo(source: str | os.PathLike[str] | bytes, reduce: bool = False) -> Photo:
    """Read a photo from a file, or from the bytes of one, and turn it upright. The file stays untouched.

    reduce: decode a large photo at half its size, see `Photo.at_reading_size`; of a JPEG that is quicker.
    Raises PhotoError, before anything is decoded where possible: photo-missing, photo-folder,
    photo-not-a-file, photo-unreadable, photo-empty, photo-too-big, photo-format, photo-raw, photo-depth,
    photo-truncated, photo-damaged, photo-too-many-pixels, photo-too-much-memory, photo-too-small,
    photo-too-narrow. MissingExtraError for HEIC without its extra; ContactreadError (opencv-missing) where
    OpenCV can't be loaded.
    """
    if isinstance(source, bytes):
        return decode_photo(source, check_photo_bytes(source), None, reduce)
    data = read_photo_bytes(Path(source))
    return decode_photo(data, check_photo_bytes(data), Path(source), reduce)


def decode_photo(data: bytes, header: Header, path: Path | None = None, reduce: bool = False) -> Photo:
    """The picture in the bytes of a file whose header was checked. Raises as `load_photo` says."""
    with ThreadPoolExecutor(1) as beside:  # decoding and hashing both let go of the interpreter
        digest = beside.submit(hashlib.sha256, data)
        halved = reduce and header.format == "jpeg" and max(header.width, header.height) >= LARGE
        pixels = _heic_pixels(data) if header.format == "heic" else _pixels(data, header, halved)
        photo = Photo(path, pixels, digest.result().hexdigest(), header.format)
        if halved:
            size = (header.width, header.height)
            return replace(photo, reduced=2, whole=size[::-1] if header.orientation >= 5 else size)
        return photo.at_reading_size() if reduce else photo


def _pixels(data: bytes, header: Header, halved: bool) -> NDArray[np.uint8]:
    cv2 = opencv()
    data = plain_png(data) if header.format == "png" else data
    size = cv2.IMREAD_REDUCED_COLOR_2 if halved else cv2.IMREAD_COLOR
    try:
        decoded = cv2.imdecode(np.frombuffer(data, np.uint8), size | cv2.IMREAD_IGNORE_ORIENTATION)
    except cv2.error as error:
        if out_of_memory(error):
            raise
        raise damaged("its picture data can't be decoded") from error
    if decoded is None:
        raise damaged("its picture data can't be decoded")
    return upright(decoded, header.orientation)


def upright(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Turn stored pixels as EXIF tag 274 asks (EXIF 2.32, 4.6.4.A): 2 to 4 mirror or turn by half, 5 to 8
    swap rows and columns first.
    """
    cv2 = opencv()
    if orientation >= 5:
        pixels = cv2.transpose(pixels)
        orientation = {5: 1, 6: 2, 7: 3, 8: 4}[orientation]
    if orientation == 1:
        return pixels
    turned: NDArray[np.uint8] = cv2.flip(pixels, {2: 1, 3: -1, 4: 0}[orientation])
    return turned


def _heic_pixels(data: bytes) -> NDArray[np.uint8]:
    try:
        import pillow_heif
    except ImportError as error:
        raise MissingExtraError("heic", "Reading HEIC photos") from error
    try:
        picture = pillow_heif.open_heif(data, convert_hdr_to_8bit=True, bgr_mode=True)
        width, height = picture.size  # of the picture that will be decoded, whatever boxes said of others
        if width * height > MOST_PIXELS or width < 1 or height < 1:
            raise damaged("it doesn't say how large its picture is")
        pixels = np.asarray(picture)
    except (ContactreadError, MemoryError):
        raise
    except Exception as error:  # whatever a decoder finds in a hostile file
        raise damaged("its picture data can't be decoded") from error
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[:, :, None], 3, axis=2)
    return np.ascontiguousarray(pixels[:, :, :3], dtype=np.uint8)
