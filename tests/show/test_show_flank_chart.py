"""The chart of two flanks: valid SVG, safe words, before and after told apart by form."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest

from contactread.patch import Patch, ellipse, told_clear
from contactread.show.drawing import Drawing, Shape, _dashes
from contactread.show.flank_chart import AFTER_FILL, ChartFlank, flank_chart


def patch(centre: tuple[float, float], tilt_deg: float = 0.0) -> Patch:
    length, height = (centre[0] - 0.2, centre[0] + 0.2), (centre[1] - 0.2, centre[1] + 0.2)
    return Patch(centre, length, height, 0.2, tilt_deg, told_clear(length, height))


BEFORE, AFTER = patch((0.4, 0.5)), patch((0.6, 0.6), 5.0)


def test_svg_is_well_formed_and_words_cannot_act() -> None:
    drawing = flank_chart(
        [ChartFlank("Drive <script>", BEFORE, AFTER, ((0.4, 0.6), (0.4, 0.6)), ("a & b", "\x1b[31mred"))],
        "<T>",
    )
    root = ElementTree.fromstring(drawing.svg())
    texts = [e.text for e in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "Drive <script>" in texts and "\\x1b[31mred" in texts
    assert not list(root.iter("script"))
    assert "a & b" in "".join(root.itertext())


def test_before_is_broken_and_after_is_filled() -> None:
    svg = flank_chart([ChartFlank("Drive", BEFORE, AFTER)], "Move").svg()
    assert "stroke-dasharray" in svg and ">before<" in svg and ">after<" in svg
    alone = flank_chart([ChartFlank("Drive", None, AFTER)], "Reading").svg()
    assert "stroke-dasharray" not in alone and ">before<" not in alone


def test_png_has_the_size_asked_for() -> None:
    from io import BytesIO

    from PIL import Image

    drawing = flank_chart([ChartFlank("Drive", BEFORE, AFTER), ChartFlank("Coast", None, None)], "Move")
    image = Image.open(BytesIO(drawing.png(1.5)))
    assert image.size == (round(drawing.width * 1.5), round(drawing.height * 1.5))
    assert len(image.convert("RGB").getcolors(1 << 24) or ()) > 20


def test_ellipse_keeps_extents_and_leans() -> None:
    outline = np.array(AFTER.shape()[0])
    level = np.array(ellipse((0.5, 0.5), (0.3, 0.7), (0.3, 0.7)))
    assert np.ptp(level[:, 0]) == pytest.approx(0.8 / 1.61, abs=0.01)
    assert np.ptp(outline[:, 1]) == pytest.approx(0.8 / 1.61, abs=0.01)
    heel, toe = outline[outline[:, 0].argmax()], outline[outline[:, 0].argmin()]
    assert heel[1] > toe[1]


def test_dashes_cover_their_share_of_a_line() -> None:
    pieces = _dashes([(0, 0), (3, 0), (10, 0)], 2, 1)
    drawn = sum(b[0] - a[0] for piece in pieces for a, b in pairwise(piece))
    assert drawn == pytest.approx(7)


def test_empty_drawing_is_a_drawing() -> None:
    assert ElementTree.fromstring(Drawing(10, 10, "#fff", "t").svg()).get("role") == "img"


def test_no_patch_has_a_pointed_corner_and_its_place_and_size_stay() -> None:
    """A computed outline can end in a point; a roller leaves none."""
    pointed = replace(AFTER, outlines=(((0.2, 0.5), (0.5, 0.9), (0.8, 0.5), (0.5, 0.1)),))
    drawing = flank_chart([ChartFlank("Drive", None, pointed)], "Forecast")
    shape = next(i for i in drawing.items if isinstance(i, Shape) and i.fill == AFTER_FILL)
    points = np.array([*shape.points, *shape.points[:2]])
    steps = np.diff(points, axis=0)
    turns = np.abs(np.angle(np.exp(1j * np.diff(np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))))))
    assert np.degrees(turns.max()) < 40  # of a corner of 97°
    wide = np.ptp(points, axis=0)
    assert wide[0] == pytest.approx(0.6 * 452, rel=0.1)
    assert points[:, 0].mean() == pytest.approx(28 + 452 / 2, abs=4)
