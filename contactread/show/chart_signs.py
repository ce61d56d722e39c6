"""Small shapes and words that the charts of the shop book share."""

from __future__ import annotations

from math import cos, pi, sin

from contactread.show.drawing import Point


def ring(centre: Point, radius: float) -> list[Point]:
    """A circle as a closed line."""
    angles = [2 * pi * k / 24 for k in range(24)]
    return [(centre[0] + radius * cos(a), centre[1] + radius * sin(a)) for a in angles]


def shortened(words: str, most: int) -> str:
    """At most so many characters."""
    return words if len(words) <= most else words[: most - 1] + "…"
