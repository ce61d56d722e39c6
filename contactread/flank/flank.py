"""One ring-gear flank in a picture: a smooth map from flank coordinates to pixels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from contactread.arrays import Floats, Singles
from contactread.axle import FlankName

if TYPE_CHECKING:
    from contactread.flank.closeup import CloseUp

# Working height over face width of a usual automotive ring gear: common practice of the trade.
USUAL_ASPECT = 0.24

CORNER_UV: dict[str, tuple[float, float]] = {
    "toe_root": (0.0, 0.0),
    "toe_top": (0.0, 1.0),
    "heel_top": (1.0, 1.0),
    "heel_root": (1.0, 0.0),
}


def _chebyshev(place: Floats, count: int) -> Floats:
    """The first Chebyshev polynomials at places on [0, 1], (places, count), by their recurrence: numpy's own
    `chebvander` gives the same to the last bit and takes twice as long."""
    terms = np.empty((*place.shape, count))
    terms[..., 0] = 1
    if count > 1:
        first = 2 * place - 1
        terms[..., 1] = first
        twice, before, last = 2 * first, terms[..., 0], first
        for k in range(2, count):
            before, last = last, twice * last - before
            terms[..., k] = last
    return terms


@dataclass(frozen=True, eq=False)
class FlankMap:
    """A smooth map (u, v) -> pixel (x, y), as Chebyshev series on [0, 1] x [0, 1].

    coefficients: float64, shape (nu, nv, 2); term [i, j] multiplies T_i(2u - 1) T_j(2v - 1) (Chebyshev
    polynomials of the first kind, numpy.polynomial.chebyshev). Last axis: x right, y down, in pixels
    of the upright picture, centre of the top-left pixel at (0, 0).
    """

    coefficients: Floats

    def __call__(self, u: ArrayLike, v: ArrayLike) -> Floats:
        """Pixel positions, shape (..., 2), for u and v of equal shape (...)."""
        u, v = np.asarray(u, np.float64), np.asarray(v, np.float64)
        nu, nv = self.coefficients.shape[:2]
        places = self.basis(u.ravel(), v.ravel(), nu, nv) @ self.coefficients.reshape(nu * nv, 2)
        return places.reshape(*u.shape, 2)

    def grid(self, u: Floats, v: Floats) -> Floats:
        """Pixel positions on the grid v x u, shape (len(v), len(u), 2)."""
        nu, nv = self.coefficients.shape[:2]
        along = _chebyshev(u, nu) @ self.coefficients.reshape(nu, nv * 2)
        up = _chebyshev(v, nv) @ along.reshape(len(u), nv, 2)  # (u, v, 2)
        return np.ascontiguousarray(up.swapaxes(0, 1))

    @staticmethod
    def basis(u: Floats, v: Floats, nu: int, nv: int) -> Floats:
        """Design matrix, shape (points, nu * nv), for fitting `coefficients.reshape(nu * nv, 2)`."""
        design = _chebyshev(u, nu)[:, :, None] * _chebyshev(v, nv)[:, None, :]
        return design.reshape(len(u), nu * nv)


@dataclass(frozen=True, eq=False)
class Flank:
    """One flank of one tooth.

    map: flank coordinates to pixels. name: "convex" or "concave" flank of the ring-gear tooth, None
    while unknown. confidence: 0..1 that the map is right. residual: RMS misfit of the map's evidence,
    as a fraction of the flank's length in the picture. source: who marked it. name_confidence: 0..1 that
    `name` is right. aspect: true height over true length (mean height over face width). covered_by: polygons
    in pixels, each (n, 2), of the neighbouring tooth in front. turn_rad: place of the tooth round the gear's
    axis, from any zero, where known. length_sigma, height_sigma: standard uncertainty of u and v at the
    middle from the map itself, the same way for all teeth of a photo.
    """

    map: FlankMap
    name: FlankName | None
    confidence: float
    residual: float
    source: Literal["corners", "finder"]
    name_confidence: float = 1.0
    aspect: float = USUAL_ASPECT
    covered_by: tuple[Floats, ...] = ()
    turn_rad: float | None = None
    length_sigma: float = 0.0
    height_sigma: float = 0.0

    def enlarged(self, times: int) -> Flank:
        """The same flank in a picture so many times as wide and high."""
        if times == 1:
            return self

        def moved(points: Floats) -> Floats:
            return np.asarray((points + 0.5) * times - 0.5)

        coefficients = self.map.coefficients * times
        coefficients[0, 0] += (times - 1) / 2
        return replace(
            self,
            map=FlankMap(coefficients),
            covered_by=tuple(moved(polygon) for polygon in self.covered_by),
        )

    @cached_property
    def corners(self) -> dict[str, tuple[float, float]]:
        """The four corners in pixels, by name (toe_root, toe_top, heel_top, heel_root)."""
        return {name: (float(x), float(y)) for name, (x, y) in zip(CORNER_UV, self._places, strict=True)}

    @cached_property
    def length_px(self) -> float:
        """Mean straight length toe to heel in pixels."""
        toe_root, toe_top, heel_top, heel_root = self._places
        return float((np.hypot(*(heel_root - toe_root)) + np.hypot(*(heel_top - toe_top))) / 2)

    @cached_property
    def height_px(self) -> float:
        """Mean straight height root to top in pixels."""
        toe_root, toe_top, heel_top, heel_root = self._places
        return float((np.hypot(*(toe_top - toe_root)) + np.hypot(*(heel_top - heel_root))) / 2)

    @cached_property
    def _places(self) -> Floats:
        """Pixels of the corners in the order of CORNER_UV, (4, 2)."""
        return self.map(*np.array(list(CORNER_UV.values())).T)


@dataclass(frozen=True, eq=False)
class FlatFlank:
    """A flank flattened from the photo's own pixels.

    pixels: uint8, (rows, columns, 3), blue, green, red. Row 0 is the ROOT (v = 0), the last row the
    TOP; column 0 is the TOE (u = 0), the last column the HEEL. Pixel centres lie at (i + 0.5) / count.
    seen: bool, (rows, columns): inside the picture and not hidden. mm_size: (length, height) of the flank in
    mm, if the axle is known, else None. contact, painted: what the close-up network says, if it was asked:
    chance of contact, float32, (any rows, any columns) over the flank; chance that the tooth carries
    compound. rolled: chance that it was rolled through the mesh, by the same network.
    """

    pixels: NDArray[np.uint8]
    seen: NDArray[np.bool_]
    flank: Flank
    mm_size: tuple[float, float] | None = None
    contact: Singles | None = None
    painted: float | None = None
    rolled: float | None = None


@dataclass(frozen=True, eq=False)
class Found:
    """What a finder gives: the flanks of one kind seen in a photo, in order round the gear, in its pixels.

    name_confidence: 0.5..1 that `name` (convex or concave) is right. closeups: one for each flank, or none.
    flags: codes of contactread.flags that apply. other: finds the flanks of the other kind, from the same
    looks, where those show a pattern too.
    """

    name: FlankName
    name_confidence: float
    flanks: tuple[Flank, ...]
    closeups: tuple[CloseUp, ...] = ()
    flags: tuple[str, ...] = ()
    other: Callable[[], Found] | None = None
