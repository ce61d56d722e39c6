"""The two kinds of number arrays, named once: everything that is computed with, and everything seen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]  # places, fits, sums
Singles = NDArray[np.float32]  # what is held for each pixel or cell
