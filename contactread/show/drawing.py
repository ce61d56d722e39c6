"""A drawing of a few simple shapes, written as SVG or as PNG from the same description.

Positions in drawing units (pixels at scale 1), x right, y down.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from itertools import pairwise
from math import cos, pi, sin
from typing import Any, Literal

from contactread.show.text import printable
from contactread.show.typeface import FALLBACK, FAMILY, font_faces, font_file

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]
_SMOOTHER = 3  # the PNG is drawn this much larger, then shrunk, for smooth edges


def ring(centre: Point, radius: float, count: int = 24) -> list[Point]:
    """A circle as a closed line."""
    angles = [2 * pi * k / count for k in range(count)]
    return [(centre[0] + radius * cos(a), centre[1] + radius * sin(a)) for a in angles]


def box(left: float, top: float, wide: float, high: float) -> list[Point]:
    """An upright rectangle as a closed line."""
    return [(left, top), (left + wide, top), (left + wide, top + high), (left, top + high)]


def diamond(centre: Point, reach: float) -> list[Point]:
    """A square on its corner as a closed line."""
    x, y = centre
    return [(x - reach, y), (x, y - reach), (x + reach, y), (x, y + reach)]


@dataclass(frozen=True)
class Shape:
    """A line through points, closed or open. fill, ink: "#rrggbb" or None. dash: lengths on and off."""

    points: tuple[Point, ...]
    ink: str | None
    fill: str | None = None
    width: float = 1.0
    dash: tuple[float, float] | None = None
    closed: bool = True


@dataclass(frozen=True)
class Words:
    """One line of text; `at` is its baseline at the anchor."""

    at: Point
    text: str
    size: float
    ink: str
    anchor: Anchor = "start"
    bold: bool = False


@dataclass
class Drawing:
    """Shapes and words in the order in which they are painted. title, story: for those who can't see it."""

    width: float
    height: float
    paper: str
    title: str
    story: str = ""
    items: list[Shape | Words] = field(default_factory=list)

    def shape(
        self,
        points: Sequence[Point],
        ink: str | None,
        *,
        fill: str | None = None,
        width: float = 1.0,
        dash: tuple[float, float] | None = None,
        closed: bool = True,
    ) -> None:
        """Add a shape."""
        self.items.append(Shape(tuple(points), ink, fill, width, dash, closed))

    def words(
        self, at: Point, text: str, size: float, ink: str, anchor: Anchor = "start", bold: bool = False
    ) -> None:
        """Add a line of text; control characters in it are spelled out."""
        self.items.append(Words(at, printable(text), size, ink, anchor, bold))

    def svg(self, alone: bool = True) -> str:
        """The drawing as an SVG document. alone: it brings its typeface, which a page around it else does."""
        body = "\n".join(_svg(item) for item in self.items)
        weights = sorted({item.bold for item in self.items if isinstance(item, Words)})
        style = f"<style>{font_faces(*weights)}</style>\n" if alone and weights else ""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:g} {self.height:g}" '
            f'width="{self.width:g}" height="{self.height:g}" role="img" '
            f"font-family=\"'{FAMILY}', {FALLBACK}\">\n"
            f"<title>{escape(printable(self.title))}</title>\n<desc>{escape(printable(self.story))}</desc>\n{style}"
            f'<rect width="100%" height="100%" fill="{self.paper}"/>\n{body}\n</svg>\n'
        )

    def png(self, scale: float = 2.0) -> bytes:
        """The drawing as PNG bytes, `scale` pixels per unit."""
        from PIL import Image, ImageDraw

        big = scale * _SMOOTHER
        image = Image.new("RGB", (round(self.width * big), round(self.height * big)), self.paper)
        pen = ImageDraw.Draw(image)
        for item in self.items:
            if isinstance(item, Words):
                _paint_words(pen, item, big)
            else:
                _paint_shape(pen, item, big)
        size = (round(self.width * scale), round(self.height * scale))
        out = io.BytesIO()
        image.resize(size, Image.Resampling.LANCZOS).save(out, "PNG")
        return out.getvalue()


def _svg(item: Shape | Words) -> str:
    if isinstance(item, Words):
        weight = ' font-weight="700"' if item.bold else ""
        return (
            f'<text x="{item.at[0]:.1f}" y="{item.at[1]:.1f}" font-size="{item.size:g}" fill="{item.ink}" '
            f'text-anchor="{item.anchor}"{weight}>{escape(item.text)}</text>'
        )
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in item.points) + ("Z" if item.closed else "")
    stroke = f'stroke="{item.ink}" stroke-width="{item.width:g}" stroke-linejoin="round"' if item.ink else ""
    dash = f' stroke-dasharray="{item.dash[0]:g} {item.dash[1]:g}"' if item.dash else ""
    return f'<path d="{path}" fill="{item.fill or "none"}" {stroke}{dash}/>'


def _paint_words(pen: Any, item: Words, big: float) -> None:
    from PIL import ImageFont

    font = ImageFont.truetype(str(font_file(item.bold)), round(item.size * big))
    anchor = {"start": "ls", "middle": "ms", "end": "rs"}[item.anchor]
    pen.text((item.at[0] * big, item.at[1] * big), item.text, fill=item.ink, font=font, anchor=anchor)


def _paint_shape(pen: Any, item: Shape, big: float) -> None:
    points = [(x * big, y * big) for x, y in item.points]
    if item.fill and item.closed:
        pen.polygon(points, fill=item.fill)
    if not item.ink:
        return
    thick = max(1, round(item.width * big))
    line = [*points, points[0]] if item.closed else points
    if item.dash is None:
        pen.line(line, fill=item.ink, width=thick, joint="curve")
        return
    for piece in _dashes(line, item.dash[0] * big, item.dash[1] * big):
        pen.line(piece, fill=item.ink, width=thick, joint="curve")


def _dashes(line: Sequence[Point], on: float, off: float) -> list[list[Point]]:
    """The pieces of a line that a dash pattern draws."""
    pieces: list[list[Point]] = [[line[0]]]
    drawing, left = True, on
    for (x0, y0), (x1, y1) in pairwise(line):
        length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
        done = 0.0
        while length - done > left:
            done += left
            here = (x0 + (x1 - x0) * done / length, y0 + (y1 - y0) * done / length)
            if drawing:
                pieces[-1].append(here)
            else:
                pieces.append([here])
            drawing = not drawing
            left = on if drawing else off
        left -= length - done
        if drawing:
            pieces[-1].append((x1, y1))
    return [piece for piece in pieces if len(piece) > 1]
