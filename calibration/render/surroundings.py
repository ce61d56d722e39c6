"""What stands round the gear, solids and textures together, drawn at random. mm, gear frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.render import workshop_solids as solids
from calibration.render.gear_shape import RingGearShape
from calibration.render.patches import Patch, mesh_of, nothing, quad, rotation_between, tube
from calibration.render.steel import Finish
from calibration.render.textures import casting, cloth_or_plastic, scenery, skin

Array = NDArray[np.float64]


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
        """In the order of the scene's shapes after the gear's."""
        return self.case, self.housing, self.backdrop, self.soft, self.clutter


def _backdrop(rng: np.random.Generator, floor: float, outer: float) -> Patch:
    """The floor at z = `floor`, and walls and boards some times the gear's radius `outer` away."""
    side = float(rng.uniform(700, 2500))
    corners = np.array(
        [[-side, -side, floor], [side, -side, floor], [side, side, floor], [-side, side, floor]]
    )
    tiles = side / float(rng.uniform(60, 600))
    parts = [quad(corners, (tiles, tiles))]
    for _ in range(int(rng.integers(1, 4))):  # walls and boards
        facing = np.array([*rng.standard_normal(2), rng.normal(0, 0.5)])
        facing /= np.linalg.norm(facing)
        far = -facing * float(rng.uniform(1.8, 7)) * outer
        big = float(rng.uniform(200, 1500))
        board = quad(np.array([[-big, -big, 0], [big, -big, 0], [big, big, 0], [-big, big, 0.0]]), (3.0, 3.0))
        parts.append(board.moved(rotation_between(facing, float(rng.uniform(0, 6))), far))
    return mesh_of(parts)


def random_surroundings(
    rng: np.random.Generator,
    shape: RingGearShape,
    aim_angle: float,
    gear_there: bool = True,
    kind: str | None = None,
) -> Surroundings:
    """Surroundings for a gear whose photographed teeth lie about `aim_angle` (rad).

    gear_there: whether the gear is in the picture; if not, clutter takes its place. kind: of `Surroundings`,
    or any.
    """
    drawn = str(rng.choice(["axle", "bench", "stand", "hand"], p=[0.5, 0.22, 0.2, 0.08]))
    kind = kind or drawn
    outer = shape.diameter / 2
    (toe_z, heel_z) = shape.section(np.array([0.0, 1.0]), np.zeros(2))[1]
    back = min(toe_z, heel_z) - shape.web
    up = np.array([0, 0, 1.0])
    soft: list[Patch] = []
    loose: list[Patch] = []
    case, housing = nothing(), nothing()
    if kind != "bench":
        up = np.array([*rng.standard_normal(2), rng.normal(0, 0.4)])
        up /= np.linalg.norm(up)
    if kind == "axle" or rng.random() < 0.2:
        case = solids.case(rng, shape)
    if kind == "axle" and rng.random() < 0.8:
        housing = solids.housing(rng, shape)
    floor = back - (0.2 if kind == "bench" else float(rng.uniform(30, 400)))
    backdrop = _backdrop(rng, floor, outer)
    loose += solids.clutter(rng, np.zeros(3), outer * 1.5, floor, int(rng.integers(0, 9)))
    has_pinion = rng.random() < (0.45 if kind == "axle" else 0.08)
    has_rag = rng.random() < 0.22
    has_cable = rng.random() < 0.2
    has_hand = kind == "hand" or rng.random() < 0.08

    def near(turn: float, reach: float, z: float) -> Array:
        a = aim_angle + turn
        return np.array([np.cos(a) * reach, np.sin(a) * reach, z])

    if has_pinion:
        turn = float(rng.uniform(0.35, 2.5)) * (1 if rng.random() < 0.5 else -1)
        loose.append(solids.pinion(rng, shape, aim_angle + turn))
    if has_rag:
        turn = float(rng.uniform(0.3, 3)) * (1 if rng.random() < 0.5 else -1)
        place = near(turn, outer * float(rng.uniform(0.8, 1.6)), heel_z + float(rng.uniform(-5, 25)))
        soft.append(solids.rag(rng, place, float(rng.uniform(80, 260))))
    if has_cable:
        start = near(rng.normal(0, 1), outer * 1.8, rng.uniform(-30, 80))
        end = near(rng.normal(0, 1.2), outer * rng.uniform(0.1, 1.4), rng.uniform(0, 60))
        t = np.linspace(0, 1, 24)[:, None]
        path = start + (end - start) * t + rng.normal(0, 35, 3) * np.sin(np.pi * t) + [0, 0, 15]
        loose.append(tube(path, np.full(24, rng.uniform(1.5, 6)), 10))
    if has_hand:
        for i in range(int(rng.integers(1, 5))):
            turn = 0.18 * i + float(rng.choice([-0.7, 0.45])) * float(rng.uniform(0.6, 2))
            tip = near(turn, outer * float(rng.uniform(0.8, 1.02)), heel_z + float(rng.uniform(4, 14)))
            rim = np.array([np.cos(aim_angle), np.sin(aim_angle), 0.0])
            away = rim + rng.normal(0, 0.3, 3) + [0, 0, rng.uniform(-0.2, 0.6)]
            soft.append(solids.finger(rng, tip, away))
    if not gear_there:
        loose += solids.clutter(rng, np.array([0, 0, 0.0]), outer * 0.4, heel_z - 10, 7)
    return Surroundings(
        kind,
        Thing(case, casting(rng)),
        Thing(housing, casting(rng)),
        Thing(backdrop, scenery(rng)),
        Thing(mesh_of(soft) if soft else nothing(), skin(rng) if has_hand else cloth_or_plastic(rng)),
        Thing(
            mesh_of(loose) if loose else nothing(),
            casting(rng) if rng.random() < 0.6 else cloth_or_plastic(rng),
        ),
        up,
    )
