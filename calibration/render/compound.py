"""Marking compound on the tiles of a flank atlas: thickness in mm, and where contact was.

A tile is one flank flattened: rows go up from the root (v), columns from the toe (u). Tiles stand on
top of each other. All teeth of a scene use a few tiles; the first `PAINTED` are for painted teeth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.render.noise import cloud, ramp, streaks
from calibration.render.patch_shape import PatchForm, random_form, region, tooth_form

Field = NDArray[np.float32]
PAINTED, BARE = 12, 4
TILES = PAINTED + BARE

# sRGB, several samples of each; invented, by eye
COLOURS: dict[str, tuple[tuple[int, int, int], ...]] = {
    "yellow": ((250, 205, 20), (235, 185, 15), (245, 220, 80), (225, 200, 25), (255, 190, 0), (205, 190, 60)),
    "red": ((190, 25, 20), (150, 20, 25), (215, 50, 35), (165, 40, 30), (200, 30, 60)),
    "orange": ((240, 120, 20), (220, 90, 25), (250, 150, 50), (205, 85, 10)),
    "white": ((235, 235, 225), (215, 220, 220), (240, 235, 205), (200, 205, 200)),
    "green": ((90, 190, 60), (40, 140, 60), (150, 210, 90), (60, 160, 110), (130, 200, 40)),
    "blue": ((25, 50, 170), (40, 80, 200), (15, 25, 110), (60, 110, 190), (30, 90, 160)),
}
COLOUR_SHARES = {"yellow": 0.3, "red": 0.13, "orange": 0.1, "white": 0.14, "green": 0.14, "blue": 0.19}


@dataclass(frozen=True)
class Compound:
    """How the compound was put on. Lengths in mm.

    colour: name; rgb: linear. thickness: mean; opaque: thickness at which 63 % hides. brush: stroke
    contrast; stroke: (length, width, angle rad). miss: level of missed places (lower = fewer). reach:
    (low, high) v between which it was brushed. blobs: strength of lumps. smear: residue inside the patch
    of a pressed-away pattern, as a thickness. ridge: displaced compound round it. feather: softness of
    the patch's edge. patchy: lack of print inside a printed patch. slop: (root, top land) 0..1.
    """

    colour: str
    rgb: tuple[float, float, float]
    polarity: Literal["pressed_away", "printed"]
    thickness: float
    opaque: float
    gloss: float
    brush: float
    stroke: tuple[float, float, float]
    miss: float
    reach: tuple[float, float]
    blobs: float
    smear: float
    ridge: float
    feather: float
    patchy: float
    slop: tuple[float, float]
    stray: float


def linear(srgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """sRGB 0..1 to linear (IEC 61966-2-1)."""
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def random_compound(rng: np.random.Generator, colour: str | None = None) -> Compound:
    """A plausible compound, of a given colour (a key of COLOURS) or any."""
    name = colour or str(rng.choice(list(COLOUR_SHARES), p=list(COLOUR_SHARES.values())))
    options = COLOURS[name]
    base = np.array(options[rng.integers(len(options))]) / 255
    base = np.clip(base * rng.uniform(0.75, 1.08) + rng.normal(0, 0.025, 3), 0.01, 0.97)
    rgb = linear(base)
    printed = rng.random() < 0.33
    careful = rng.random() < 0.55  # an even coat with few gaps
    return Compound(
        colour=name,
        rgb=(float(rgb[0]), float(rgb[1]), float(rgb[2])),
        polarity="printed" if printed else "pressed_away",
        thickness=float(np.exp(rng.uniform(np.log(0.03), np.log(0.22)))),
        opaque=float(np.exp(rng.uniform(np.log(0.01), np.log(0.055)))),
        gloss=float(rng.uniform(0.12, 0.6)),
        brush=float(rng.uniform(0.1, 0.7 if careful else 1.0)),
        stroke=(float(rng.uniform(4, 25)), float(rng.uniform(0.25, 1.4)), float(rng.uniform(-1.6, 1.6))),
        miss=float(rng.uniform(-4.0, -2.0) if careful else rng.uniform(-3.2, -0.9)),
        reach=(
            float(rng.uniform(-0.3, -0.05 if careful else 0.15)),
            float(rng.uniform(1.0 if careful else 0.85, 1.3)),
        ),
        blobs=float(rng.uniform(0, 1.2 if careful else 2.5)),
        smear=float(np.exp(rng.uniform(np.log(0.0008), np.log(0.016)))),
        ridge=float(rng.uniform(0, 2.0)),
        feather=float(rng.uniform(0.08, 0.9)),
        patchy=float(rng.uniform(-2.0, 0.2)),
        slop=(float(rng.uniform(0, 1)), float(rng.uniform(0, 1))),
        stray=float(rng.uniform(0, 0.3 if careful else 1) ** 2),
    )


@dataclass(frozen=True, eq=False)
class Layer:
    """thickness: mm, (TILES * rows, columns). contact: bool, same shape: the region of contact."""

    thickness: Field
    contact: NDArray[np.bool_]


def common_form(rng: np.random.Generator) -> PatchForm | None:
    """The side's patch, or None where the teeth were painted but never rolled."""
    return None if rng.random() < 0.04 else random_form(rng)


