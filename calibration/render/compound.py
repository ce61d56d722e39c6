"""Marking compound on the tiles of a flank atlas: thickness in mm, and where contact was.

A tile is one flank flattened: rows go up from the root (v), columns from the toe (u). Tiles stand on
top of each other. All teeth of a scene use a few tiles; the first `PAINTED` are for painted teeth, the next
`FLECKED` for teeth that only carry what rolling tore off others, the last `BARE` for the rest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.render.noise import cloud, ramp, streaks
from calibration.render.patch_shape import PatchForm, random_form, region, tooth_form

Field = NDArray[np.float32]
PAINTED, FLECKED, BARE = 12, 4, 4
TILES = PAINTED + FLECKED + BARE
State = Literal["wet", "wiped", "print"]  # of a painted tooth: never rolled, pressed away, printed

# sRGB, several samples of each; invented, by eye
COLOURS: dict[str, tuple[tuple[int, int, int], ...]] = {
    "yellow": ((250, 205, 20), (235, 185, 15), (245, 220, 80), (225, 200, 25), (255, 190, 0), (205, 190, 60)),
    "red": ((190, 25, 20), (150, 20, 25), (215, 50, 35), (165, 40, 30), (200, 30, 60)),
    "orange": ((240, 120, 20), (220, 90, 25), (250, 150, 50), (205, 85, 10)),
    "white": ((235, 235, 225), (215, 220, 220), (240, 235, 205), (200, 205, 200)),
    "green": ((90, 190, 60), (40, 140, 60), (150, 210, 90), (60, 160, 110), (130, 200, 40)),
    "blue": ((25, 50, 170), (40, 80, 200), (15, 25, 110), (60, 110, 190), (30, 90, 160), (10, 15, 60)),
    "brown": ((90, 45, 20), (60, 30, 15), (120, 70, 30), (70, 50, 35)),
}
COLOUR_SHARES = {
    "yellow": 0.31, "red": 0.11, "orange": 0.09, "white": 0.14, "green": 0.11, "blue": 0.16, "brown": 0.08,
}  # fmt: skip


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
    glaze: float = 0.0
    tails: float = 0.0
    wet: float = 1.5
    flecks: float = 0.0

    @property
    def hiding(self) -> float:
        """Thickness at which 63 % of the steel is hidden, mm."""
        return self.opaque * (1 + 4 * self.glaze)


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
    glossy = 0.7 if name in ("brown", "blue") else 0.25
    opaque = float(np.exp(rng.uniform(np.log(0.01), np.log(0.055))))
    thickness = float(np.exp(rng.uniform(np.log(0.02), np.log(0.22))))
    glaze = float(rng.uniform(0.2, 1)) if rng.random() < glossy else 0.0
    thickness = max(thickness, 1.3 * opaque * (1 + 4 * glaze))  # a coat that nobody sees is none
    return Compound(
        colour=name,
        rgb=(float(rgb[0]), float(rgb[1]), float(rgb[2])),
        polarity="printed" if printed else "pressed_away",
        thickness=thickness,
        opaque=opaque,
        gloss=float(rng.uniform(0.08, 0.25) if rng.random() < glossy else rng.uniform(0.12, 0.6)),
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
        glaze=glaze,
        tails=float(rng.uniform(0, 1.5)) if rng.random() < 0.5 else 0.0,
        wet=float(rng.uniform(1.0, 5.0)),
        flecks=float(rng.uniform(0, 1)),
    )


def careful_compound(rng: np.random.Generator, colour: str | None = None) -> Compound:
    """Compound as a careful hand puts it on: an even coat that hides the steel."""
    return replace(
        random_compound(rng, colour),
        thickness=float(rng.uniform(0.07, 0.14)),
        opaque=float(rng.uniform(0.012, 0.025)),
        miss=float(rng.uniform(-3.4, -2.5)),
        smear=float(rng.uniform(0.001, 0.006)),
        feather=float(rng.uniform(0.15, 0.5)),
        patchy=float(rng.uniform(-1.8, -0.9)),
        brush=float(rng.uniform(0.15, 0.45)),
        stray=float(rng.uniform(0, 0.4)),
    )


@dataclass(frozen=True, eq=False)
class Layer:
    """thickness: mm, (TILES * rows, columns). contact: bool, same shape: the region of contact."""

    thickness: Field
    contact: NDArray[np.bool_]


def common_form(rng: np.random.Generator) -> PatchForm:
    """The side's patch."""
    return random_form(rng)


