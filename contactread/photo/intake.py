"""What can be told of a photo file before anything is decoded; no heavy import, so that refusing is quick."""

from __future__ import annotations

from pathlib import Path

from contactread.errors import PhotoError
from contactread.outside import Unfit, read_bytes
from contactread.photo.header import Header, damaged, read_header
from contactread.photo.limits import FEWEST_PIXELS_ACROSS, LONGEST_SHAPE, MOST_BYTES, MOST_MEMORY, MOST_PIXELS

_SMALLER = "Save it as a JPEG, or set the camera to a smaller size."
_CLIPS = frozenset({".mp4", ".mov", ".m4v", ".avi", ".mkv", ".webm", ".3gp"})
_NAME_A_PHOTO = "Give the name of a photo file."
_UNFIT = {
    "missing": ("photo-missing", "This photo can't be read: {}.", "Check the name and the folder."),
    "folder": ("photo-folder", "This is a folder, not a photo.", "Name the photos inside it."),
    "special": ("photo-not-a-file", "This is a pipe or a device, not a file.", _NAME_A_PHOTO),
    "too-big": ("photo-too-big", "The file is too big: {}.", _SMALLER),
    "unreadable": (
        "photo-unreadable",
        "The file can't be read: {}.",
        "Check that you may read it, or copy it here.",
    ),
}


def read_photo_bytes(path: Path) -> bytes:
    """The bytes of an ordinary file of bearable size.

    Raises PhotoError: photo-missing, photo-folder, photo-not-a-file, photo-unreadable, photo-too-big.
    """
    try:
        return read_bytes(path, MOST_BYTES)
    except Unfit as error:
        code, message, next_step = _UNFIT.get(error.kind, _UNFIT["unreadable"])
        raise PhotoError(code, message.format(error), next_step) from error


def is_clip(path: Path) -> bool:
    """Whether a file's name is that of a clip, see `photo.clip`."""
    return path.suffix.lower() in _CLIPS


def check_photo_bytes(data: bytes) -> Header:
    """The header of a photo that may be decoded.

    Raises PhotoError: photo-empty, photo-too-big, photo-format, photo-raw, photo-depth, photo-truncated,
    photo-damaged, photo-too-many-pixels, photo-too-much-memory, photo-too-small,
    photo-too-narrow.
    """
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
    memory = 3 * header.width * header.height + header.beside
    if memory > MOST_MEMORY:
        raise PhotoError(
            "photo-too-much-memory",
            f"Decoding this photo of {size} would take {memory / 1e9:.1f} GB of memory.",
            "Save it as an ordinary JPEG, or set the camera to a smaller size.",
        )
    if header.width < 1 or header.height < 1:
        raise damaged("it says it has no pixels")
    if min(header.width, header.height) < FEWEST_PIXELS_ACROSS:
        raise PhotoError(
            "photo-too-small",
            f"The photo has only {size}, so no tooth can be measured in it.",
            "Use the camera's original, not a preview of it.",
        )
    if max(header.width, header.height) > LONGEST_SHAPE * min(header.width, header.height):
        raise PhotoError(
            "photo-too-narrow",
            f"The photo has {size}: a strip, not a photo.",
            "Use the camera's original, uncut.",
        )
    return header


def _too_big(size: int) -> PhotoError:
    return PhotoError(
        "photo-too-big",
        f"The file has {size / 1e6:.0f} MB; at most {MOST_BYTES / 1e6:.0f} MB are read.",
        _SMALLER,
    )
