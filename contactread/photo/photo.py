"""The photo: an upright picture and what is known of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright picture, never altered on disk.

    pixels: uint8, shape (height, width, 3), channel order blue, green, red, sRGB as decoded; no white
    balance applied. balance: gains (blue, green, red) that make the light neutral, to be applied to
    linear light. sha256: of the file's bytes. format: "jpeg", "png", "webp", "tiff" or "heic".
    """

    path: Path | None
    pixels: NDArray[np.uint8]
    balance: tuple[float, float, float]
    sha256: str
    format: str

    @property
    def width(self) -> int:
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        return int(self.pixels.shape[0])