def random_states(rng: np.random.Generator, compound: Compound, wet: float) -> tuple[State, ...]:
    """What became of each painted tile. wet: chance that some of the teeth were never rolled."""
    rolled: State = "print" if compound.polarity == "printed" else "wiped"
    other: State = "wiped" if rolled == "print" else "print"
    states: list[State] = [rolled] * PAINTED
    if rng.random() < 0.25:  # the brushed teeth are pressed away, and those they met afterwards printed
        cut = int(rng.integers(2, PAINTED - 1))
        states[cut:] = [other] * (PAINTED - cut)
    if rng.random() < wet:
        count = PAINTED if rng.random() < 0.12 else int(rng.integers(1, PAINTED - 2))
        if rng.random() < 0.5:
            states[:count] = ["wet"] * count
        else:
            states[PAINTED - count :] = ["wet"] * count
    return tuple(states)


def lay(
    rng: np.random.Generator,
    compound: Compound,
    form: PatchForm | None,
    size: tuple[float, float],
    tile: tuple[int, int],
    regions: list[Field] | None = None,
    states: tuple[State, ...] | None = None,
) -> Layer:
    """Compound on all tiles of one kind of flank. tile: (rows, columns) of a tile in pixels.

    regions, if given: signed distance (mm, positive inside) of the patch on each painted tile, in place of
    random scatter about `form`. states: of each painted tile; all rolled if not given.
    """
    rows, columns = tile
    shape = (rows * TILES, columns)
    along, up = columns / size[0], rows / size[1]  # pixels per mm
    scale = (along + up) / 2
    rolled: State = "print" if compound.polarity == "printed" else "wiped"
    states = states or (rolled,) * PAINTED

    def tiles(*of: State) -> Field:
        """1 on the tiles that are in one of these states, (rows of the atlas, 1)."""
        mine = [float(k < PAINTED and states[k] in of) for k in range(TILES)]
        return np.repeat(np.array(mine, np.float32), rows)[:, None]

    v1 = np.tile((np.arange(rows, dtype=np.float32) + 0.5) / rows, TILES)[:, None]
    v = np.broadcast_to(v1, shape).astype(np.float32)
    inside = _inside(rng, compound, form, size, tile, regions)
    is_rolled = tiles("wiped", "print")
    contact = (inside > 0) & (is_rolled > 0)
    soft = ramp(inside, -compound.feather, compound.feather * 0.6)
    length, width, angle = compound.stroke
    stroke = streaks(rng, shape, length * scale, max(1.2, width * scale), angle)
    uneven = cloud(rng, shape, 5 * scale, 2)
    missing = cloud(rng, shape, (6 * scale, 3 * scale), 2) + 0.6 * stroke
    t = np.zeros(shape, np.float32)
    wet, wiped, printed = tiles("wet"), tiles("wiped"), tiles("print")
    if wet.any() or wiped.any():
        coat = compound.thickness * np.exp(0.45 * uneven) * np.clip(1 + compound.brush * stroke, 0, None)
        whole = coat * ramp(missing, compound.miss - 1.6, compound.miss - 1.0)
        coat *= ramp(missing, compound.miss - 0.25, compound.miss + 0.35)
        low, high = compound.reach
        edge = 0.07 * cloud(rng, shape, 4 * scale, 2)
        reached = ramp(v + edge, low - 0.04, low + 0.04) * (1 - ramp(v + edge, high - 0.04, high + 0.04))
        coat, whole = coat * reached, whole * np.maximum(reached, float(rng.random() < 0.5))
        if compound.blobs > 0.3:
            lump = ramp(cloud(rng, shape, 1.4 * scale), 2.0, 3.0)
            coat += compound.thickness * compound.blobs * lump
        # an unrolled coat: thick, ridged by the brush, at times with bare holes that look like a pattern
        thick = whole * compound.wet * np.exp(0.35 * cloud(rng, shape, (9 * scale, 2.5 * scale), 2))
        hole = ramp(cloud(rng, shape, (7 * scale, 3 * scale), 2), *_holes(rng))
        t += wet * thick * (1 - hole)
        wipe = streaks(rng, shape, 2.5 * scale, max(1.2, 0.3 * scale), float(rng.normal(1.4, 0.25)))
        residue = compound.smear * np.clip(0.7 + 1.0 * wipe + 0.5 * uneven, 0, None)
        rim = np.exp(-(((inside + 0.9 * compound.feather) / (0.5 * compound.feather + 0.15)) ** 2))
        t += wiped * (
            coat * (1 - soft) + np.minimum(residue, coat) * soft + 0.7 * compound.ridge * coat * rim
        )
    if printed.any():
        patchy = 0.8 * missing + 0.7 * cloud(rng, shape, 0.7 * scale, 1)
        least = float(rng.uniform(0.7, 1.4)) * compound.hiding  # what is no print to the eye is none
        print_t = max(0.35 * compound.thickness, least) * np.exp(0.4 * uneven)
        mark = print_t * soft * ramp(patchy, compound.patchy - 0.4, compound.patchy + 0.5)
        rim = np.exp(-(((inside - 0.1) / 0.35) ** 2))
        mark += 0.5 * compound.ridge * print_t * rim * ramp(uneven, -0.5, 1)
        ghost = ramp(cloud(rng, shape, 2 * scale, 2), 1.3, 2.4) * compound.stray
        t += printed * (mark + 0.3 * compound.thickness * ghost)
    t += _strays(rng, compound, tile, scale)
    even = np.asarray(cv2.GaussianBlur(t.astype(np.float32), (0, 0), 0.6), np.float32)
    return Layer(np.maximum(even, 0), contact)


