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
    """What to install where `import cv2` failed: OpenCV itself, or the system's libraries that it loads."""
    if isinstance(error, ModuleNotFoundError):
        cure = "Install it with: pip install 'opencv-python<5'"
    elif "DLL load failed" in str(error):  # from memory of Windows
        cure = (
            "Install Microsoft's Visual C++ runtime (x64); an N edition of Windows also needs its Media "
            "Feature Pack (Settings, Optional features)."
        )
    else:
        cure = (
            "It is installed, but the system lacks libraries that it loads. On Debian and Ubuntu: "
            "sudo apt-get install libgl1 libglib2.0-0"
        )
    return ContactreadError("opencv-missing", f"OpenCV can't be loaded: {error}.", cure)


def out_of_memory(error: BaseException) -> bool:
    """Whether an error says that memory ran out; OpenCV has words of its own for that."""
    words = str(error).lower()
    of_opencv = type(error).__module__.partition(".")[0] == "cv2"
    return isinstance(error, MemoryError) or (of_opencv and ("bad_alloc" in words or "memory" in words))


def is_opencv(error: ImportError) -> bool:
    """Whether a failed import was OpenCV's: it isn't there, or a library that it loads isn't."""
    return error.name == "cv2" or "cv2" in str(error)
