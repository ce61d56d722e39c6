"""What stands round the gear: case, housing, bench, rags, cables, fingers, backdrops. mm, gear frame."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.render.compound import linear
from contactread.render.gear_shape import RingGearShape
from contactread.render.noise import cloud, ramp
from contactread.render.patches import (
    Patch,
    box,
    lathe,
    mesh_of,
    nothing,
    quad,
    rotation_between,
    strip_normals,
    tube,
)
from contactread.render.steel import Finish

Array = NDArray[np.float64]
PHOTOGRAPHS = ("coffee.png", "chelsea.png", "rocket.jpg", "motorcycle_left.png", "grass.png", "gravel.png",
               "brick.png", "hubble_deep_field.jpg", "coins.png", "page.png", "ihc.png",
               "chessboard_RGB.png", "clock_motion.png", "moon.png")  # fmt: skip


@dataclass(frozen=True, eq=False)
class Thing:
    """One shape of the scene's fixed list: its triangles and textures."""

    mesh: Patch
    finish: Finish


@dataclass(frozen=True, eq=False)
class Surroundings:
    """case: what turns with the gear; housing; floor and backdrop; soft (rags, fingers); clutter.
    up: towards the ceiling. kind: axle, bench, stand or hand."""

    kind: str
    case: Thing
    housing: Thing
    backdrop: Thing
    soft: Thing
    clutter: Thing
    up: Array

    def things(self) -> tuple[Thing, ...]:
        return self.case, self.housing, self.backdrop, self.soft, self.clutter


@lru_cache(maxsize=len(PHOTOGRAPHS))
def photograph(name: str) -> NDArray[np.float32] | None:
    """A photograph that scikit-image ships, as linear float, 256 px long side; None where it's absent."""
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
    """Cast iron, aluminium, paint or machined steel, with stains."""
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


def _any_colour(rng: np.random.Generator, vivid: float) -> Array:
    hue = rng.uniform(0, 1, 3)
    value = np.exp(rng.uniform(np.log(0.02), np.log(0.7)))
    return np.asarray(value * (1 - vivid + vivid * hue / hue.max()), np.float64)


def cloth_or_plastic(rng: np.random.Generator, size: int = 256) -> Finish:
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


def scenery(rng: np.random.Generator, size: int = 320) -> Finish:
    """A floor, wall or bench top: procedural, or a photograph."""
    shape = (size, size)
    big, small = cloud(rng, shape, 90, 4, 0.7), cloud(rng, shape, 4, 2)
    kind = rng.random()
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
        colour = _any_colour(rng, float(rng.uniform(0, 0.5))) * np.exp(0.35 * big + 0.12 * small)[..., None]
    metal = float(rng.random() < 0.15) * 0.9
    return Finish(
        np.clip(colour, 0.004, 0.9).astype(np.float32),
        np.full((2, 2, 1), rng.uniform(0.2, 0.95), np.float32),
        np.full((2, 2, 1), metal, np.float32),
        (float(rng.uniform(0, 0.3)) * small[..., None]).astype(np.float32),
    )


def _wobble(rng: np.random.Generator, points: int, segments: int, amount: float) -> Array:
    field = cloud(rng, (points, segments + 1), (segments / 9, 2.0)) * amount
    field[:, -1] = field[:, 0]
    return field.astype(np.float64)


def _bolts(rng: np.random.Generator, radius: float, z: float, count: int, up: float = 1.0) -> Patch:
    size = float(rng.uniform(5, 11))
    tall = float(rng.uniform(4, 10)) * up
    bolt = lathe(np.array([[size * 1.25, z], [size * 1.25, z + 0.25 * tall], [size, z + 0.25 * tall],
                           [size, z + tall], [0, z + tall]]), 6, 1.0)  # fmt: skip
    shift = bolt.moved(np.eye(3), np.array([radius, 0, 0.0]))
    return shift.turned(np.arange(count) * 2 * np.pi / count)


