"""Bare steel of the gear and finished textures: metal and compound become colour, gloss and height."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.render.compound import Compound
from calibration.render.noise import cloud, ramp, streaks

Field = NDArray[np.float32]
PEN_COLOURS = (
    (0.8, 0.8, 0.75),
    (0.85, 0.6, 0.05),
    (0.05, 0.15, 0.6),
    (0.7, 0.05, 0.04),
    (0.1, 0.5, 0.15),
)  # linear
FINISHES = ("phosphate", "lapped", "bright", "used", "rusty")


@dataclass(frozen=True)
class Steel:
    """finish: name. grey: linear reflectance. warm: red over blue. rough: microfacet roughness. spots:
    strength of stains. rust: 0..1. oil: 0..1 share wet. marks: (height mm, spacing mm, angle rad)."""

    finish: str
    grey: float
    warm: float
    rough: float
    spots: float
    rust: float
    oil: float
    marks: tuple[float, float, float]


def random_steel(rng: np.random.Generator) -> Steel:
    """Plausible steel of any of FINISHES."""
    finish = str(rng.choice(FINISHES, p=[0.25, 0.23, 0.22, 0.24, 0.06]))
    grey = {"phosphate": (0.03, 0.16), "lapped": (0.12, 0.4), "bright": (0.35, 0.7), "used": (0.15, 0.5),
            "rusty": (0.1, 0.35)}[finish]  # fmt: skip
    rough = {"phosphate": (0.4, 0.75), "lapped": (0.3, 0.55), "bright": (0.15, 0.4), "used": (0.16, 0.45),
             "rusty": (0.4, 0.7)}[finish]  # fmt: skip
    return Steel(
        finish,
        float(rng.uniform(*grey)),
        float(rng.normal(1.04, 0.05)),
        float(rng.uniform(*rough)),
        float(rng.uniform(0, 1) ** 1.5),
        float(rng.uniform(0.3, 1) if finish == "rusty" else rng.uniform(0, 1) ** 6),
        float(rng.uniform(0, 1) ** 2),
        (
            float(np.exp(rng.uniform(np.log(0.0004), np.log(0.006)))),
            float(rng.uniform(0.25, 1.1)),
            float(rng.choice([0.0, np.pi / 2]) + rng.normal(0, 0.15)),
        ),
    )


@dataclass(frozen=True, eq=False)
class Finish:
    """Texture arrays, float32: colour (h, w, 3) linear, rough, metal, height (h, w, 1); height in mm."""

    colour: Field
    rough: Field
    metal: Field
    height: Field


def finish(
    rng: np.random.Generator,
    steel: Steel,
    shape: tuple[int, int],
    scale: float,
    thickness: Field | None,
    compound: Compound | None,
    wear: Field | None = None,
) -> Finish:
    """Compose textures at `scale` pixels per mm. thickness: compound in mm. wear: 0..1 polished share."""
    big, small = cloud(rng, shape, 7 * scale, 3, 0.7), cloud(rng, shape, 0.9 * scale, 2)
    grey = steel.grey * np.exp(steel.spots * (0.35 * big + 0.12 * small))
    rough = steel.rough * np.exp(0.25 * big * steel.spots + 0.1 * small)
    metal = np.full(shape, 0.9 if steel.finish == "phosphate" else 1.0, np.float32)
    colour = grey[..., None] * np.array([steel.warm, 1.0, 2 - steel.warm], np.float32)
    depth, spacing, angle = steel.marks
    height = depth * streaks(rng, shape, 14 * scale, max(1.5, spacing * scale * 0.5), angle)
    if wear is not None:
        colour = colour + wear[..., None] * (0.35 - 0.3 * steel.grey)
        rough = rough * (1 - 0.45 * wear)
        height = height * (1 - 0.7 * wear)
    if steel.rust > 0.02:
        spot = ramp(big + 0.8 * small, 2.6 - 2.4 * steel.rust, 3.6 - 2.0 * steel.rust)
        rust = np.array([0.22, 0.075, 0.025], np.float32) * np.exp(0.3 * small)[..., None]
        colour = colour + (rust - colour) * spot[..., None]
        rough = rough + (0.85 - rough) * spot
        metal = metal * (1 - 0.9 * spot)
        height = height + 0.006 * spot * small
    if steel.oil > 0.05:
        wet = ramp(cloud(rng, shape, 5 * scale, 2), 1.6 - 2.6 * steel.oil, 2.0 - 2.4 * steel.oil)
        colour = colour * (1 - 0.3 * wet)[..., None]
        rough = rough * (1 - 0.55 * wet)
        height = height * (1 - 0.6 * wet)
    if thickness is not None and compound is not None:
        if compound.glaze > 0:  # what lies thin tints the light that the steel mirrors
            stain = np.exp(-(1 - np.array(compound.rgb)) * compound.glaze * 1.2)
            depth_share = np.clip(thickness / (2 * compound.opaque), 0, 3)
            colour = colour * stain.astype(np.float32) ** depth_share[..., None]
            rough = rough + (compound.gloss - rough) * np.clip(3 * depth_share, 0, 1)
        cover = 1 - np.exp(-thickness / compound.hiding)
        tone = np.exp(0.06 * small - 0.12 * np.clip(thickness / (compound.thickness + 1e-6) - 1, -1, 2))
        paint = np.array(compound.rgb, np.float32) * tone[..., None]
        colour = colour + (paint - colour) * cover[..., None]
        rough = rough + (compound.gloss * (1 + 0.1 * big) - rough) * np.minimum(1, 1.3 * cover)
        metal = metal * (1 - cover)
        height = height * (1 - cover) + thickness
    return Finish(
        np.clip(colour, 0.004, 0.95).astype(np.float32),
        np.clip(rough, 0.08, 0.95).astype(np.float32)[..., None],
        np.clip(metal, 0, 1).astype(np.float32)[..., None],
        height.astype(np.float32)[..., None],
    )


def pen_marks(rng: np.random.Generator, look: Finish) -> Finish:
    """The finish with some strokes of a paint pen: match marks, numbers of invented meaning."""
    colour, metal, rough = look.colour.copy(), look.metal.copy(), look.rough.copy()
    rows, columns = colour.shape[:2]
    ink = PEN_COLOURS[rng.integers(len(PEN_COLOURS))]
    for _ in range(int(rng.integers(1, 9))):
        x, y = rng.uniform(0, columns), rng.uniform(0, rows)
        angle, long = rng.uniform(0, 6.28), rng.uniform(0.05, 0.3) * columns
        end = (round(x + long * np.cos(angle)), round(y + 0.4 * long * np.sin(angle)))
        wide = int(rng.integers(2, 9))
        for field, value in ((colour, tuple(map(float, ink))), (metal, 0.0), (rough, 0.4)):
            cv2.line(field, (round(x), round(y)), end, value, wide, cv2.LINE_AA)
    return Finish(colour, rough, metal, look.height)


def thick(rng: np.random.Generator, compound: Compound, size: int = 256) -> Finish:
    """A lump of compound, too thick to see through. size: rows and columns."""
    shape = (size, size)
    brushed = streaks(rng, shape, 60.0, 5.0, float(rng.uniform(-1.6, 1.6)))
    colour = np.array(compound.rgb, np.float32) * np.exp(0.08 * brushed)[..., None]
    return Finish(
        np.clip(colour, 0.004, 0.95).astype(np.float32),
        np.full((*shape, 1), np.clip(compound.gloss, 0.08, 0.95), np.float32),
        np.zeros((*shape, 1), np.float32),
        (float(rng.uniform(0.0, 0.2)) * brushed)[..., None].astype(np.float32),
    )
