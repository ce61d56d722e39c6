"""Every flag and refusal of a photo, judged here and nowhere else, from what others have measured.

The limits are our own choice, set on sample_images, on altered copies of them and on rendered scenes that
nothing has learnt from.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, Singles, median, quantile
from contactread.errors import PhotoError
from contactread.flags import flag
from contactread.flank.flank import FlatFlank
from contactread.flank.sight import INPUT_HEIGHT, INPUT_WIDTH
from contactread.photo.photo import Photo
from contactread.photo.shrink import shrink

# Two painted teeth must show a place that is surely contact; on rendered photos of our own, patterns reach
# 0.95, gears without compound or with straight teeth 0.2 at most.
PEAK = 0.6
LEAST_SHARE = 0.5  # of the flanks seen; if fewer look painted, without a pattern, it is no compound
NOTHING_LIT = 55.0  # of 255, the bright end of a whole picture in which nothing is found
NOTHING_SHARP = 0.10  # of the whole photo
BURNT = 245  # level of the darkest colour from which a pixel is
GREY = np.array([0.114, 0.587, 0.299])  # of blue, green, red (ITU-R BT.601)
_CUT = 0.25  # of a flank that leaves the picture or is hidden
_SCATTER = (0.06, 0.10)  # tooth to tooth, shares of length and height: twice the usual
_SURE_SIDE = 0.75
_SHARP_PX = 64.0  # sharpness is judged with flanks shown at least so long, or as they are


@dataclass(frozen=True)
class Showing:
    """How the flanks show in the photo.

    light: bright end of the flanks, grey levels 0..255: metal, since compound may be dark. sharp: see
    `sharpness`. length: of a flank in pixels. slant: its height over its length. burnt: share of the flanks
    that a lamp's image hides. All are medians or means over the flanks.
    """

    light: float
    sharp: float
    length: float
    slant: float
    burnt: float

    @classmethod
    def of(cls, photo: Photo, flats: Sequence[FlatFlank]) -> Showing:
        """How these flanks show; at least one."""
        length = float(median([flat.flank.length_px for flat in flats]))
        seen = [flat.pixels[::4, ::4][flat.seen[::4, ::4]] for flat in flats]
        seen = [pixels for pixels in seen if len(pixels)]
        # A lamp's mirror image is white; a bright coat of compound saturates one or two of the three colours.
        burnt = np.mean(np.concatenate(seen).min(axis=-1) >= BURNT) if seen else 0.0
        bright = median([quantile(pixels @ GREY, 0.90) for pixels in seen]) if seen else 0.0
        slant = median([flat.flank.height_px / max(flat.flank.length_px, 1e-6) for flat in flats])
        return cls(
            float(bright), sharpness(_region(photo, flats, length)), length, float(slant), float(burnt)
        )


@dataclass(frozen=True)
class _Limit:
    """A measure of `Showing` beyond which a photo is refused, and a milder one beyond which that is noted.

    explains: refusals whose reason it is where it lies beyond `explain`.
    """

    measure: str
    refuse: float
    note: float
    refusal: str
    noted: str
    explain: float
    explains: tuple[str, ...] = ("no-pattern", "not-rolled", "no-compound")

    def passed(self, value: float, limit: float) -> bool:
        return value < limit if self.refuse < self.note else value > limit


_LIMITS = (
    _Limit("light", 48.0, 65.0, "too-dark", "dark", 65.0),
    _Limit("sharp", 0.10, 0.135, "too-blurred", "blurred", 0.135),
    _Limit("length", 48.0, 110.0, "teeth-too-small", "small-teeth", 90.0),
    _Limit("burnt", 0.45, 0.12, "glare-over-flanks", "glare", 0.12),
    _Limit("slant", 0.06, 0.13, "too-oblique", "oblique", 0.13, ("no-pattern", "not-rolled")),
)


def nothing_seen(grey: NDArray[np.uint8], bare: bool = False) -> PhotoError:
    """Why no flank was found: the light, the focus, no compound, or no gear.

    grey: the picture that was looked at. bare: teeth without compound were seen there, if not of what gear.
    """
    if quantile(grey, 0.95) < NOTHING_LIT:
        return flag("too-dark").refusal()
    if sharpness(grey) < NOTHING_SHARP:
        return flag("too-blurred").refusal()
    return flag("no-compound" if bare else "no-ring-gear").refusal()


def picture_flags(showing: Showing) -> tuple[str, ...]:
    """Codes of what is less than good about how the flanks show; raises the gravest refusal that applies."""
    for limit in _LIMITS:
        if limit.passed(getattr(showing, limit.measure), limit.refuse):
            raise flag(limit.refusal).refusal()
    return tuple(each.noted for each in _LIMITS if each.passed(getattr(showing, each.measure), each.note))


def explained(refusal: PhotoError, showing: Showing, painted: Sequence[float] = ()) -> PhotoError:
    """The refusal of a photo without a pattern, or without compound on its teeth; or a fault of the photo
    that would else only be noted and explains it better. painted: as for `check_paint`, if the network was
    asked."""
    graver = [
        limit.refusal
        for limit in _LIMITS
        if limit.passed(getattr(showing, limit.measure), limit.explain) and refusal.code in limit.explains
    ]
    if graver:
        return flag(graver[0]).refusal()
    bare = refusal.code == "no-pattern" and mostly_bare(painted)
    return flag("no-compound").refusal() if bare else refusal


def check_paint(painted: Sequence[float]) -> None:
    """Raises no-compound or too-few-teeth, as the close-up network sees the flanks of a gear.

    painted: of each flank in order, the chance that it carries compound.
    """
    marked = sum(chance > 0.5 for chance in painted)
    if marked < 2:
        raise flag("no-compound" if mostly_bare(painted) else "too-few-teeth").refusal()
    if not any(p > 0.5 and q > 0.5 for p, q in itertools.pairwise(painted)):
        raise flag("no-compound").refusal()  # a brush paints neighbours


def mostly_bare(painted: Sequence[float]) -> bool:
    """Whether most flanks seem bare: a pattern that isn't seen on the others then means no compound."""
    return sum(chance > 0.5 for chance in painted) < LEAST_SHARE * len(painted)


