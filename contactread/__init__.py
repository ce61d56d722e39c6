"""contactread: gear tooth-contact patterns from photographs, and the next shim move.

    drive, coast = contactread.read("drive.jpg"), contactread.read("coast.jpg")
    axle = contactread.load_axle("axle.toml")
    print(contactread.advise(contactread.pair(drive, coast), axle).headline)

The names below are loaded when first used, so that importing contactread costs nothing.
"""

from __future__ import annotations

import os

TYPE_CHECKING = False  # as of typing, which takes longer to import than all that stands here
if TYPE_CHECKING:
    from typing import Any

    from contactread.advice.advise import advise
    from contactread.axle import Axle, Carrier, EaseOff, GearSet, Limits, PinionShim
    from contactread.axle_file import load_axle
    from contactread.belief.believe import believe
    from contactread.belief.forecast import predict
    from contactread.belief.tries import EarlierTry
    from contactread.errors import ContactreadError
    from contactread.reading import Reading, read
    from contactread.views import join, pair

__version__ = "0.1.0"

# OpenCV reads these when it is first imported, so they are set before any room can do that. The first is
# a second guard behind our own check of photo headers; the second keeps its chatter off the terminal.
os.environ.setdefault("OPENCV_IO_MAX_IMAGE_PIXELS", "100000000")
os.environ.setdefault("OPENCV_LOG_LEVEL", "SILENT")

__all__ = [
    "Axle",
    "Carrier",
    "ContactreadError",
    "EarlierTry",
    "EaseOff",
    "GearSet",
    "Limits",
    "PinionShim",
    "Reading",
    "advise",
    "believe",
    "join",
    "load_axle",
    "pair",
    "predict",
    "read",
]

_HOMES = {
    "Axle": "contactread.axle",
    "Carrier": "contactread.axle",
    "ContactreadError": "contactread.errors",
    "EarlierTry": "contactread.belief.tries",
    "EaseOff": "contactread.axle",
    "GearSet": "contactread.axle",
    "Limits": "contactread.axle",
    "PinionShim": "contactread.axle",
    "Reading": "contactread.reading",
    "advise": "contactread.advice.advise",
    "believe": "contactread.belief.believe",
    "join": "contactread.views",
    "load_axle": "contactread.axle_file",
    "pair": "contactread.views",
    "predict": "contactread.belief.forecast",
    "read": "contactread.reading",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'contactread' has no attribute {name!r}")
    from importlib import import_module

    try:
        return getattr(import_module(_HOMES[name]), name)
    except ImportError as error:
        from contactread.photo.opencv import is_opencv, opencv_missing

        if is_opencv(error):
            raise opencv_missing(error) from error
        raise


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
