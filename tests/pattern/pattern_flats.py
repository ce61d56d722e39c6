"""Flat flanks painted by the computer, with known patches: invented data for tests."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from contactread.arrays import Floats
from contactread.flank.flank import Flank, FlankMap, FlatFlank

ROWS, COLUMNS = 96, 288
COLOURS = {  # linear blue, green, red
    "yellow": (0.03, 0.45, 0.62),
    "orange": (0.02, 0.16, 0.60),
    "red": (0.03, 0.04, 0.45),
    "green": (0.10, 0.40, 0.08),
    "blue": (0.45, 0.12, 0.05),
    "white": (0.62, 0.65, 0.66),
}
U, V = np.meshgrid((np.arange(COLUMNS) + 0.5) / COLUMNS, (np.arange(ROWS) + 0.5) / ROWS)


@dataclass(frozen=True)
class Truth:
    """The true patch of a tooth: area centre, 5 and 95 % points, area fraction; None where unpainted."""

    centre: tuple[float, float]
    length: tuple[float, float]
    height: tuple[float, float]
    area: float


@dataclass(frozen=True)
class Paint:
    """patch: middle u, v, half length, half height, slant of the shared patch; None = not rolled."""

    colour: str = "yellow"
    polarity: str = "pressed_away"
    patch: tuple[float, float, float, float, float] | None = (0.42, 0.5, 0.24, 0.3, 0.2)
    wander: float = 0.02
    streaks: float = 0.5
    dirt: float = 1.0
    light: float = 0.5
    smear: float = 0.0  # 0: rubbed to steel; 1: the patch looks like its surroundings
    blots: float = 0.0  # 0: none; 1: glare and dirt over a good part of each tooth


def flats(
    paint: Paint, teeth: int = 5, bare: int = 0, seed: int = 0, cast: tuple[float, float, float] = (1, 1, 1)
) -> tuple[list[FlatFlank], list[Truth | None]]:
    """Painted teeth, then bare ones."""
    draw = np.random.default_rng(seed)
    made = [_tooth(paint, draw, k < teeth, np.array(cast)) for k in range(teeth + bare)]
    return [flat for flat, _ in made], [truth for _, truth in made]


def flat_of(pixels: np.ndarray, seen: np.ndarray | None = None) -> FlatFlank:
    coefficients = np.zeros((2, 2, 2))
    coefficients[0, 0] = 200, 100
    coefficients[1, 0, 0], coefficients[0, 1, 1] = 144, -48
    flank = Flank(FlankMap(coefficients), "convex", 1.0, 0.0, "corners")
    shown = np.ones(pixels.shape[:2], bool) if seen is None else seen
    return FlatFlank(pixels, shown, flank)


def _tooth(
    paint: Paint, draw: np.random.Generator, painted: bool, cast: np.ndarray
) -> tuple[FlatFlank, Truth | None]:
    steel = 0.16 * np.exp(0.35 * _smooth(draw, 0.04, 0.10) + 0.25 * _smooth(draw, 0.008, 0.2))
    compound = np.array(COLOURS[paint.colour])
    coat: Floats = np.zeros((ROWS, COLUMNS))
    truth = None
    if painted:
        inside, truth = _patch(paint, draw)
        streak = _smooth(draw, 0.012, 0.30) > np.quantile(_smooth(draw, 0.012, 0.30), 1 - 0.6 * paint.streaks)
        rubbed = np.where(streak, 0.55, 0.12) * (1 - paint.smear) + 0.95 * paint.smear
        if paint.polarity == "pressed_away":
            coat = np.clip(0.95 + 0.08 * _smooth(draw, 0.2, 0.03), 0, 1)
            gaps = _smooth(draw, 0.05, 0.06) > 2.3
            coat = np.where(gaps, 0.05, coat)
            coat = coat * (1 - inside) + rubbed * inside
        else:
            print_ = np.where(streak, 0.5, 0.95) * (1 - paint.smear)
            slop = (_smooth(draw, 0.03, 0.05) > 2.5) * 0.9
            coat = print_ * inside + slop * (1 - inside)
    elif paint.dirt:
        coat = np.asarray((_smooth(draw, 0.03, 0.05) > 2.3) * 0.9, float)
    colour = coat[..., None] * compound + (1 - coat[..., None]) * steel[..., None]
    if paint.blots:
        blot = _smooth(draw, 0.15, 0.4)
        mix = paint.blots * np.clip(blot - 0.6, 0, 1)[..., None]
        colour = colour * (1 - mix) + mix * draw.choice([0.05, 0.5])
    slope = draw.normal(scale=0.4, size=2)
    light = np.exp(slope[0] * (U - 0.5) + slope[1] * (V - 0.5) + draw.normal(scale=0.3)) * paint.light
    linear = cv2.GaussianBlur(colour * light[..., None] * cast, (0, 0), 0.9)
    linear = linear + draw.normal(scale=0.006, size=linear.shape)
    pixels = np.round(255 * np.clip(linear, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    return flat_of(pixels), truth


def _patch(paint: Paint, draw: np.random.Generator) -> tuple[np.ndarray, Truth | None]:
    if paint.patch is None:
        return np.zeros((ROWS, COLUMNS)), None
    u, v, length, height, slant = paint.patch
    u, v = u + paint.wander * draw.normal(), v + paint.wander * draw.normal()
    length, height = length * np.exp(0.08 * draw.normal()), height * np.exp(0.08 * draw.normal())
    ragged = 0.10 * _smooth(draw, 0.03, 0.06)
    radius = np.hypot((U - u) / length, (V - v - slant * (U - u)) / height) + ragged
    inside = (radius < 1).astype(float)
    along, up = inside.sum(axis=0), inside.sum(axis=1)
    total = inside.sum()
    low_u, high_u = np.interp((0.05, 0.95), np.cumsum(along) / total, (np.arange(COLUMNS) + 1) / COLUMNS)
    low_v, high_v = np.interp((0.05, 0.95), np.cumsum(up) / total, (np.arange(ROWS) + 1) / ROWS)
    centre = float(along @ U[0] / total), float(up @ V[:, 0] / total)
    return inside, Truth(centre, (low_u, high_u), (low_v, high_v), float(inside.mean()))


def _smooth(draw: np.random.Generator, length: float, height: float) -> np.ndarray:
    """Smooth noise of unit spread; length and height: its grain as shares of the flank."""
    field = cv2.GaussianBlur(
        draw.normal(size=(ROWS, COLUMNS)), (0, 0), sigmaX=length * COLUMNS / 2, sigmaY=height * ROWS / 2
    )
    return np.asarray((field - field.mean()) / field.std())
