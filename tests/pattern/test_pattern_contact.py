# mypy: disable-error-code="union-attr, operator, index"
# Where a test meets None in place of a value, it fails; that needs no line of its own.
"""The patch is found whatever the compound, whichever way it shows, through gaps, slop and bare teeth."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from pattern_flats import COLOURS, COLUMNS, ROWS, Paint, flat_of, flats

from contactread.errors import PhotoError
from contactread.pattern.cells import CELLS
from contactread.pattern.compound import Compound
from contactread.pattern.contact import ContactMaps, contact_maps
from contactread.pattern.ellipse import TOOTH_SPREAD
from contactread.pattern.measure import measure_tooth
from contactread.pattern.measures import ToothPattern
from contactread.pattern.rolled import never_rolled
from contactread.pattern.vote import _consensus


def patterns(maps: ContactMaps) -> list[ToothPattern]:
    return [
        measure_tooth(maps.inside[k], maps.judged[k], 0.24, None, tuple(maps.centre_sigma[k]))
        for k in np.flatnonzero(maps.inside.any(axis=(1, 2)))
    ]


@pytest.mark.parametrize("colour", list(COLOURS))
@pytest.mark.parametrize("polarity", ["pressed_away", "printed"])
def test_every_colour_both_ways(colour: str, polarity: Any) -> None:
    made, truths = flats(Paint(colour=colour, polarity=polarity), seed=11)
    maps = contact_maps(made)
    assert maps.painted.all()
    assert maps.polarity == polarity
    assert maps.compound == colour
    off = np.array([p.centre for p in patterns(maps)]) - [t.centre for t in truths]
    assert (np.abs(off.mean(axis=0)) < (0.02, 0.04)).all()
    for read, true in zip(patterns(maps), truths, strict=True):
        assert np.abs(np.subtract(read.length, true.length)).max() < 0.06
        assert np.abs(np.subtract(read.height, true.height)).max() < 0.12


@pytest.mark.parametrize(
    "patch",
    [
        (0.15, 0.5, 0.2, 0.3, 0.0),  # runs off the toe
        (0.85, 0.55, 0.2, 0.25, -0.4),  # near the heel
        (0.45, 0.95, 0.25, 0.3, 0.0),  # runs off the top
        (0.45, 0.1, 0.25, 0.3, 0.2),  # runs off the root
        (0.45, 0.5, 0.45, 0.25, 0.3),  # long and slanted
        (0.40, 0.5, 0.15, 0.2, 0.0),  # small
    ],
)
def test_patches_all_over_the_flank(patch: Any) -> None:
    made, truths = flats(Paint(patch=patch), seed=5)
    read = patterns(contact_maps(made))
    off = np.array([p.centre for p in read]) - [t.centre for t in truths]
    assert (np.abs(off.mean(axis=0)) < (0.03, 0.06)).all()


def test_bare_teeth_are_left_out() -> None:
    made, truths = flats(Paint(), teeth=4, bare=6, seed=3)
    maps = contact_maps(made)
    assert maps.painted.tolist() == [truth is not None for truth in truths]
    assert not maps.inside[~maps.painted].any()


def test_what_one_tooth_has_alone_is_paint() -> None:
    made, truths = flats(Paint(wander=0.0), teeth=5, seed=8)
    pixels = made[2].pixels.copy()
    pixels[20:60, 200:280] = 60  # a wiped place on one tooth only
    made[2] = flat_of(pixels)
    read = patterns(contact_maps(made))[2]
    assert read.centre == pytest.approx(truths[2].centre, abs=0.05)


def test_hidden_parts_are_judged_by_the_other_teeth() -> None:
    made, truths = flats(Paint(wander=0.01), teeth=5, seed=9)
    seen = np.ones((ROWS, COLUMNS), bool)
    seen[:45] = False
    made[1] = flat_of(made[1].pixels, seen)
    read = patterns(contact_maps(made))
    assert read[1].height[0] == pytest.approx(truths[1].height[0], abs=0.12)
    assert read[1].unsure_fraction > 0.4 > read[0].unsure_fraction
    assert read[1].sigma[1] >= read[0].sigma[1]


def test_a_coloured_lamp_changes_nothing() -> None:
    made, _ = flats(Paint(colour="blue"), seed=4)
    warm, _ = flats(Paint(colour="blue"), seed=4, cast=(0.75, 1.0, 1.2))
    plain, lit = patterns(contact_maps(made)), patterns(contact_maps(warm))
    assert np.abs(np.subtract([p.centre for p in plain], [p.centre for p in lit])).max() < 0.02


def test_the_same_photo_always_reads_the_same() -> None:
    made, _ = flats(Paint(), seed=2)
    assert np.array_equal(contact_maps(made).inside, contact_maps(made).inside)


def test_no_compound_is_refused() -> None:
    made, _ = flats(Paint(dirt=0), teeth=0, bare=5, seed=1)
    with pytest.raises(PhotoError) as caught:
        contact_maps(made)
    assert caught.value.code == "no-compound"


@pytest.mark.parametrize("colour", ["yellow", "blue", "green"])
def test_paint_that_was_not_rolled_has_no_pattern(colour: str) -> None:
    made, _ = flats(Paint(colour=colour, patch=None), seed=6)
    with pytest.raises(PhotoError) as caught:
        contact_maps(made)
    assert caught.value.code == "not-rolled"


@pytest.mark.parametrize(
    ("rolled", "smear", "polarity"),
    [
        (8, 0.5, "pressed_away"),
        (4, 0.0, "pressed_away"),
        (4, 0.5, "pressed_away"),
        (3, 0.0, "pressed_away"),
        (8, 0.5, "printed"),
        (4, 0.0, "printed"),
        (3, 0.0, "printed"),
    ],
)
def test_wet_teeth_beside_rolled_ones_have_no_pattern_and_no_vote(
    rolled: int, smear: float, polarity: Any
) -> None:
    """Eight painted teeth, some of them rolled; smear: how faint their pattern is."""
    shown, truths = flats(Paint(smear=smear, polarity=polarity), teeth=rolled, seed=1)
    plain, _ = flats(Paint(patch=None), teeth=8 - rolled, seed=2)
    maps = contact_maps(shown + plain)
    measured = maps.inside.any(axis=(1, 2))
    assert measured[:rolled].all()
    assert not measured[rolled:].any()
    assert maps.wet.tolist() == [False] * rolled + [True] * (8 - rolled)
    assert maps.painted.all()
    assert maps.polarity == polarity
    off = np.mean([p.centre for p in patterns(maps)], axis=0) - np.mean([t.centre for t in truths], axis=0)
    assert (np.abs(off) < (0.02, 0.05)).all()


def test_one_tooth_among_wet_ones_is_no_pattern() -> None:
    shown, _ = flats(Paint(), teeth=1, seed=1)
    plain, _ = flats(Paint(patch=None), teeth=7, seed=2)
    with pytest.raises(PhotoError) as caught:
        contact_maps(shown + plain)
    assert caught.value.code in ("no-pattern", "not-rolled")


def test_black_flanks_are_refused_not_read() -> None:
    with pytest.raises(PhotoError):
        contact_maps([flat_of(np.zeros((ROWS, COLUMNS, 3), np.uint8))] * 3)


def test_stated_uncertainty_matches_the_errors() -> None:
    """Where paint is smeared and dirt and glare lie about, errors over sigma have a spread near 1."""
    scaled, refused = [], 0
    for seed in range(20):
        draw = np.random.default_rng(100 + seed)
        patch = (draw.uniform(0.3, 0.65), draw.uniform(0.35, 0.65), draw.uniform(0.15, 0.32),
                 draw.uniform(0.2, 0.4), draw.uniform(-0.4, 0.4))  # fmt: skip
        colour, polarity = list(COLOURS)[seed % 5], ("pressed_away", "printed")[seed % 2]
        paint = Paint(colour, polarity, patch, wander=0.025, smear=0.75, blots=0.8)
        made, truths = flats(paint, teeth=4, seed=seed)
        try:
            maps = contact_maps(made)
        except PhotoError:
            refused += 1
            continue
        painted = [truth for truth, shown in zip(truths, maps.inside, strict=True) if shown.any()]
        for read, true in zip(patterns(maps), painted, strict=True):
            scaled.append(np.subtract(read.centre, true.centre) / read.sigma)
    spread = np.sqrt(np.mean(np.square(scaled), axis=0))
    assert refused <= 5
    assert (spread > 0.6).all()
    assert (spread < 1.6).all()


def test_an_end_that_the_brush_missed_on_every_tooth_is_not_the_patch() -> None:
    """Smooth bare steel along the top of all teeth against a streaky patch lower down."""
    made, truths = flats(Paint(colour="yellow", patch=(0.45, 0.4, 0.22, 0.25, 0.1)), seed=21)
    missed = []
    for flat in made:
        pixels = flat.pixels.copy()
        pixels[78:] = (pixels[78:].astype(float) * 0 + pixels[78:].mean(axis=2, keepdims=True) * 0.45).astype(
            np.uint8
        )
        missed.append(flat_of(pixels))
    read = patterns(contact_maps(missed))
    off = np.mean([p.centre for p in read], axis=0) - np.mean([t.centre for t in truths], axis=0)
    assert np.abs(off[0]) < 0.03
    assert np.abs(off[1]) < 0.08


def test_among_prints_a_tooth_covered_all_around_was_never_rolled() -> None:
    """Its own pixels may gain by a patch: what tells is the whole coat where the others are bare."""
    inside = (np.arange(CELLS) < CELLS // 3).astype(np.float32)
    amount = np.stack([inside, inside, np.ones(CELLS, np.float32)])
    found: Any = SimpleNamespace(picture_gain=np.array([1.0, 1.0, 0.9]))
    cells: Any = SimpleNamespace(weight=np.ones((3, CELLS), np.float32))
    compound = Compound(amount, "blue", np.ones(3, np.float32))
    place = np.tile(inside, (3, 1))
    assert never_rolled(cells, compound, found, place, "printed").tolist() == [False, False, True]
    assert not never_rolled(cells, compound, found, place, "pressed_away").any()


def test_a_tooth_that_tells_nothing_hardly_moves_the_shared_patch() -> None:
    shared = np.array([0.45, 0.5, -1.3, -1.0, 0.0])
    samples = shared + TOOTH_SPREAD * np.random.default_rng(0).normal(size=(400, 5))
    farthest = samples[:, 0].argmax()
    chance = np.full((400, 2), 1 / 400)  # the second tooth takes any place
    chance[:, 0] = np.arange(400) == farthest  # the first is sure of one
    moved = _consensus(shared, samples, chance)
    assert moved[0] - shared[0] == pytest.approx(0.8 * (samples[farthest, 0] - shared[0]), rel=0.05)
