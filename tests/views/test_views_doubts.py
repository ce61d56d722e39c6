"""Photos that may not be of one axle, or not of the axle file's: no all-clear comes of them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from made_reading import made_reading

import contactread
from contactread import Axle, Reading
from contactread.reading import pair

SAMPLES = Path(__file__).parents[2] / "sample_images"


@cache
def axle_of(name: str) -> Axle:
    return contactread.load_axle(SAMPLES / f"{name}_good" / "axle.toml")


@cache
def read(folder: str, side: str, axle: str) -> Reading:
    return contactread.read(SAMPLES / folder / f"{side}.jpg", axle=axle_of(axle))


@pytest.mark.parametrize(
    ("drive", "coast", "axle", "backlash", "doubt"),
    [
        ("ash_good", "ash_good", "ash", 0.18, None),
        ("ash_good", "ash_tight", "ash", 0.18, "two-compounds"),  # of two days, yellow and red
        ("ash_tight", "cedar_good", "ash", 0.18, "two-compounds"),
        ("cedar_good", "cedar_good", "ash", 0.18, "perhaps-other-teeth"),  # 37 teeth, the file tells 41
        ("ash_runout", "ash_runout", "cedar", 0.15, "perhaps-other-teeth"),
    ],
)  # fmt: skip
def test_photos_of_another_axle_of_the_same_hand_get_no_all_clear(
    drive: str, coast: str, axle: str, backlash: float, doubt: str | None
) -> None:
    setup = contactread.pair(read(drive, "drive", axle), read(coast, "coast", axle), (backlash,) * 4)
    advice = contactread.advise(setup, axle_of(axle))
    assert doubt in setup.doubts if doubt else not setup.doubts
    assert advice.verdict == ("no_better_place" if doubt else "acceptable")
    assert advice.headline.startswith("Leave the shims as they are; that is no" if doubt else "Leave it")
    assert not doubt or advice.inspections


def test_a_move_is_told_with_the_doubt() -> None:
    photos = read("birch_good", "drive", "birch"), read("birch_too_shallow", "coast", "birch")
    advice = contactread.advise(contactread.pair(*photos, (0.2,)), axle_of("birch"))
    assert advice.moves and any("compounds of different colours" in line for line in advice.answer)


def test_a_move_that_has_hardly_a_chance_isn_t_made_on_doubted_photos() -> None:
    photos = read("birch_crossed", "drive", "birch"), read("birch_good", "coast", "birch")
    advice = contactread.advise(contactread.pair(*photos, (0.18,)), axle_of("birch"))
    assert advice.verdict == "read_again" and not advice.moves
    assert any("compounds of different colours" in line for line in advice.answer)


@pytest.mark.parametrize(
    ("one", "other", "doubted"),
    [
        ("yellow", "white", False),
        ("red", "orange", False),
        ("blue", "white", True),
        ("blue", "unknown", False),
    ],
)
def test_colours_that_a_lamp_exchanges_raise_no_doubt(one: str, other: str, doubted: bool) -> None:
    drive, coast = made_reading(flank="convex"), made_reading(flank="concave")
    drive, coast = (
        replace(reading, side=replace(reading.side, compound=colour))
        for reading, colour in ((drive, one), (coast, other))
    )
    assert pair(drive, coast).doubts == (("two-compounds",) if doubted else ())
