"""The networks that ship with the program: each is checked before it is believed."""

from __future__ import annotations

import hashlib
from contextlib import suppress
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

import cv2
import numpy as np

from contactread.arrays import Singles
from contactread.errors import ContactreadError
from contactread.outside import Unfit, read_bytes

# A file that is cut or altered would see no gear, or worse. The export commands print these.
SHA256 = {
    "finder.onnx": "f2a74794350b22d83b1192e9062374523cff438af2bf24c01423ab4a4fc0b251",
    "closeup.onnx": "96fab8a376ac62ab764af8b6bd15b1c41ad816fd2064a127accf1e1ee660512b",
}
_MOST_BYTES = 100_000_000
# Photos are read side by side; a network answers one at a time, with all processors.
_TURN = Lock()


def answer(name: str, picture: Singles) -> Singles:
    """What the network of a file beside this one says of a picture, in the shapes that it was made for.

    Raises as `network`.
    """
    with _TURN:
        asked = network(name)
        asked.setInput(picture)
        return np.asarray(asked.forward(), np.float32)


def load_ahead() -> None:
    """Read all networks before a photo needs them; what can't be read raises its error then."""
    with suppress(ContactreadError):
        for name in SHA256:
            with _TURN:
                network(name)


def chances(log_odds: Singles) -> Singles:
    """Chances, 0..1, of a network's raw answers."""
    return np.asarray(1 / (1 + np.exp(-np.clip(log_odds, -30, 30))), np.float32)


@cache
def network(name: str) -> Any:
    """The network of a file beside this one, for `cv2.dnn`; read once in a process.

    Raises ContactreadError: own-files-unreadable, model-damaged.
    """
    path = Path(__file__).with_name(name)
    again = "Install contactread anew."
    try:
        data = read_bytes(path, _MOST_BYTES)
    except Unfit as error:
        raise ContactreadError(
            "own-files-unreadable", f"contactread can't read its own file {path}: {error}.", again
        ) from error
    if hashlib.sha256(data).hexdigest() != SHA256[name]:
        raise ContactreadError(
            "model-damaged", f"The network {path} isn't as it was made: it is cut or altered.", again
        )
    return cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8))
