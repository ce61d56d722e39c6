"""The automatic finder: from a photo to the flanks of its painted teeth, or a refusal."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.axle import Axle, FlankName
from contactread.flags import Flag, flag
from contactread.flank.close_look import look_twice
from contactread.flank.closeup import CloseUp
from contactread.flank.flank import Flank
from contactread.flank.gear_fit import Prior
from contactread.flank.rigid import fit_rigid
from contactread.flank.sight import STRIDE, Sight, look
from contactread.flank.teeth import agree, gather
from contactread.photo.photo import Photo

MOST_TEETH = 8  # more of those seen from afar are not looked at closely
# Two painted teeth must show a place that is surely contact; on rendered photos of our own, patterns reach
# 0.95, gears without compound or with straight teeth 0.2 at most.
LEAST_PEAK = 0.6
LEAST_SHARE = 0.5  # of the flanks seen; if fewer look painted, without a pattern, it is no compound
# Where no pattern is seen, a fault of the photo that would only be noted explains it.
GRAVER = {
    "dark": "too-dark",
    "blurred": "too-blurred",
    "glare": "glare-over-flanks",
    "oblique": "too-oblique",
}
FEW_CELLS = 16.0  # fewer cells of contact say little about which flank shows the pattern
BOTH = 0.4  # a flank with that share of the other's contact shows a pattern of its own
# The limits below are our own choice, set on sample_images and on altered copies of them.
SMALLEST_PX = 48.0  # flank length below which nothing can be measured
SMALL_PX = 110.0
FLATTEST = 0.06  # height over length in the picture below which a flank is seen edge-on
FLAT = 0.13
DARK, TOO_DARK = 50.0, 40.0  # median of the flanks' grey levels, of 255
SOFT, TOO_SOFT = 0.135, 0.10  # see sharpness(), of where the flanks lie
NOTHING_SHARP = 0.10  # of the whole photo
GLARE, TOO_MUCH_GLARE = 0.12, 0.45  # share of the flanks burnt out
GREY = np.array([0.114, 0.587, 0.299])  # of blue, green, red (ITU-R BT.601)
BURNT = 245  # level of the darkest colour from which a pixel is


@dataclass(frozen=True, eq=False)
class Found:
    """The flanks of one kind seen in a photo, in order round the gear.

    name_confidence: 0.5..1 that `name` (convex or concave) is right. flags: codes of contactread.flags.
    """

    name: FlankName
    name_confidence: float
    flanks: tuple[Flank, ...]
    closeups: tuple[CloseUp, ...]
    flags: tuple[str, ...]


def find_flanks(photo: Photo, name: FlankName | None = None, axle: Axle | None = None) -> Found:
    """The flanks that carry the pattern; of the kind asked for, or else of the kind that is seen best.

    axle: what its file says of the gear helps to place the teeth.

    Raises PhotoError where the photo shows no ring gear, no compound, or can't be measured; its code is
    that of a refusing flag.
    """
    sight = look(photo.pixels)
    convex = _evidence(sight, sight.convex) >= _evidence(sight, sight.concave)
    chosen: FlankName = name or ("convex" if convex else "concave")
    teeth = gather(sight, getattr(sight, chosen))
    if not teeth:
        raise _nothing_seen(sight.grey).refusal()
    painted = [float(sight.painted.ravel()[t.cells].mean()) for t in teeth]
    best = sorted(range(len(teeth)), key=lambda i: -painted[i] * teeth[i].weight.sum())[:MOST_TEETH]
    teeth = agree([teeth[i] for i in best])
    prior = Prior.of(axle)
    rigid = fit_rigid([t.seen for t in teeth], (photo.width, photo.height), prior, chosen)
    if rigid is None:
        raise flag("no-ring-gear").refusal()
    painted = [float(sight.painted.ravel()[t.cells].mean()) for t in teeth]
    worth = [p * t.weight.sum() for p, t in zip(painted, teeth, strict=True)]
    flanks, closeups = look_twice(photo, rigid.view, painted, worth, chosen, prior)
    cells = np.concatenate([t.cells for t in teeth])
    flags = _judge(photo, _part_seen(sight, cells), flanks, closeups)
    patches = {kind: _contact_cells(sight, getattr(sight, kind)) for kind in ("convex", "concave")}
    if name is None and min(patches.values()) > max(FEW_CELLS, BOTH * max(patches.values())):
        flags.append("both-flanks")
    mine, other = getattr(sight, chosen), getattr(sight, "concave" if chosen == "convex" else "convex")
    sure = float(np.median(mine.ravel()[cells] / (mine.ravel()[cells] + other.ravel()[cells])))
    return Found(chosen, max(0.5, sure), tuple(flanks), tuple(closeups), tuple(flags))


def _evidence(sight: Sight, chance: NDArray[np.float32]) -> float:
    """How much of the photo shows flanks of one kind, painted ones and those with a contact patch above all.

    The square root of (cells of flank) x (cells of painted flank) x (cells of contact, and a few).
    """
    painted = chance * sight.painted
    contact = FEW_CELLS + _contact_cells(sight, chance)
    return float(np.sqrt(chance.sum() * painted.sum() * contact))


def _contact_cells(sight: Sight, chance: NDArray[np.float32]) -> float:
    """How many cells lie in contact patches of painted flanks of one kind."""
    return float((chance * sight.painted)[sight.contact > 0.5].sum())


def _part_seen(sight: Sight, cells: NDArray[np.int64]) -> NDArray[np.uint8]:
    """The part of the picture looked at that cells (flat indices) lie in."""
    rows, columns = np.divmod(cells, sight.convex.shape[1])
    end = STRIDE * (rows.max() + 1), STRIDE * (columns.max() + 1)
    return sight.grey[STRIDE * rows.min() : end[0], STRIDE * columns.min() : end[1]]


def _nothing_seen(grey: NDArray[np.uint8]) -> Flag:
    """Why no flank was found: the light, the focus, or no gear. grey: the letterboxed picture."""
    if np.percentile(grey, 95) < TOO_DARK:
        return flag("too-dark")
    if sharpness(grey) < NOTHING_SHARP:
        return flag("too-blurred")
    return flag("no-ring-gear")


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


def _percentile(values: NDArray[np.uint8] | NDArray[np.float32], share: float, limit: int) -> float:
    """A percentile of values from 0 to below `limit`, to a tenth at least."""
    bins = 10 * limit
    counts = cv2.calcHist([values], [0], None, [bins], [0, limit])[:, 0]
    return float(np.searchsorted(np.cumsum(counts, dtype=float), share / 100 * values.size) / bins * limit)


def _judge(photo: Photo, grey: NDArray[np.uint8], flanks: list[Flank], closeups: list[CloseUp]) -> list[str]:
    """Flags of a photo whose flanks were found; raises the refusal that applies, the gravest first.

    grey: the part of the letterboxed picture where they lie.
    """
    painted = [c.painted_chance for c in closeups]
    marked = [f for f, p in zip(flanks, painted, strict=True) if p > 0.5]
    flags = []
    length = float(np.median([f.length_px for f in marked or flanks]))
    ratio = float(np.median([f.height_px / max(f.length_px, 1e-6) for f in marked or flanks]))
    shown = np.concatenate([_flank_pixels(photo, c) for c in closeups])
    bright = float(np.median(shown @ GREY)) if shown.size else 0.0
    # A lamp's mirror image is white; a bright coat of compound saturates one or two of the three colours.
    burnt = float(np.mean(shown.min(-1) >= BURNT)) if shown.size else 0.0
    soft = sharpness(grey)
    for value, limit, warn, low_is_bad, refusal, warning in (
        (bright, TOO_DARK, DARK, True, "too-dark", "dark"),
        (soft, TOO_SOFT, SOFT, True, "too-blurred", "blurred"),
        (length, SMALLEST_PX, SMALL_PX, True, "teeth-too-small", "small-teeth"),
        (burnt, TOO_MUCH_GLARE, GLARE, False, "glare-over-flanks", "glare"),
        (ratio, FLATTEST, FLAT, True, "too-oblique", "oblique"),
    ):
        sign = 1 if low_is_bad else -1
        if sign * value < sign * limit:
            raise flag(refusal).refusal()
        if sign * value < sign * warn:
            flags.append(warning)
    bare = len(marked) < LEAST_SHARE * len(flanks)
    if len(marked) < 2:
        raise flag("no-compound" if bare else "too-few-teeth").refusal()
    if not any(p > 0.5 and q > 0.5 for p, q in itertools.pairwise(painted)):
        raise flag("no-compound").refusal()  # a brush paints neighbours
    peaks = sorted(c.contact_peak for c, p in zip(closeups, painted, strict=True) if p > 0.5)
    if peaks[-2] < LEAST_PEAK:
        plain = "no-compound" if bare else "no-pattern"
        raise flag(next((GRAVER[f] for f in flags if f in GRAVER), plain)).refusal()
    if len(marked) == 2:
        flags.append("few-teeth")
    return flags


def _flank_pixels(photo: Photo, closeup: CloseUp) -> NDArray[np.uint8]:
    """Some of the visible pixels of a flat, (pixels, 3), each the photo's nearest."""
    at = np.round(closeup.place[::4, ::4][closeup.visible[::4, ::4] > 0.5]).astype(int)
    x = np.clip(at[:, 0], 0, photo.width - 1)
    y = np.clip(at[:, 1], 0, photo.height - 1)
    return np.asarray(photo.pixels[y, x], np.uint8)