def _inside(
    rng: np.random.Generator,
    compound: Compound,
    form: PatchForm | None,
    size: tuple[float, float],
    tile: tuple[int, int],
    regions: list[Field] | None,
) -> Field:
    """Signed distance (mm, positive inside) of the patch on each painted tile, roughened; -9 elsewhere."""
    rows, columns = tile
    shape = (rows * TILES, columns)
    scale = (columns / size[0] + rows / size[1]) / 2
    inside = np.full(shape, -9.0, np.float32)
    if form is None and not regions:
        return inside
    u = np.broadcast_to((np.arange(columns, dtype=np.float32) + np.float32(0.5)) / np.float32(columns), tile)
    v = np.broadcast_to(((np.arange(rows, dtype=np.float32) + 0.5) / rows)[:, None], tile).astype(np.float32)
    scatter, wave = float(rng.uniform(0, 0.05)), float(rng.uniform(0, 0.1) ** 1.5)
    phase = float(rng.uniform(0, 6.28))
    for i in range(PAINTED):
        part = slice(i * rows, (i + 1) * rows)
        if regions:
            inside[part] = regions[i]
        elif form is not None:
            mine = tooth_form(rng, form, scatter, wave, phase + 0.5 * i)
            inside[part] = region(mine, u, v, size)
    ragged = form.ragged if form is not None else 0.4
    rough = cloud(rng, shape, 1.6 * scale, 2, 0.7)
    grain = streaks(rng, shape, 1.2 * scale, 0.35 * scale, float(rng.choice([0.0, np.pi / 2])))
    inside += ragged * (0.55 * rough + 0.35 * grain)
    if compound.tails > 0.05:
        slide = streaks(rng, shape, 4 * scale, max(1.0, 0.35 * scale), float(rng.normal(1.45, 0.2)))
        inside += 0.35 * compound.tails * slide
    return inside


def _holes(rng: np.random.Generator) -> tuple[float, float]:
    """From which level to which a cloud makes holes in a wet coat; mostly hardly any."""
    low = float(rng.uniform(1.0, 1.8) if rng.random() < 0.4 else 3.0)
    return low, low + 0.5


def _strays(rng: np.random.Generator, compound: Compound, tile: tuple[int, int], scale: float) -> Field:
    """Flecks torn off by rolling, fewer from tile to tile, and what the brush spilt on bare ones; mm."""
    rows, columns = tile
    out = np.zeros((rows * TILES, columns), np.float32)
    shape = (rows * FLECKED, columns)
    fade = np.repeat(np.linspace(1, 0.25, FLECKED, dtype=np.float32), rows)[:, None] * compound.flecks
    torn = 0.7 * streaks(rng, shape, 3 * scale, max(1.0, 0.5 * scale), float(rng.normal(1.2, 0.5)))
    torn = torn + 0.8 * cloud(rng, shape, 2.2 * scale, 2)
    flecks = ramp(torn, 2.6 - 2.0 * fade, 3.0 - 1.8 * fade) * (compound.flecks > 0.05)
    out[rows * PAINTED : rows * (PAINTED + FLECKED)] = flecks * compound.thickness * 0.5
    shape = (rows * BARE, columns)
    spilt = ramp(cloud(rng, shape, 1.8 * scale, 2), 2.3 - 0.6 * compound.stray, 3.0)
    out[rows * (PAINTED + FLECKED) :] = spilt * compound.thickness * compound.stray
    return out