def reading_flags(
    measured: Sequence[FlatFlank], spread: tuple[float, float], name_confidence: float, wet: bool
) -> tuple[str, ...]:
    """Codes of what is less than good about what was measured. spread: of the teeth's centres, in u and v.
    wet: whether painted teeth were seen that were never rolled."""
    hidden = np.array([1 - flat.seen.mean() for flat in measured])
    checks = {
        "cut-off": bool((hidden > _CUT).any()),
        "wet-teeth": wet,
        "few-teeth": len(measured) < 3,
        "scatter": len(measured) > 2 and (spread[0] > _SCATTER[0] or spread[1] > _SCATTER[1]),
        "flank-uncertain": name_confidence < _SURE_SIDE,
    }
    return tuple(code for code, applies in checks.items() if applies)


def _region(photo: Photo, flats: Sequence[FlatFlank], length: float) -> NDArray[np.uint8]:
    """The part of the photo, in grey, that the flanks lie in, as large as the finder's first look shows it,
    or larger where they are small."""
    places = np.concatenate([np.array(list(flat.flank.corners.values())) for flat in flats])
    size = np.array([photo.width, photo.height])
    low = np.clip(np.floor(places.min(axis=0)).astype(int), 0, size - 8)
    high = np.clip(np.ceil(places.max(axis=0)).astype(int), low + 8, size)
    scale = min(INPUT_WIDTH / max(size), INPUT_HEIGHT / min(size))
    scale = min(1.0, max(scale, _SHARP_PX / max(length, 1.0)))
    width, height = np.maximum(4, np.round((high - low) * scale).astype(int))
    part = shrink(photo.pixels[low[1] : high[1], low[0] : high[0]], int(width), int(height))
    return np.asarray(cv2.cvtColor(part, cv2.COLOR_BGR2GRAY), np.uint8)


def sharpness(grey: NDArray[np.uint8]) -> float:
    """How much of the local contrast is fine: steepest steps over the range they span, 0..1.

    The 99.5th percentile of the step between neighbouring pixels over the range between the 2nd and 98th
    percentile of the grey levels, after a slight blur that evens out the sensor's grain.
    """
    grey = np.asarray(cv2.GaussianBlur(grey, (5, 5), 1.0), np.uint8)
    beside = cv2.absdiff(grey[:-1, 1:], grey[:-1, :-1]).astype(np.float32)
    below = cv2.absdiff(grey[1:, :-1], grey[:-1, :-1]).astype(np.float32)
    steepest = _percentile(np.asarray(cv2.magnitude(beside, below), np.float32), 99.5, 361)
    span = _percentile(grey, 98, 256) - _percentile(grey, 2, 256)
    return steepest / max(span, 20.0)


def _percentile(values: NDArray[np.uint8] | Singles, share: float, limit: int) -> float:
    """A percentile of values from 0 to below `limit`, to a tenth at least."""
    bins = 10 * limit
    counts: Floats = cv2.calcHist([values], [0], None, [bins], [0, limit])[:, 0].astype(np.float64)
    return float(np.searchsorted(np.cumsum(counts), share / 100 * values.size) / bins * limit)
