"""Textures of all that is no gear: castings, cloth, plastic, skin, floors and walls."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.render.compound import Compound, linear
from calibration.render.noise import cloud, ramp
from calibration.render.steel import Finish

Array = NDArray[np.float64]
PHOTOGRAPHS = ("coffee.png", "chelsea.png", "rocket.jpg", "motorcycle_left.png", "grass.png", "gravel.png",
               "brick.png", "hubble_deep_field.jpg", "coins.png", "page.png", "ihc.png",
               "chessboard_RGB.png", "clock_motion.png", "moon.png")  # fmt: skip


@lru_cache(maxsize=len(PHOTOGRAPHS))
def photograph(name: str) -> NDArray[np.float32] | None:
    """A photograph that scikit-image ships, linear (rows, columns, 3), long side 320; None if absent."""
    try:
        import importlib.util

        spec = importlib.util.find_spec("skimage")
        if spec is None or spec.origin is None:
            return None
        path = Path(spec.origin).parent / "data" / name
        raw = cv2.imdecode(np.frombuffer(path.read_bytes(), np.uint8), cv2.IMREAD_COLOR)
        if raw is None:
            return None
    except OSError:
        return None
    scale = 320 / max(raw.shape[:2])
    small = cv2.resize(raw, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return linear(small[..., ::-1].astype(np.float64) / 255.0).astype(np.float32)


def casting(rng: np.random.Generator, size: int = 256) -> Finish:
    """Cast iron, aluminium, paint or machined steel, with stains. size: rows and columns."""
    shape = (size, size)
    big, small = cloud(rng, shape, 70, 4, 0.7), cloud(rng, shape, 6, 2)
    kind = rng.random()
    if kind < 0.5:  # iron and aluminium
        base = np.full(3, np.exp(rng.uniform(np.log(0.03), np.log(0.5)))) * np.exp(rng.normal(0, 0.05, 3))
        metal, rough = float(rng.uniform(0.2, 1)), float(rng.uniform(0.25, 0.7))
    elif kind < 0.62:  # bright turned steel
        base, metal, rough = np.full(3, rng.uniform(0.35, 0.7)), 1.0, float(rng.uniform(0.12, 0.35))
    else:  # paint, primer, dirt
        base = _any_colour(rng, 0.5)
        metal, rough = 0.0, float(rng.uniform(0.2, 0.8))
    colour = base * np.exp(rng.uniform(0, 0.5) * big + rng.uniform(0, 0.25) * small)[..., None]
    dirt = ramp(big, *((0.6, 1.6) if rng.random() < 0.6 else (2.5, 4.0)))[..., None]
    grime = np.array([0.05, 0.035, 0.02]) * rng.uniform(0.3, 4.0)
    colour = colour + (grime - colour) * dirt * float(rng.uniform(0, 0.9))
    bump = float(rng.uniform(0, 0.35)) * cloud(rng, shape, float(rng.uniform(3, 12)), 2)
    return Finish(
        np.clip(colour, 0.004, 0.9).astype(np.float32),
        np.clip(rough * np.exp(0.2 * big), 0.1, 0.95).astype(np.float32)[..., None],
        np.clip(metal * (1 - 0.7 * dirt), 0, 1).astype(np.float32),
        bump.astype(np.float32)[..., None],
    )


def iron(rng: np.random.Generator, size: int = 256) -> Finish:
    """An old casting: dark iron or steel with rust, oil and dirt. size: rows and columns."""
    shape = (size, size)
    big, small = cloud(rng, shape, 60, 4, 0.7), cloud(rng, shape, 5, 2)
    colour = float(np.exp(rng.uniform(np.log(0.02), np.log(0.2)))) * np.exp(0.3 * big + 0.12 * small)
    colour = colour[..., None] * np.array(
        [1 + float(rng.uniform(0, 0.15)), 1.0, 1 - float(rng.uniform(0, 0.15))]
    )
    rough, metal = (
        float(rng.uniform(0.3, 0.6)) * np.exp(0.15 * small),
        np.full(shape, float(rng.uniform(0.3, 0.9))),
    )
    for tint, least in (((0.11, 0.05, 0.025), 0.3), ((0.02, 0.017, 0.014), 0.2)):
        low = float(rng.uniform(least, 2.5))
        spot = 0.8 * ramp(cloud(rng, shape, 45, 5, 0.7), low - 0.5, low + 1.2)
        colour = colour + (np.array(tint) - colour) * spot[..., None]
        metal, rough = metal * (1 - 0.8 * spot), rough + (0.75 - rough) * spot
    return Finish(
        np.clip(colour, 0.004, 0.9).astype(np.float32),
        np.clip(rough, 0.1, 0.95).astype(np.float32)[..., None],
        np.clip(metal, 0, 1).astype(np.float32)[..., None],
        (float(rng.uniform(0.05, 0.3)) * cloud(rng, shape, float(rng.uniform(3, 8)), 2)[..., None]).astype(
            np.float32
        ),
    )


def _any_colour(rng: np.random.Generator, vivid: float) -> Array:
    hue = rng.uniform(0, 1, 3)
    value = np.exp(rng.uniform(np.log(0.02), np.log(0.7)))
    return np.asarray(value * (1 - vivid + vivid * hue / hue.max()), np.float64)


def cloth_or_plastic(rng: np.random.Generator, size: int = 256) -> Finish:
    """A rag, sleeve or plastic part: plain, woven or striped, with stains. size: rows and columns."""
    shape = (size, size)
    base = _any_colour(rng, float(rng.uniform(0, 0.95)))
    big, small = cloud(rng, shape, 60, 3), cloud(rng, shape, 4)
    colour = base * np.exp(0.2 * big + 0.1 * small)[..., None]
    if rng.random() < 0.4:
        weave = np.sin(np.arange(size) * float(rng.uniform(0.3, 1.5)))
        colour = colour * (1 + 0.2 * weave[:, None] * weave[None])[..., None]
    if rng.random() < 0.3:  # stripes or check
        other = _any_colour(rng, 0.8)
        stripe = (np.sin(np.arange(size) * float(rng.uniform(0.05, 0.3)))[:, None] > 0.5)[..., None]
        colour = np.where(np.broadcast_to(stripe, (size, size, 1)), other, colour)
    stain = ramp(big, 0.8, 1.8)[..., None] * float(rng.uniform(0, 0.8))
    colour = colour * (1 - stain) + 0.03 * stain
    rough = float(rng.uniform(0.2, 0.95))
    return Finish(
        np.clip(colour, 0.004, 0.9).astype(np.float32),
        np.full((2, 2, 1), rough, np.float32),
        np.zeros((2, 2, 1), np.float32),
        (0.15 * small[..., None]).astype(np.float32),
    )


def scenery(rng: np.random.Generator, sober: bool = False, size: int = 320) -> Finish:
    """A floor, wall or bench top: procedural, or a photograph. sober: wood or concrete. size: in pixels."""
    shape = (size, size)
    big, small = cloud(rng, shape, 90, 4, 0.7), cloud(rng, shape, 4, 2)
    kind = rng.random() if not sober else float(rng.choice([0.5, 0.9]))
    photo = photograph(str(rng.choice(PHOTOGRAPHS))) if kind < 0.4 else None
    if photo is not None:
        colour = cv2.resize(photo, (size, size)) * float(rng.uniform(0.3, 1.4))
    elif kind < 0.6:  # wood
        grain = cloud(rng, shape, (160, 5), 3, 0.7)
        colour = (
            np.array([0.35, 0.2, 0.09]) * rng.uniform(0.2, 1.6) * np.exp(0.3 * grain + 0.2 * big)[..., None]
        )
    elif kind < 0.75:  # tiles, boxes, patches
        cells = rng.integers(3, 9)
        coarse = np.stack([_any_colour(rng, float(rng.uniform(0, 0.9))) for _ in range(cells**2)])
        colour = (
            cv2.resize(
                coarse.reshape(cells, cells, 3).astype(np.float32), shape, interpolation=cv2.INTER_NEAREST
            )
            * np.exp(0.15 * big)[..., None]
        )
    else:  # concrete, steel, rubber, paper
        colour = (
            _any_colour(rng, float(rng.uniform(0, 0.05 if sober else 0.5)))
            * np.exp(0.35 * big + 0.12 * small)[..., None]
        )
    metal = float(rng.random() < 0.15) * 0.9
    return Finish(
        np.clip(colour, 0.004, 0.9).astype(np.float32),
        np.full((2, 2, 1), rng.uniform(0.2, 0.95), np.float32),
        np.full((2, 2, 1), metal, np.float32),
        (float(rng.uniform(0, 0.3)) * small[..., None]).astype(np.float32),
    )


def skin(rng: np.random.Generator) -> Finish:
    """Bare skin or a glove, 128 x 128."""
    base = np.array([[0.55, 0.3, 0.2], [0.35, 0.18, 0.11], [0.16, 0.08, 0.05], [0.62, 0.4, 0.3],
                     [0.03, 0.03, 0.035], [0.1, 0.2, 0.5], [0.05, 0.05, 0.05]])[rng.integers(7)]  # fmt: skip
    shape = (128, 128)
    colour = base * np.exp(0.15 * cloud(rng, shape, 30, 3))[..., None]
    return Finish(
        np.clip(colour, 0.004, 0.9).astype(np.float32),
        np.full((2, 2, 1), rng.uniform(0.35, 0.7), np.float32),
        np.zeros((2, 2, 1), np.float32),
        (0.1 * cloud(rng, shape, 6, 2)[..., None]).astype(np.float32),
    )


def swatches(rng: np.random.Generator, cells: int = 4, size: int = 256) -> Finish:
    """The texture of small coloured parts, cells x cells of them: dark holes, worn steel, bright steel, then
    paints of any colour."""
    shape = (size, size)
    colour = np.zeros((*shape, 3), np.float32)
    metal, rough = np.zeros((*shape, 1), np.float32), np.zeros((*shape, 1), np.float32)
    step = size // cells
    for k in range(cells**2):
        part = np.s_[k // cells * step : (k // cells + 1) * step, k % cells * step : (k % cells + 1) * step]
        if k == 0:
            base, metal[part], rough[part] = np.full(3, 0.01), 0.0, 0.9
        elif k == 1:
            base, metal[part], rough[part] = np.full(3, rng.uniform(0.05, 0.4)), 0.9, rng.uniform(0.25, 0.6)
        elif k == 2:
            base, metal[part], rough[part] = np.full(3, rng.uniform(0.3, 0.7)), 1.0, rng.uniform(0.12, 0.35)
        else:
            base, metal[part], rough[part] = _any_colour(rng, 0.95), 0.0, rng.uniform(0.2, 0.7)
        colour[part] = base
    big = cloud(rng, shape, 20, 3)
    colour *= np.exp(0.25 * big)[..., None]
    return Finish(
        np.clip(colour, 0.004, 0.9).astype(np.float32),
        np.clip(rough, 0.1, 0.95),
        metal,
        (0.05 * cloud(rng, shape, 4)[..., None]).astype(np.float32),
    )


def rusty_seat(rng: np.random.Generator, size: int = 256) -> Finish:
    """A flange that was scraped clean: bright iron with rust, oil and rests of a gasket."""
    shape = (size, size)
    big, small = cloud(rng, shape, 30, 4, 0.7), cloud(rng, shape, 3, 2)
    colour = float(rng.uniform(0.1, 0.5)) * np.exp(0.3 * big + 0.15 * small)[..., None] * np.ones(3)
    metal, rough = np.full(shape, 1.0), float(rng.uniform(0.2, 0.5)) * np.exp(0.2 * small)
    low = float(rng.uniform(-0.5, 2.5))
    for tint, level in (([0.25, 0.09, 0.03], low), ([0.03, 0.03, 0.03], float(rng.uniform(0, 2.5)))):
        spot = ramp(cloud(rng, shape, 22, 4, 0.7), level, level + 0.5)
        colour = colour + (np.array(tint) - colour) * spot[..., None]
        metal, rough = metal * (1 - 0.9 * spot), rough + (0.8 - rough) * spot
    return Finish(
        np.clip(colour, 0.004, 0.9).astype(np.float32),
        np.clip(rough, 0.1, 0.95).astype(np.float32)[..., None],
        np.clip(metal, 0, 1).astype(np.float32)[..., None],
        (0.1 * small[..., None]).astype(np.float32),
    )


def splashed(rng: np.random.Generator, look: Finish, compound: Compound) -> Finish:
    """The finish with drops and smears of compound thrown on it."""
    colour, metal, rough = look.colour.copy(), look.metal.copy(), look.rough.copy()
    size = colour.shape[:2]
    metal, rough = (
        np.ascontiguousarray(cv2.resize(a, size[::-1]).reshape(*size, 1), np.float32) for a in (metal, rough)
    )
    for _ in range(int(rng.integers(1, 9))):
        at = (int(rng.integers(size[1])), int(rng.integers(size[0])))
        axes = (int(rng.integers(1, 18)), int(rng.integers(1, 5)))
        turn = float(rng.uniform(0, 180))
        for field, value in (
            (colour, tuple(map(float, compound.rgb))),
            (metal, 0.0),
            (rough, compound.gloss),
        ):
            cv2.ellipse(field, at, axes, turn, 0, 360, value, -1, cv2.LINE_AA)
    return Finish(colour, rough, metal, look.height)