def _case(rng: np.random.Generator, shape: RingGearShape) -> Patch:
    """A differential case or hub through the gear's bore, on the pinion's side and behind."""
    (toe_r, heel_r), (toe_z, heel_z) = shape.section(np.array([0.0, 1.0]), np.zeros(2))
    back = min(toe_z, heel_z) - shape.web
    inner = toe_r * float(rng.uniform(0.55, 0.96))
    steps = int(rng.integers(3, 8))
    top = toe_z + float(rng.uniform(5, 90))
    z = np.sort(rng.uniform(toe_z - 6, top, steps))
    r = inner * np.clip(1 - np.cumsum(rng.uniform(-0.05, 0.2, steps)) * float(rng.uniform(0.2, 1)), 0.2, 1.0)
    profile = [[heel_r * float(rng.uniform(0.8, 1.0)), back - float(rng.uniform(8, 25))]]
    profile += [[profile[0][0], back - 0.3], [inner, back - 0.3], [inner, toe_z - 8]]
    profile += [[a, b] for a, b in zip(r, z, strict=True)] + [[r[-1] * 0.6, z[-1]], [0, z[-1]]]
    count = 72
    wob = _wobble(rng, len(profile), count, float(rng.uniform(0, 1.5)))
    parts = [lathe(np.array(profile), count, 3.0, wobble=wob)]
    if rng.random() < 0.5:
        parts.append(_bolts(rng, 0.5 * (r[-1] * 0.6 + r[-1]), z[-1], int(rng.integers(5, 13))))
    if rng.random() < 0.6:
        parts.append(_bolts(rng, heel_r * 0.86, profile[0][1], int(rng.integers(8, 15)), -1.0))
    return mesh_of(parts)


def _housing(rng: np.random.Generator, shape: RingGearShape) -> Patch:
    """Walls round the gear, a floor behind, caps and ribs."""
    outer = shape.diameter / 2
    gamma = np.radians(shape.pitch_angle)
    heel_z = -shape.outer_cone_distance * np.cos(gamma)
    wall = outer * float(rng.uniform(1.06, 1.7))
    low, high = heel_z - float(rng.uniform(30, 80)), heel_z + float(rng.uniform(-10, 60))
    span = float(rng.uniform(0.6, 2.0)) * np.pi
    profile = np.array([[wall, high], [wall, low], [0.0, low]])
    rim = np.array([[wall + 25, high], [wall, high]])
    turn = rotation_between(np.array([0, 0, 1.0]), float(rng.uniform(0, 6.28)))
    parts = [
        lathe(profile, 64, 4.0, span, _wobble(rng, 3, 64, float(rng.uniform(0, 4)))).moved(turn, np.zeros(3)),
        lathe(rim, 64, 4.0, span).moved(turn, np.zeros(3)),
    ]
    for _ in range(int(rng.integers(0, 4))):  # bearing caps, ribs, brackets
        size = rng.uniform(15, 90, 3)
        angle = float(rng.uniform(0, 6.28))
        place = np.array([np.cos(angle), np.sin(angle), 0]) * outer * float(rng.uniform(1.1, 1.8))
        place[2] = heel_z + float(rng.uniform(-40, 40))
        parts.append(box(size).moved(rotation_between(rng.standard_normal(3)), place))
    if rng.random() < 0.4:
        parts.append(_bolts(rng, wall + 12, high, int(rng.integers(6, 14))))
    return mesh_of(parts)


def _pinion(rng: np.random.Generator, shape: RingGearShape, angle: float) -> Patch:
    """A pinion head and stem that stand over the ring gear at `angle`."""
    teeth = int(rng.integers(8, 15))
    r = shape.diameter / 2 * teeth / shape.teeth * float(rng.uniform(1.1, 1.5))
    long = shape.face_width * float(rng.uniform(1.0, 1.3))
    n, m = 14, 24 * teeth
    t = np.linspace(0, 1, n)[:, None]
    phi = np.linspace(0, 2 * np.pi, m + 1)[None]
    twist = float(rng.uniform(0.6, 1.2)) * (1 if rng.random() < 0.5 else -1)
    wave = np.tanh(2.0 * np.sin(teeth * (phi + twist * t)))
    radius = r * (0.72 + 0.28 * t) * (1 + 0.13 * wave)
    grid = np.stack([radius * np.cos(phi), radius * np.sin(phi), np.broadcast_to(long * t, radius.shape)], -1)
    uv = np.stack(np.broadcast_arrays(phi * 0.5, t), -1)
    head = strip_normals(grid, uv, np.zeros(3))
    outward = (head.normals * (head.points * [1, 1, 0])).sum() > 0
    if not outward:
        head = Patch(head.points, -head.normals, head.uv, head.faces[:, ::-1])
    stem = lathe(np.array([[0.6 * r, -25], [0.6 * r, 0], [r * 0.7, 0]]), 40)
    shaft = lathe(
        np.array([[r, long], [0.8 * r, long + 2], [0.55 * r, long + 6], [0.55 * r, long + 120]]), 40
    )
    whole = mesh_of([head, stem, shaft])
    mean_r = shape.diameter / 2 - shape.face_width / 2
    radial = np.array([np.cos(angle), np.sin(angle), 0.0])
    start = radial * (mean_r - 0.55 * long) + np.array([0, 0, 0.0])
    gamma = np.radians(shape.pitch_angle)
    pitch_z = -(shape.outer_cone_distance - shape.face_width / 2) * np.cos(gamma)
    start[2] = pitch_z + r * float(rng.uniform(0.85, 1.1))
    return whole.moved(rotation_between(radial), start)


