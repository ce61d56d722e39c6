"""Lamps and the far surroundings of one view. Four rectangles of fixed order, and a small dome."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.render.camera import Camera
from calibration.render.noise import cloud
from calibration.render.patches import rotation_between

Array = NDArray[np.float64]
KINDS = ("led", "tubes", "window", "flash")


@dataclass(frozen=True, eq=False)
class Lamp:
    """A rectangle: centre, facing (unit), size (width, height) in mm, spin, radiance (3). power: about the
    irradiance at the aimed place, 0 when dark."""

    centre: Array
    facing: Array
    size: tuple[float, float]
    spin: float
    radiance: Array
    power: float

    def corners(self) -> Array:
        """(4, 3), counter-clockwise seen from the lit side."""
        turn = rotation_between(self.facing, self.spin)
        square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1.0]]) * self.size / 2
        return np.asarray(self.centre + square @ turn[:, :2].T)


@dataclass(frozen=True, eq=False)
class Light:
    """Lamps in the order of KINDS, dark ones too. dome: radiance (32, 64, 3), linear. names: what is lit."""

    lamps: tuple[Lamp, Lamp, Lamp, Lamp]
    dome: NDArray[np.float32]
    names: tuple[str, ...]

    def shares(self) -> list[float]:
        """How often the path tracer should look to each lamp, and at last to the dome."""
        power = np.array([lamp.power for lamp in self.lamps] + [2.0 * float(self.dome.mean())])
        return [float(p) for p in np.where(power > 0, power / power.sum() + 0.08, 1e-3)]


def tone(rng: np.random.Generator, kind: str) -> Array:
    """Colour of a lamp after the phone's white balance: mostly near white, at times a clear cast."""
    warm = {"led": (-0.12, 0.35), "tubes": (-0.15, 0.15), "window": (-0.3, 0.05), "flash": (-0.1, 0.1)}[kind]
    w = float(rng.uniform(*warm))
    return np.array([np.exp(0.6 * w), np.exp(0.05 * w + rng.normal(0, 0.03)), np.exp(-0.9 * w)])


def random_light(
    rng: np.random.Generator,
    camera: Camera,
    aim: Array,
    up: Array,
    glare: bool = False,
    flash: bool = False,
) -> Light:
    """up: towards the ceiling. glare: a lamp is put where the aimed place mirrors it. flash: mostly that."""
    view = camera.origin - aim
    distance = float(np.linalg.norm(view))
    view = view / distance
    names = [k for k in KINDS if rng.random() < {"led": 0.5, "tubes": 0.4, "window": 0.25, "flash": 0.3}[k]]
    overcast = rng.random() < 0.3
    if flash:
        names, overcast = ["flash", *(["led"] if rng.random() < 0.25 else [])], False
    if not names and not overcast:
        names = [str(rng.choice(KINDS))]
    lamps = tuple(_lamp(rng, k, k in names, camera, aim, up, view, glare) for k in KINDS)
    if overcast:
        names.append("overcast")
    level = (
        float(np.exp(rng.uniform(np.log(0.002 if flash else 0.01), np.log(0.08 if flash else 0.25))))
        if not overcast
        else float(rng.uniform(0.3, 1))
    )
    return Light(lamps, _dome(rng, level, up), tuple(names))  # type: ignore[arg-type]


def _lamp(
    rng: np.random.Generator,
    kind: str,
    lit: bool,
    camera: Camera,
    aim: Array,
    up: Array,
    view: Array,
    glare: bool,
) -> Lamp:
    if not lit:
        return Lamp(np.array([0, 0, -8e4]), np.array([0, 0, -1.0]), (1.0, 1.0), 0.0, np.full(3, 1e-4), 0.0)
    wild = rng.standard_normal(3)
    wild /= np.linalg.norm(wild)
    if kind == "flash":
        centre = camera.origin + camera.axes[0] * rng.uniform(-18, 18) + camera.axes[1] * rng.uniform(-18, 5)
        size = (float(rng.uniform(3, 10)),) * 2
        direction, reach = view, float(np.linalg.norm(centre - aim))
        weight = float(rng.uniform(0.3, 1.2))
    else:
        if kind == "led":
            direction = view + float(rng.uniform(0.3, 1.3)) * wild
            reach = float(np.exp(rng.uniform(np.log(120), np.log(900))))
            size = (float(np.exp(rng.uniform(np.log(5), np.log(70)))),) * 2
        elif kind == "tubes":
            direction = up + 0.5 * view + 0.7 * wild
            reach = float(rng.uniform(500, 1800))
            size = (float(rng.uniform(300, 1300)), float(rng.uniform(15, 90)))
        else:
            direction = view + 0.2 * up + 1.0 * wild
            reach = float(rng.uniform(900, 2600))
            size = (float(rng.uniform(500, 1600)), float(rng.uniform(400, 1400)))
        direction = direction / np.linalg.norm(direction)
        if direction @ view < -0.2 or (direction @ view < 0.15 and rng.random() < 0.7):
            direction = direction - 2 * (direction @ view) * view
        if glare and kind != "window":
            direction = view + 0.25 * wild
            direction /= np.linalg.norm(direction)
        centre = aim + direction * reach
        weight = float(np.exp(rng.uniform(np.log(0.3), np.log(1.6))))
    facing = aim - centre
    facing = facing / np.linalg.norm(facing)
    radiance = weight * (4.0 if glare else 1.0) * reach**2 / (size[0] * size[1]) * tone(rng, kind)
    return Lamp(centre, facing, size, float(rng.uniform(0, np.pi)), radiance, weight)


def _dome(rng: np.random.Generator, level: float, up: Array) -> NDArray[np.float32]:
    """Lat-long radiance, 32 x 64; mitsuba's envmap axis is +y, so the gradient follows `up` there."""
    rows, columns = 32, 64
    theta = (np.arange(rows) + 0.5) / rows * np.pi
    phi = (np.arange(columns) + 0.5) / columns * 2 * np.pi
    direction = np.stack(
        np.broadcast_arrays(
            np.sin(phi)[None] * np.sin(theta)[:, None],
            np.cos(theta)[:, None],
            -np.cos(phi)[None] * np.sin(theta)[:, None],
        ),
        -1,
    )
    height = direction @ up
    sky = 0.5 + 0.5 * np.tanh(float(rng.uniform(0, 3)) * height)
    patches = np.exp(0.7 * cloud(rng, (rows, columns), 12.0, 2))
    spots = np.maximum(0, cloud(rng, (rows, columns), 6.0) - 1.2) * float(rng.uniform(0, 6))
    base = level * (0.15 + 0.85 * sky) * (0.4 * patches + spots + 0.3)
    tint = np.exp(rng.normal(0, 0.12, 3))
    other = np.exp(rng.normal(0, 0.15, 3))
    colour = tint + (other - tint) * (0.5 + 0.5 * height)[..., None]
    out = (base[..., None] * colour).astype(np.float32)
    return np.asarray(cv2.GaussianBlur(out, (0, 0), 0.8) + np.float32(1e-4), np.float32)