def lay(
    rng: np.random.Generator,
    compound: Compound,
    form: PatchForm | None,
    size: tuple[float, float],
    tile: tuple[int, int],
    regions: list[Field] | None = None,
) -> Layer:
    """Compound on all tiles of one kind of flank. tile: (rows, columns) of a tile in pixels.

    regions, if given: signed distance (mm, positive inside) of the patch on each painted tile, in place of
    random scatter about `form`.
    """
    rows, columns = tile
    shape = (rows * TILES, columns)
    along, up = columns / size[0], rows / size[1]  # pixels per mm
    scale = (along + up) / 2
    u = np.broadcast_to((np.arange(columns, dtype=np.float32) + np.float32(0.5)) / np.float32(columns), shape)
    v1 = np.tile((np.arange(rows, dtype=np.float32) + 0.5) / rows, TILES)[:, None]
    v = np.broadcast_to(v1, shape).astype(np.float32)
    number = np.repeat(np.arange(TILES), rows)[:, None]
    painted = (number < PAINTED).astype(np.float32)

    inside = np.full(shape, -9.0, np.float32)
    if form is not None or regions:
        scatter, wave = float(rng.uniform(0, 0.05)), float(rng.uniform(0, 0.1) ** 1.5)
        phase = float(rng.uniform(0, 6.28))
        for i in range(PAINTED):
            part = slice(i * rows, (i + 1) * rows)
            if regions:
                inside[part] = regions[i]
            elif form is not None:
                mine = tooth_form(rng, form, scatter, wave, phase + 0.5 * i)
                inside[part] = region(mine, u[part], v[part], size)
        ragged = form.ragged if form is not None else 0.4
        rough = cloud(rng, shape, 1.6 * scale, 2, 0.7)
        grain = streaks(rng, shape, 1.2 * scale, 0.35 * scale, float(rng.choice([0.0, np.pi / 2])))
        inside += ragged * (0.55 * rough + 0.35 * grain)
    contact = inside > 0
    soft = ramp(inside, -compound.feather, compound.feather * 0.6)

    length, width, angle = compound.stroke
    stroke = streaks(rng, shape, length * scale, max(1.2, width * scale), angle)
    uneven = cloud(rng, shape, 5 * scale, 2)
    missing = cloud(rng, shape, (6 * scale, 3 * scale), 2) + 0.6 * stroke
    if compound.polarity == "pressed_away":
        t = compound.thickness * np.exp(0.45 * uneven) * np.clip(1 + compound.brush * stroke, 0, None)
        t *= ramp(missing, compound.miss - 0.25, compound.miss + 0.35)
        low, high = compound.reach
        edge = 0.07 * cloud(rng, shape, 4 * scale, 2)
        t *= ramp(v + edge, low - 0.04, low + 0.04) * (1 - ramp(v + edge, high - 0.04, high + 0.04))
        if compound.blobs > 0.3:
            lump = ramp(cloud(rng, shape, 1.4 * scale), 2.0, 3.0)
            t += compound.thickness * compound.blobs * lump
        wipe = streaks(rng, shape, 2.5 * scale, max(1.2, 0.3 * scale), float(rng.normal(1.4, 0.25)))
        residue = compound.smear * np.clip(0.7 + 1.0 * wipe + 0.5 * uneven, 0, None)
        rim = np.exp(-(((inside + 0.9 * compound.feather) / (0.5 * compound.feather + 0.15)) ** 2))
        t = t * (1 - soft) + np.minimum(residue, t) * soft + 0.7 * compound.ridge * t * rim
    else:
        patchy = 0.8 * missing + 0.7 * cloud(rng, shape, 0.7 * scale, 1)
        print_t = 0.35 * compound.thickness * np.exp(0.4 * uneven)
        t = print_t * soft * ramp(patchy, compound.patchy - 0.4, compound.patchy + 0.5)
        rim = np.exp(-(((inside - 0.1) / 0.35) ** 2))
        t += 0.5 * compound.ridge * print_t * rim * ramp(uneven, -0.5, 1)
        ghost = ramp(cloud(rng, shape, 2 * scale, 2), 1.3, 2.4) * compound.stray
        t += 0.3 * compound.thickness * ghost
    t = t * painted
    stray = ramp(cloud(rng, shape, 1.8 * scale, 2), 2.3 - 0.6 * compound.stray, 3.0)
    t = t + (1 - painted) * stray * compound.thickness * compound.stray
    t = cv2.GaussianBlur(t.astype(np.float32), (0, 0), 0.6)
    return Layer(np.maximum(t, 0), contact & (number < PAINTED))
