"""OpenCV, imported once it is needed, with a plain word where it can't be."""

from __future__ import annotations

from types import ModuleType

from contactread.errors import ContactreadError


def opencv() -> ModuleType:
    """The cv2 module. Raises ContactreadError (opencv-missing) where it can't be loaded."""
    try:
        import cv2
    except ImportError as error:
        raise opencv_missing(error) from error
    return cv2


def opencv_missing(error: ImportError) -> ContactreadError:
    """What to install where `import cv2` failed."""
    if any(name in str(error) for name in ("libGL", "libgthread", "libglib")):
        cure = "Install the system's libraries: sudo apt-get install libgl1 libglib2.0-0"
    else:
        cure = "Install it with: pip install 'opencv-python>=4.9,<5'"
    return ContactreadError("opencv-missing", f"OpenCV can't be loaded: {error}.", cure)


def is_opencv(error: ImportError) -> bool:
    """Whether a failed import was OpenCV's, directly or through one of the libraries it needs."""
    return error.name == "cv2" or any(
        name in str(error) for name in ("cv2", "libGL", "libgthread", "libglib")
    )