def _rag(rng: np.random.Generator, place: Array, size: float) -> Patch:
    n = 26
    height = cloud(rng, (n, n), 7, 2).astype(np.float64) * size * float(rng.uniform(0.04, 0.14))
    x, y = np.meshgrid(np.linspace(-0.5, 0.5, n) * size, np.linspace(-0.5, 0.5, n) * size, indexing="ij")
    grid = np.stack([x, y, height], -1)
    uv = np.stack([x, y], -1) / 80
    sheet = strip_normals(grid, uv, np.array([0, 0, 1.0]))
    tilt = np.array([0, 0, 1.0]) + 0.4 * rng.standard_normal(3)
    return sheet.moved(rotation_between(tilt, float(rng.uniform(0, 6.28))), place)


def _finger(rng: np.random.Generator, tip: Array, toward: Array) -> Patch:
    """A bent, tapered, round-ended tube."""
    toward = toward / np.linalg.norm(toward)
    side = np.cross(toward, rng.standard_normal(3))
    side /= np.linalg.norm(side)
    t = np.linspace(0, 1, 18)[:, None]
    path = tip + toward * 95 * t + side * float(rng.uniform(-30, 30)) * t**2
    thick = float(rng.uniform(6, 11))
    radius = (
        thick
        * (0.8 + 0.3 * t[:, 0])
        * np.sqrt(np.clip(1 - (1 - np.minimum(t[:, 0] / 0.09, 1)) ** 2, 0.01, 1))
    )
    radius *= 1 + 0.05 * np.sin(t[:, 0] * 18)
    return tube(path, radius, 14, 2.0)


def _skin(rng: np.random.Generator) -> Finish:
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


def _clutter(rng: np.random.Generator, centre: Array, spread: float, floor: float, count: int) -> list[Patch]:
    """Nuts, boxes, bottles, rings and discs that stand about."""
    parts = []
    for _ in range(count):
        angle, reach = rng.uniform(0, 6.28), spread * rng.uniform(0.7, 2.2)
        place = centre + np.array([np.cos(angle) * reach, np.sin(angle) * reach, 0])
        kind = rng.integers(4)
        if kind == 0:
            part = box(rng.uniform(10, 110, 3))
        elif kind == 1:
            r, h = float(rng.uniform(8, 45)), float(rng.uniform(10, 150))
            part = lathe(
                np.array([[0, 0], [r, 0], [r, 0.7 * h], [0.4 * r, 0.8 * h], [0.4 * r, h], [0, h]])[::-1], 28
            )
        elif kind == 2:
            r = float(rng.uniform(15, 70))
            part = lathe(np.array([[0.6 * r, 12], [0.6 * r, 0], [r, 0], [r, 12], [0.6 * r, 12.0]])[::-1], 36)
        else:
            part = tube(
                np.cumsum(rng.normal(0, 10, (16, 3)) + rng.normal(0, 12, 3), 0),
                np.full(16, rng.uniform(2, 9)),
                10,
            )
        place[2] = floor + 6
        parts.append(part.moved(rotation_between(rng.standard_normal(3) + np.array([0, 0, 2.0])), place))
    return parts


