"""The photo: an upright picture and what is known of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from contactread.photo.shrink import shrink

# Pixels along the longer side from which a photo is read at half its size. What is measured of a flank is
# sampled at 288 places along it; one a fifth as long as such a half has as many pixels.
LARGE = 3000


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright picture, never altered on disk.

    pixels: uint8, shape (height, width, 3), channel order blue, green, red, sRGB as decoded. sha256:
    of the file's bytes. format: "jpeg", "png", "webp", "tiff" or "heic". reduced: the whole picture is so
    many times as wide and high as `pixels`, 1 or 2. whole: its (width, height) where it was reduced, which
    may be odd.
    """

    path: Path | None
    pixels: NDArray[np.uint8]
    sha256: str
    format: str
    reduced: int = 1
    whole: tuple[int, int] | None = None

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the whole picture."""
        return self.whole or (self.reduced * self.width, self.reduced * self.height)

    def at_reading_size(self) -> Photo:
        """The photo at half its size where it is larger than any reading needs, else as it is."""
        if self.reduced > 1 or max(self.width, self.height) < LARGE:
            return self
        half = shrink(self.pixels, (self.width + 1) // 2, (self.height + 1) // 2)
        return replace(self, pixels=half, reduced=2, whole=(self.width, self.height))

    @property
    def width(self) -> int:
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        return int(self.pixels.shape[0])
