"""Where a patch sits, in the few words below its drawing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_reading import made_side

from contactread.belief.targets import target_for
from contactread.patch import Clear
from contactread.show.flank_text import side_words


@pytest.mark.parametrize(
    "centre, words",
    [
        ((0.45, 0.5), "In its zone"),
        ((0.2, 0.5), "Near toe"),
        ((0.8, 0.5), "Near heel"),
        ((0.45, 0.2), "Low"),
        ((0.2, 0.8), "High, near toe"),
    ],
)
def test_the_words_follow_the_zone(centre: tuple[float, float], words: str) -> None:
    side = made_side(centre=centre)
    u, v = centre
    assert side_words(side, target_for(None).drive) == f"{words}: {u:.0%} along, {v:.0%} up"


def test_an_edge_that_cuts_the_patch_off_is_told_instead() -> None:
    side = replace(made_side(centre=(0.2, 0.5)), clear=Clear(0.0, 0.3, 0.3, 0.3))
    assert side_words(side, target_for(None).drive).startswith("Off toe: ")
