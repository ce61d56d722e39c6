"""The photo: an upright picture and what is known of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from contactread.photo.balance import estimate_balance


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright picture, never altered on disk.

    pixels: uint8, shape (height, width, 3), channel order blue, green, red, sRGB as decoded; no white
    balance applied. sha256: of the file's bytes. format: "jpeg", "png", "webp", "tiff" or "heic".
    """

    path: Path | None
    pixels: NDArray[np.uint8]
    sha256: str
    format: str

    @cached_property
    def balance(self) -> tuple[float, float, float]:
        """Gains (blue, green, red) that make the light neutral, to be applied to linear light."""
        return estimate_balance(self.pixels)

    @property
    def width(self) -> int:
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        return int(self.pixels.shape[0])
