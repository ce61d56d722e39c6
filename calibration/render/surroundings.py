"""What stands round the gear, solids and textures together, drawn at random. mm, gear frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.render import workshop_solids as solids
from calibration.render.compound import Compound
from calibration.render.gear_shape import RingGearShape
from calibration.render.housing import Mouth, open_housing
from calibration.render.patches import Patch, mesh_of, nothing, quad, rotation_between, tube
from calibration.render.steel import Finish
from calibration.render.textures import (
    casting,
    cloth_or_plastic,
    iron,
    rusty_seat,
    scenery,
    skin,
    splashed,
    swatches,
)

Array = NDArray[np.float64]
KINDS = {"axle": 0.27, "bench": 0.18, "stand": 0.14, "hand": 0.05, "mouth": 0.36}


@dataclass(frozen=True, eq=False)
class Thing:
    """One shape of the scene's fixed list: its triangles and textures."""

    mesh: Patch
    finish: Finish


@dataclass(frozen=True, eq=False)
class Surroundings:
    """case: what turns with the gear; housing; floor and backdrop; soft (rags, fingers); clutter; flange and
    trim of an open housing. up: towards the ceiling. kind: axle, bench, stand, hand, or mouth: a housing with
    its cover off, whose opening `mouth` is."""

    kind: str
    case: Thing
    housing: Thing
    backdrop: Thing
    soft: Thing
    clutter: Thing
    flange: Thing
    trim: Thing
    up: Array
    mouth: Mouth | None = None

    def things(self) -> tuple[Thing, ...]:
        """In the order of the scene's shapes after the gear's."""
        return self.case, self.housing, self.backdrop, self.soft, self.clutter, self.flange, self.trim


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
    compound: Compound | None = None,
    sober: bool = False,
) -> Surroundings:
    """Surroundings for a gear whose photographed teeth lie about `aim_angle` (rad).

    gear_there: whether the gear is in the picture; if not, clutter takes its place. kind: of `Surroundings`,
    or any. compound: what may have been splashed about. sober: castings, floor and walls
    as they usually are.
    """
    drawn = str(rng.choice(list(KINDS), p=list(KINDS.values())))
    kind = kind or drawn
    outer = shape.diameter / 2
    (toe_z, heel_z) = shape.section(np.array([0.0, 1.0]), np.zeros(2))[1]
    back = min(toe_z, heel_z) - shape.web
    up = np.array([0, 0, 1.0])
    soft: list[Patch] = []
    loose: list[Patch] = []
    case, housing, flange, trim, mouth = nothing(), nothing(), nothing(), nothing(), None
    if kind != "bench":
        up = np.array([*rng.standard_normal(2), rng.normal(0, 0.4)])
        up /= np.linalg.norm(up)
    if kind == "mouth":
        made = open_housing(rng, shape, aim_angle)
        case, housing, flange, trim, mouth = made.case, made.housing, made.flange, made.trim, made.mouth
        lying = float(rng.normal(0, 0.35)) if rng.random() < 0.8 else float(rng.uniform(-1.6, 1.6))
        sign = 1 if rng.random() < 0.5 else -1
        up = np.cos(lying) * sign * mouth.side + np.sin(lying) * mouth.out
    if kind == "axle" or (kind != "mouth" and rng.random() < 0.2):
        case = solids.case(rng, shape)
    if kind == "axle" and rng.random() < 0.8:
        housing = solids.housing(rng, shape)
    floor = back - (0.2 if kind == "bench" else float(rng.uniform(30, 400)))
    backdrop = _backdrop(rng, floor, outer)
    loose += solids.clutter(rng, np.zeros(3), outer * 1.5, floor, int(rng.integers(0, 9)))
    if mouth is not None:  # the gear's axis lies: floor and clutter are below and behind the housing
        below = rotation_between(up)
        drop = -up * float(rng.uniform(1.6, 6)) * outer
        backdrop = _backdrop(rng, 0.0, 2 * outer).moved(below, drop)
        things = solids.clutter(rng, np.zeros(3), outer * 2.5, 0.0, int(rng.integers(0, 9)))
        loose = [part.moved(below, drop) for part in things]
    has_pinion = rng.random() < {"axle": 0.45, "mouth": 0.7}.get(kind, 0.08)
    has_rag = rng.random() < 0.22
    has_cable = rng.random() < 0.2
    has_hand = kind == "hand" or rng.random() < 0.08

    def near(turn: float, reach: float, z: float) -> Array:
        a = aim_angle + turn
        return np.array([np.cos(a) * reach, np.sin(a) * reach, z])

    if has_pinion:
        turn = float(rng.uniform(0.35, 2.5)) * (1 if rng.random() < 0.5 else -1)
        if mouth is not None:
            turn = float(np.arctan2(-mouth.out[1], -mouth.out[0])) - aim_angle
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
    plain = sober or (kind == "mouth" and rng.random() < 0.5)
    bodies = [iron(rng), iron(rng)] if plain else [casting(rng), casting(rng)]
    if compound is not None and rng.random() < 0.5:
        bodies = [splashed(rng, body, compound) for body in bodies]
    return Surroundings(
        kind,
        Thing(case, bodies[0]),
        Thing(housing, bodies[1]),
        Thing(backdrop, scenery(rng, sober)),
        Thing(mesh_of(soft) if soft else nothing(), skin(rng) if has_hand else cloth_or_plastic(rng)),
        Thing(
            mesh_of(loose) if loose else nothing(),
            casting(rng) if rng.random() < 0.6 else cloth_or_plastic(rng),
        ),
        Thing(flange, rusty_seat(rng) if rng.random() < 0.7 else casting(rng)),
        Thing(trim, swatches(rng)),
        up,
        mouth,
    )
