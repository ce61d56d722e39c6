"""OpenCV, imported once it is needed, quietly, with its own guard against huge pictures."""

from __future__ import annotations

import os
from types import ModuleType

from contactread.errors import ContactreadError
from contactread.photo.limits import MOST_PIXELS


def opencv() -> ModuleType:
    """The cv2 module. Raises ContactreadError (opencv-missing) where it can't be loaded.

    A second guard behind our own header check: OpenCV reads these variables when first imported.
    """
    os.environ.setdefault("OPENCV_IO_MAX_IMAGE_PIXELS", str(MOST_PIXELS))
    os.environ.setdefault("OPENCV_LOG_LEVEL", "SILENT")
    try:
        import cv2
    except ImportError as error:
        if "libGL" in str(error) or "libgthread" in str(error) or "libglib" in str(error):
            cure = "Install the system's libraries: sudo apt-get install libgl1 libglib2.0-0"
        else:
            cure = "Install it with: pip install 'opencv-python>=4.9,<5'"
        raise ContactreadError("opencv-missing", f"OpenCV can't be loaded: {error}.", cure) from error
    return cv2
