"""The marked-up picture: flanks along their true curve, the patch, its centre, and which end is which.

Every mark differs from the others by its form, not only by its colour, and carries a dark rim, so that
it shows on metal, on any compound and in bad light.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.belief.targets import Zone
from contactread.patch import Point
from contactread.photo.photo import Photo
from contactread.reading import Reading, ReadTooth

LONGEST_SIDE = 2000  # pixels of the marked-up picture; larger photos are shrunk

Colour = tuple[int, int, int]
DARK: Colour = (26, 22, 18)  # blue, green, red
FLANK: Colour = (255, 214, 122)  # light sky
PATCH: Colour = (150, 90, 255)  # rose
CENTRE: Colour = (255, 255, 255)
_FONT = cv2.FONT_HERSHEY_SIMPLEX
_SHIFT = 4  # cv2 takes fixed-point positions with this many binary places


@dataclass(frozen=True, eq=False)
class _Canvas:
    """The picture being marked. stroke: width of a thin line; scale: from photo to canvas pixels."""

    pixels: NDArray[np.uint8]
    stroke: int
    scale: float

    def line(
        self, points: NDArray[np.float64], colour: Colour, width: float = 1.0, closed: bool = False
    ) -> None:
        """A curve through photo positions, shape (n, 2), with a dark rim."""
        fixed = np.round((points * self.scale + (self.scale - 1) / 2) * 2**_SHIFT).astype(np.int32)
        thick = max(1, round(self.stroke * width))
        for tone, extra in ((DARK, max(2, thick)), (colour, 0)):
            cv2.polylines(self.pixels, [fixed], closed, tone, thick + extra, cv2.LINE_AA, _SHIFT)

    def text(self, words: str, centre: NDArray[np.float64], height: float, colour: Colour) -> None:
        """Words centred on a photo position, moved inside the picture where needed. height: canvas pixels."""
        size = height / 22
        thick = max(1, round(height / 11))
        (width, tall), _ = cv2.getTextSize(words, _FONT, size, thick)
        x, y = centre * self.scale - (width / 2, -tall / 2)
        margin = 2 * thick + 2
        x = float(np.clip(x, margin, max(margin, self.pixels.shape[1] - width - margin)))
        y = float(np.clip(y, tall + margin, self.pixels.shape[0] - margin))
        for tone, extra in ((DARK, 2 * thick + 2), (colour, 0)):
            place = (round(x), round(y))
            cv2.putText(self.pixels, words, place, _FONT, size, tone, thick + extra, cv2.LINE_AA)


def mark_up(
    photo: Photo, reading: Reading, zone: Zone | None = None, after: Point | None = None
) -> NDArray[np.uint8]:
    """A copy of the photo with the reading drawn on it and a few words below; uint8, (rows, columns, 3)."""
    scale = min(1.0, LONGEST_SIDE / max(photo.width, photo.height))
    if scale < 1:
        size = (round(photo.width * scale), round(photo.height * scale))
        pixels = np.asarray(cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    else:
        pixels = photo.pixels.copy()
    scale = pixels.shape[1] / reading.size_px[0]
    canvas = _Canvas(pixels, max(1, round(min(pixels.shape[:2]) / 500)), scale)
    for tooth in reading.teeth:
        _draw_flank(canvas, tooth)
    for tooth in reading.teeth:
        _draw_patch(canvas, tooth)
    measured = [tooth for tooth in reading.teeth if tooth.pattern]
    if measured:
        _label_ends(canvas, _clearest(measured, reading.size_px))
    return _with_caption(canvas, reading)


def encode(marked: NDArray[np.uint8]) -> bytes:
    """The marked-up picture as a JPEG, which carries nothing of the photo's EXIF."""
    done, data = cv2.imencode(".jpg", marked, [cv2.IMWRITE_JPEG_QUALITY, 90])
    if not done:
        raise ValueError("the marked-up picture could not be encoded")
    return bytes(data)