def random_surroundings(
    rng: np.random.Generator,
    shape: RingGearShape,
    aim_angle: float,
    gear_there: bool = True,
    kind: str | None = None,
) -> Surroundings:
    """Surroundings for a gear whose photographed teeth lie about `aim_angle` (rad)."""
    drawn = str(rng.choice(["axle", "bench", "stand", "hand"], p=[0.5, 0.22, 0.2, 0.08]))
    kind = kind or drawn
    outer = shape.diameter / 2
    (toe_z, heel_z) = shape.section(np.array([0.0, 1.0]), np.zeros(2))[1]
    back = min(toe_z, heel_z) - shape.web
    up = np.array([0, 0, 1.0])
    backdrop: list[Patch] = []
    soft: list[Patch] = []
    clutter: list[Patch] = []
    case, housing = nothing(), nothing()
    if kind != "bench":
        up = np.array([*rng.standard_normal(2), rng.normal(0, 0.4)])
        up /= np.linalg.norm(up)
    if kind == "axle" or rng.random() < 0.2:
        case = _case(rng, shape)
    if kind == "axle" and rng.random() < 0.8:
        housing = _housing(rng, shape)
    floor = back - (0.2 if kind == "bench" else float(rng.uniform(30, 400)))
    side = float(rng.uniform(700, 2500))
    corners = np.array(
        [[-side, -side, floor], [side, -side, floor], [side, side, floor], [-side, side, floor]]
    )
    tiles = side / float(rng.uniform(60, 600))
    backdrop.append(quad(corners, (tiles, tiles)))
    for _ in range(int(rng.integers(1, 4))):  # walls and boards
        facing = np.array([*rng.standard_normal(2), rng.normal(0, 0.5)])
        facing /= np.linalg.norm(facing)
        far = -facing * float(rng.uniform(1.8, 7)) * outer
        big = float(rng.uniform(200, 1500))
        board = quad(np.array([[-big, -big, 0], [big, -big, 0], [big, big, 0], [-big, big, 0.0]]), (3.0, 3.0))
        backdrop.append(board.moved(rotation_between(facing, float(rng.uniform(0, 6))), far))
    clutter += _clutter(rng, np.zeros(3), outer * 1.5, floor, int(rng.integers(0, 9)))
    hider: list[Callable[[], None]] = []
    rim = np.array([np.cos(aim_angle), np.sin(aim_angle), 0.0])

    def near(turn: float, reach: float, z: float) -> Array:
        a = aim_angle + turn
        return np.array([np.cos(a) * reach, np.sin(a) * reach, z])

    def pinion() -> None:
        turn = float(rng.uniform(0.35, 2.5)) * (1 if rng.random() < 0.5 else -1)
        clutter.append(_pinion(rng, shape, aim_angle + turn))

    def rag() -> None:
        turn = float(rng.uniform(0.3, 3)) * (1 if rng.random() < 0.5 else -1)
        place = near(turn, outer * float(rng.uniform(0.8, 1.6)), heel_z + float(rng.uniform(-5, 25)))
        soft.append(_rag(rng, place, float(rng.uniform(80, 260))))

    def cable() -> None:
        start, end = (
            near(rng.normal(0, 1), outer * 1.8, rng.uniform(-30, 80)),
            near(rng.normal(0, 1.2), outer * rng.uniform(0.1, 1.4), rng.uniform(0, 60)),
        )
        t = np.linspace(0, 1, 24)[:, None]
        path = start + (end - start) * t + rng.normal(0, 35, 3) * np.sin(np.pi * t) + [0, 0, 15]
        clutter.append(tube(path, np.full(24, rng.uniform(1.5, 6)), 10))

    def fingers() -> None:
        for i in range(int(rng.integers(1, 5))):
            turn = 0.18 * i + float(rng.choice([-0.7, 0.45])) * float(rng.uniform(0.6, 2))
            tip = near(turn, outer * float(rng.uniform(0.8, 1.02)), heel_z + float(rng.uniform(4, 14)))
            away = rim * 1.0 + rng.normal(0, 0.3, 3) + [0, 0, rng.uniform(-0.2, 0.6)]
            soft.append(_finger(rng, tip, away))

    hider += [pinion] if rng.random() < (0.45 if kind == "axle" else 0.08) else []
    hider += [rag] if rng.random() < 0.22 else []
    hider += [cable] if rng.random() < 0.2 else []
    hand = kind == "hand" or rng.random() < 0.08
    hider += [fingers] if hand else []
    for act in hider:
        act()
    if not gear_there:
        clutter += _clutter(rng, np.array([0, 0, 0.0]), outer * 0.4, heel_z - 10, 7)
    return Surroundings(
        kind,
        Thing(case, casting(rng)),
        Thing(housing, casting(rng)),
        Thing(mesh_of(backdrop), scenery(rng)),
        Thing(mesh_of(soft) if soft else nothing(), _skin(rng) if hand else cloth_or_plastic(rng)),
        Thing(
            mesh_of(clutter) if clutter else nothing(),
            casting(rng) if rng.random() < 0.6 else cloth_or_plastic(rng),
        ),
        up,
    )
