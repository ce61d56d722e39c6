"""From a file or its bytes to an upright picture."""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from contactread.errors import MissingExtraError, PhotoError
from contactread.photo.balance import estimate_balance
from contactread.photo.header import Header, damaged, read_header
from contactread.photo.limits import FEWEST_PIXELS_ACROSS, MOST_BYTES, MOST_PIXELS
from contactread.photo.opencv import opencv
from contactread.photo.photo import Photo

_NAME_A_PHOTO = "Give the name of a photo file."


def load_photo(source: str | os.PathLike[str] | bytes) -> Photo:
    """Read a photo from a file, or from the bytes of one, and turn it upright. The file stays untouched.

    Raises PhotoError, before anything is decoded where possible: photo-missing, photo-folder,
    photo-not-a-file, photo-unreadable, photo-empty, photo-too-big, photo-format, photo-raw,
    photo-truncated, photo-damaged, photo-too-many-pixels, photo-too-small. MissingExtraError for HEIC
    without its extra; ContactreadError (opencv-missing) where OpenCV can't be loaded.
    """
    path = None if isinstance(source, bytes) else Path(source)
    data = source if isinstance(source, bytes) else read_photo_bytes(Path(source))
    header = check_photo_bytes(data)
    pixels = _heic_pixels(data) if header.format == "heic" else _pixels(data, header)
    return Photo(path, pixels, estimate_balance(pixels), hashlib.sha256(data).hexdigest(), header.format)


def read_photo_bytes(path: Path) -> bytes:
    """The bytes of an ordinary file of bearable size. Raises PhotoError as `load_photo` says."""
    try:
        about = path.stat()
        if stat.S_ISDIR(about.st_mode):
            raise PhotoError("photo-folder", "This is a folder, not a photo.", "Name the photos inside it.")
        if not stat.S_ISREG(about.st_mode):  # opening a pipe or a device could wait for ever
            raise PhotoError("photo-not-a-file", "This is a pipe or a device, not a file.", _NAME_A_PHOTO)
        if about.st_size > MOST_BYTES:
            raise _too_big(about.st_size)
        with path.open("rb") as file:
            return file.read(MOST_BYTES + 1)
    except FileNotFoundError as error:
        raise PhotoError(
            "photo-missing", "There is no such file.", "Check the name and the folder."
        ) from error
    except ValueError as error:  # a null character in the name
        raise PhotoError("photo-missing", "No file can have such a name.", _NAME_A_PHOTO) from error
    except OSError as error:
        reason = error.strerror or "the system gave no reason"
        raise PhotoError(
            "photo-unreadable",
            f"The file can't be read: {reason}.",
            "Check that you may read it, or copy it here.",
        ) from error


def check_photo_bytes(data: bytes) -> Header:
    """Everything that can be refused without decoding. Raises PhotoError as `load_photo` says."""
    if not data:
        raise PhotoError("photo-empty", "The file is empty.", "Copy it from the phone or camera again.")
    if len(data) > MOST_BYTES:
        raise _too_big(len(data))
    header = read_header(data)
    size = f"{header.width} x {header.height} pixels"
    if header.width * header.height > MOST_PIXELS:
        raise PhotoError(
            "photo-too-many-pixels",
            f"The photo has {size}; more than {MOST_PIXELS // 10**6} million aren't read.",
            "Set the camera to a smaller size; 12 million pixels are plenty.",
        )
    if header.width < 1 or header.height < 1:
        raise damaged("it says it has no pixels")
    if min(header.width, header.height) < FEWEST_PIXELS_ACROSS:
        raise PhotoError(
            "photo-too-small",
            f"The photo has only {size}, so no tooth can be measured in it.",
            "Use the camera's original, not a preview of it.",
        )
    return header


def _too_big(size: int) -> PhotoError:
    return PhotoError(
        "photo-too-big",
        f"The file has {size / 1e6:.0f} MB; at most {MOST_BYTES / 1e6:.0f} MB are read.",
        "Save it as a JPEG, or set the camera to a smaller size.",
    )


def _pixels(data: bytes, header: Header) -> NDArray[np.uint8]:
    cv2 = opencv()
    try:
        decoded = cv2.imdecode(
            np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
        )
    except cv2.error as error:
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
        pixels = np.asarray(picture)
    except (ValueError, OSError, RuntimeError, EOFError, SyntaxError) as error:
        raise damaged("its picture data can't be decoded") from error
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[:, :, None], 3, axis=2)
    return np.ascontiguousarray(pixels[:, :, :3], dtype=np.uint8)
