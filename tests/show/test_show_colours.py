"""Marks and charts stay apart for eyes that don't tell red from green.

The two matrices simulate full protanopia and deuteranopia on linear red, green, blue: Machado, Oliveira and
Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency" (2009), from memory.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000, rgb2lab

from contactread.show import flank_chart, overlay

SEEN = {
    "all colours": np.eye(3),
    "protanopia": np.array([
        [0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998],
    ]),
    "deuteranopia": np.array([
        [0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881],
    ]),
}  # fmt: skip
OVERLAY = {name: getattr(overlay, name)[::-1] for name in ("FLANK", "PATCH", "ZONE", "CENTRE", "DARK")}
CHART = {
    name: tuple(int(getattr(flank_chart, name)[k : k + 2], 16) for k in (1, 3, 5))
    for name in ("AFTER_FILL", "ZONE", "STEEL", "INK")
}
APART = 20.0  # CIEDE2000: ten times what an eye just tells side by side


def simulated(colour: tuple[int, ...], matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """The sRGB colour, 0..1, as such an eye sees it."""
    value = np.array(colour) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    seen = np.clip(matrix @ linear, 0, 1)
    return np.asarray(np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055))


@pytest.mark.parametrize("eye", list(SEEN))
@pytest.mark.parametrize("palette", [OVERLAY, CHART], ids=["overlay", "chart"])
def test_colours_stay_apart(palette: dict[str, tuple[int, ...]], eye: str) -> None:
    lab = {name: rgb2lab(simulated(colour, SEEN[eye])) for name, colour in palette.items()}
    near = {
        pair: round(float(deltaE_ciede2000(lab[pair[0]], lab[pair[1]])), 1) for pair in combinations(lab, 2)
    }
    assert min(near.values()) >= APART, near


def test_the_matrices_keep_grey_grey() -> None:
    for matrix in SEEN.values():
        assert simulated((128, 128, 128), matrix) == pytest.approx(np.full(3, 128 / 255), abs=0.01)