def _draw_flank(canvas: _Canvas, tooth: ReadTooth) -> None:
    """A solid outline; thin where the tooth isn't painted. The root edge is dotted, so up shows from down.
    A painted tooth that was never rolled is crossed out by a zigzag."""
    width = 1.0 if tooth.painted else 0.5
    along = np.linspace(0, 1, 49)
    zeros, ones = np.zeros_like(along), np.ones_like(along)
    corner = tooth.flank.map
    canvas.line(corner(zeros, along), FLANK, width)
    canvas.line(corner(along, ones), FLANK, width)
    canvas.line(corner(ones, along), FLANK, width)
    root = corner(along, zeros)
    for start in range(0, len(along) - 1, 4):
        canvas.line(root[start : start + 3], FLANK, width)
    if tooth.wet:
        turns = np.linspace(0.04, 0.96, 13)
        canvas.line(corner(turns, 0.5 + 0.3 * (-1.0) ** np.arange(13)), FLANK, width)


def _draw_patch(canvas: _Canvas, tooth: ReadTooth) -> None:
    """The patch's outline, heavier than the flank's, and a ring with a cross at its centre."""
    if tooth.pattern is None:
        return
    for outline in tooth.pattern.outlines:
        u, v = np.array(outline).T
        canvas.line(tooth.flank.map(u, v), PATCH, 1.5, closed=True)
    centre = tooth.flank.map(*tooth.pattern.centre)
    arm = 4.0 * canvas.stroke / canvas.scale
    ring = np.linspace(0, 2 * np.pi, 33)
    canvas.line(centre + arm * np.stack([np.cos(ring), np.sin(ring)], axis=1), CENTRE, closed=True)
    canvas.line(centre + arm * np.array([[-1.8, 0.0], [1.8, 0.0]]), CENTRE)
    canvas.line(centre + arm * np.array([[0.0, -1.8], [0.0, 1.8]]), CENTRE)


def _clearest(teeth: list[ReadTooth], size: tuple[int, int]) -> ReadTooth:
    """The tooth to label: near the middle of the picture, and large."""
    middle = (np.array(size) - 1) / 2

    def distance(tooth: ReadTooth) -> float:
        away = float(np.linalg.norm(tooth.flank.map(0.5, 0.5) - middle))
        return away - 0.5 * tooth.flank.length_px

    return min(teeth, key=distance)


def _label_ends(canvas: _Canvas, tooth: ReadTooth) -> None:
    height = max(14.0, min(canvas.pixels.shape[:2]) / 34)
    away = 1.3 * height / canvas.scale
    corner = tooth.flank.map
    middle = corner(0.5, 0.5)
    for words, u, v in (("TOE", 0.0, 0.5), ("HEEL", 1.0, 0.5)):
        end = corner(u, v)
        direction = (end - middle) / max(float(np.linalg.norm(end - middle)), 1e-9)
        # Words are wide: step further aside than up or down.
        canvas.text(words, end + direction * away * (1.0 + abs(direction[0])), height, FLANK)
    for words, v in (("top", 1.0), ("root", 0.0)):
        canvas.text(words, corner(0.85, v), 0.7 * height, FLANK)


def _with_caption(canvas: _Canvas, reading: Reading) -> NDArray[np.uint8]:
    """The picture above a dark band that says what was read."""
    side = reading.side
    u, v = side.centre
    lines = [
        f"{side.role.upper()} side ({side.flank} flank)",
        f"centre {u:.0%} of length from toe, {v:.0%} of height from root",
    ]
    if side.runs_off:
        lines.append("runs off the " + " and the ".join(sorted(side.runs_off)))
    width = canvas.pixels.shape[1]
    height = max(14.0, min(canvas.pixels.shape[:2]) / 30)
    widest = max(cv2.getTextSize(line, _FONT, height / 22, 1)[0][0] for line in lines)
    height *= min(1.0, 0.85 * width / widest)
    row = round(height * 1.9)
    band = np.full((row * len(lines) + row // 2, width, 3), DARK, np.uint8)
    for number, line in enumerate(lines):
        place = (round(0.03 * width), round(row * (number + 1) - 0.2 * row))
        tone = CENTRE if number else FLANK
        cv2.putText(band, line, place, _FONT, height / 22, tone, max(1, round(height / 13)), cv2.LINE_AA)
    return np.vstack([canvas.pixels, band])
