"""The marked-up picture: flanks along their true curve, the patch, its centre, and which end is which; on the
tooth seen best also where the centre is wanted and where the advised move takes it.

Every mark differs from the others by its form, not only by its colour, and carries a dark rim, so that
it shows on metal, on any compound and in bad light. The colours stay apart for red-green-blind eyes (a test
simulates them).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.belief.targets import Zone
from contactread.patch import Point
from contactread.photo.photo import Photo
from contactread.photo.shrink import at_most
from contactread.reading import Reading, ReadTooth
from contactread.show.text import printable
from contactread.show.typeface import font_file

Pixels = NDArray[np.uint8]
LONGEST_SIDE = 2000  # pixels of the marked-up picture; larger photos are shrunk

Colour = tuple[int, int, int]
DARK: Colour = (26, 22, 18)  # blue, green, red
FLANK: Colour = (255, 196, 96)  # light sky
PATCH: Colour = (0, 100, 240)  # vermilion
ZONE: Colour = (66, 240, 250)  # yellow
CENTRE: Colour = (255, 255, 255)
_SHIFT = 4  # cv2 takes fixed-point positions with this many binary places


@dataclass(frozen=True)
class _Words:
    """Words at a place of the canvas: its middle, or the left end of the baseline where `left`."""

    text: str
    at: Point
    height: float
    colour: Colour
    left: bool = False


@dataclass(frozen=True, eq=False)
class _Canvas:
    """The picture being marked. stroke: width of a thin line; scale: from photo to canvas pixels. words: what
    is written on it at last.
    """

    pixels: Pixels
    stroke: int
    scale: float
    words: list[_Words] = field(default_factory=list)

    def line(self, points: Floats, colour: Colour, width: float = 1.0, closed: bool = False) -> None:
        """A curve through photo positions, shape (n, 2), with a dark rim."""
        fixed = np.round(self.on_canvas(points) * 2**_SHIFT).astype(np.int32)
        thick = max(1, round(self.stroke * width))
        for tone, extra in ((DARK, max(2, thick)), (colour, 0)):
            cv2.polylines(self.pixels, [fixed], closed, tone, thick + extra, cv2.LINE_AA, _SHIFT)

    def dashes(self, points: Floats, colour: Colour, width: float = 1.0) -> None:
        """A broken curve through photo positions."""
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        period = 10.0 * self.stroke / self.scale
        for start in np.arange(0.0, along[-1], period):
            places = np.linspace(start, min(start + 0.55 * period, along[-1]), 6)
            piece = np.stack([np.interp(places, along, points[:, k]) for k in (0, 1)], axis=1)
            self.line(piece, colour, width)

    def text(self, words: str, centre: Floats, height: float, colour: Colour) -> None:
        """Words centred on a photo position. height: of the letters in canvas pixels."""
        x, y = self.on_canvas(centre)
        self.words.append(_Words(words, (float(x), float(y)), height, colour))

    def on_canvas(self, points: Floats) -> Floats:
        """Photo positions as canvas positions."""
        return np.asarray(points * self.scale + (self.scale - 1) / 2)


def mark_up(photo: Photo, reading: Reading, zone: Zone | None = None, after: Point | None = None) -> Pixels:
    """A copy of the photo with the reading drawn on it and a few words below; uint8, (rows, columns, 3).

    zone: where the side's centre is wanted. after: where it is expected (u, v) once the advised move is made.
    """
    pixels = at_most(photo.pixels, long=LONGEST_SIDE)
    pixels = pixels.copy() if pixels is photo.pixels else pixels
    scale = pixels.shape[1] / reading.size_px[0]
    canvas = _Canvas(pixels, max(1, round(min(pixels.shape[:2]) / 500)), scale)
    for tooth in reading.teeth:
        _draw_flank(canvas, tooth)
    for tooth in reading.teeth:
        _draw_patch(canvas, tooth)
    measured = [tooth for tooth in reading.teeth if tooth.pattern]
    if measured:
        clearest = _clearest(measured, reading.size_px)
        if zone is not None:
            _draw_zone(canvas, clearest, zone)
        if after is not None:
            _draw_move(canvas, clearest, after)
        _label_ends(canvas, clearest)
    return _with_caption(canvas, reading, zone is not None and bool(measured), after is not None)


def encode(marked: Pixels) -> bytes:
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


def _draw_zone(canvas: _Canvas, tooth: ReadTooth, zone: Zone) -> None:
    """A broken line round where the centre is wanted."""
    (u0, u1), (v0, v1) = zone.u, zone.v
    along, up = np.linspace(u0, u1, 17), np.linspace(v0, v1, 17)
    u = np.concatenate([along, np.full(17, u1), along[::-1], np.full(17, u0)])
    v = np.concatenate([np.full(17, v0), up, np.full(17, v1), up[::-1]])
    canvas.dashes(tooth.flank.map(u, v), ZONE, 1.2)


def _draw_move(canvas: _Canvas, tooth: ReadTooth, after: Point) -> None:
    """An arrow from the centre to where the move takes it, with a solid diamond there."""
    assert tooth.pattern is not None
    start, end = tooth.flank.map(*tooth.pattern.centre), tooth.flank.map(*after)
    canvas.line(np.stack([start, end]), CENTRE, 1.2)
    size = 5.0 * canvas.stroke / canvas.scale
    corners = end + size * np.array([[-1.0, 0.0], [0.0, -1.0], [1.0, 0.0], [0.0, 1.0]])
    fixed = np.round(canvas.on_canvas(corners) * 2**_SHIFT).astype(np.int32)
    cv2.fillPoly(canvas.pixels, [fixed], CENTRE, cv2.LINE_AA, _SHIFT)
    cv2.polylines(canvas.pixels, [fixed], True, DARK, canvas.stroke, cv2.LINE_AA, _SHIFT)


def _clearest(teeth: list[ReadTooth], size: tuple[int, int]) -> ReadTooth:
    """The tooth to label: near the middle of the picture, and large."""
    middle = (np.array(size) - 1) / 2

    def distance(tooth: ReadTooth) -> float:
        away = float(np.linalg.norm(tooth.flank.map(0.5, 0.5) - middle))
        return away - tooth.flank.length_px

    return min(teeth, key=distance)


def _label_ends(canvas: _Canvas, tooth: ReadTooth) -> None:
    height = max(14.0, min(canvas.pixels.shape[:2]) / 30)
    away = 1.3 * height / canvas.scale
    corner = tooth.flank.map
    middle = corner(0.5, 0.5)
    for words, u, v in (("TOE", 0.0, 0.5), ("HEEL", 1.0, 0.5)):
        end = corner(u, v)
        direction = (end - middle) / max(float(np.linalg.norm(end - middle)), 1e-9)
        # Words are wide: step further aside than up or down.
        canvas.text(words, end + direction * away * (1.0 + abs(direction[0])), height, FLANK)
    for words, v in (("top", 1.0), ("root", 0.0)):
        canvas.text(words, corner(0.85, v), 0.8 * height, FLANK)


def _with_caption(canvas: _Canvas, reading: Reading, zone: bool, move: bool) -> Pixels:
    """The picture above a dark band that says what was read and what the marks mean."""
    side = reading.side
    u, v = side.centre
    lines = [
        f"{side.role.upper()} side ({side.flank} flank)",
        f"Centre {u:.0%} of length from toe, {v:.0%} of height from root",
    ]
    if side.runs_off:
        lines[-1] += "; runs off the " + " and the ".join(sorted(side.runs_off))
    keys = [("patch", PATCH)]
    keys += [("wanted place of the centre", ZONE)] if zone else []
    keys += [("after the move", CENTRE)] if move else []
    rows, width = canvas.pixels.shape[:2]
    height = max(14.0, min(rows, width) / 30)
    height *= min(1.0, 0.94 * width / max(_width(line, height) for line in lines))
    key_height = height * min(1.0, 0.94 * width / sum(_width(name, height) + 4 * height for name, _ in keys))
    row = round(height * 1.6)
    band = np.full((row * (len(lines) + 1) + row // 2, width, 3), DARK, np.uint8)
    left = 0.03 * width
    for number, line in enumerate(lines):
        place = left, rows + row * (number + 1)
        canvas.words.append(_Words(line, place, height, FLANK if number == 0 else CENTRE, left=True))
    below = _Canvas(band, max(2, round(key_height / 12)), 1.0)
    y = row * (len(lines) + 1)
    for name, colour in keys:
        mark = np.array([[left, y - 0.35 * key_height], [left + 2 * key_height, y - 0.35 * key_height]])
        if colour == ZONE:
            below.dashes(mark, colour)
        else:
            below.line(mark, colour)
        if colour == CENTRE:
            tip = mark[1] + key_height * 0.3 * np.array([[-1.0, 0.0], [0.0, -1.0], [1.0, 0.0], [0.0, 1.0]])
            cv2.fillPoly(band, [np.round(tip).astype(np.int32)], CENTRE, cv2.LINE_AA)
        canvas.words.append(_Words(name, (left + 2.6 * key_height, rows + y), key_height, CENTRE, left=True))
        left += _width(name, key_height) + 4 * key_height
    return _written(np.vstack([canvas.pixels, band]), canvas.words, rows)


def _width(text: str, height: float) -> float:
    from PIL import ImageFont

    return float(ImageFont.truetype(str(font_file(False)), round(height)).getlength(text))


def _written(pixels: Pixels, words: list[_Words], rows: int) -> Pixels:
    """The picture with its words in our typeface; those on the photo, its first `rows`, stay inside it."""
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(np.ascontiguousarray(pixels[..., ::-1]))
    pen = ImageDraw.Draw(image)
    for each in words:
        font = ImageFont.truetype(str(font_file(not each.left)), round(each.height))
        rim = max(1, round(each.height / 9))
        x, y = each.at
        if not each.left:
            half = font.getlength(each.text) / 2 + rim
            x = min(max(x, half), max(half, pixels.shape[1] - half))
            y = min(max(y, each.height), rows - each.height)
        anchor, rim = ("ls", 0) if each.left else ("mm", rim)
        pen.text(
            (x, y), printable(each.text), each.colour[::-1], font, anchor,
            stroke_width=rim, stroke_fill=DARK[::-1],
        )  # fmt: skip
    return np.asarray(np.array(image)[..., ::-1], np.uint8).copy()
