"""A gear with steel and compound on it: meshes, atlas textures and where each tooth's contact is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.render.compound import (
    BARE,
    FLECKED,
    PAINTED,
    TILES,
    Compound,
    Layer,
    State,
    common_form,
    lay,
)
from calibration.render.gear_shape import RingGearShape, flank_size
from calibration.render.gear_solid import GearMesh, build_gear
from calibration.render.housing import grease
from calibration.render.noise import cloud, ramp
from calibration.render.patch_shape import PatchForm, PatchNumbers, numbers_of
from calibration.render.patches import Patch
from calibration.render.steel import Finish, Steel, finish, pen_marks, thick
from contactread.axle import FlankName

Field = NDArray[np.float32]
FLANKS: tuple[FlankName, FlankName] = ("convex", "concave")


@dataclass(frozen=True, eq=False)
class DressedGear:
    """painted: tooth numbers with compound. states: of each painted tile. tile_of_tooth: atlas tile of each
    tooth. meshes and finishes: by name (convex, concave, rest, body). layers: by flank; None where that flank
    was not painted. grease: what bridges the spaces between unrolled teeth. size: flank length and height in
    mm. tile: rows and columns of a flank tile."""

    gear: GearMesh
    compound: Compound | None
    painted: tuple[int, ...]
    states: tuple[State, ...]
    tile_of_tooth: NDArray[np.int64]
    meshes: dict[str, Patch]
    finishes: dict[str, Finish]
    layers: dict[FlankName, Layer]
    forms: dict[FlankName, PatchForm | None]
    size: tuple[float, float]
    tile: tuple[int, int]
    steel: Steel
    grease: tuple[Patch, Finish]

    def state(self, tooth: int) -> str:
        """What is on a tooth: "wet" (painted, never rolled), "wiped", "print", "flecked" or "bare"."""
        tile = int(self.tile_of_tooth[tooth])
        if tile < PAINTED and tooth in self.painted:
            return self.states[tile]
        return "flecked" if tile < PAINTED + FLECKED else "bare"

    @property
    def unrolled_tiles(self) -> NDArray[np.bool_]:
        """Of each tile, whether it belongs to painted teeth that were never rolled, (TILES,)."""
        return np.array([state == "wet" for state in self.states] + [False] * (TILES - len(self.states)))

    def contact(self, flank: FlankName, tooth: int) -> NDArray[np.bool_] | None:
        """Mask of contact (rows from the root, columns from the toe: `tile`); None on a bare flank."""
        if flank not in self.layers or tooth not in self.painted:
            return None
        rows, start = self.tile[0], int(self.tile_of_tooth[tooth]) * self.tile[0]
        return self.layers[flank].contact[start : start + rows]

    def numbers(self, flank: FlankName, tooth: int) -> PatchNumbers | None:
        """Numbers of that contact; None on a bare flank or where there is no contact."""
        mask = self.contact(flank, tooth)
        return None if mask is None else numbers_of(mask, self.size)


INSET = 0.75  # pixels of a tile's edge that the mapping leaves out, against bleeding


def atlas_v(tile: NDArray[np.int64], v: NDArray[np.float64], rows: int) -> NDArray[np.float64]:
    """Texture y (0..1) of flank height v on a tile of `rows` pixels; tile and v of equal shape."""
    return np.asarray((tile + (INSET + v * (rows - 2 * INSET)) / rows) / TILES)


def flank_v(y: NDArray[np.float64], tile: NDArray[np.int64], rows: int) -> NDArray[np.float64]:
    """Inverse of `atlas_v`."""
    return np.asarray(((y * TILES - tile) * rows - INSET) / (rows - 2 * INSET))


def _on_atlas(patch: Patch, teeth: int, tile_of_tooth: NDArray[np.int64], rows: int) -> Patch:
    tile = np.repeat(tile_of_tooth, len(patch.points) // teeth)
    uv = np.stack([patch.uv[:, 0], atlas_v(tile, patch.uv[:, 1], rows)], -1)
    return Patch(patch.points, patch.normals, uv, patch.faces)


def dress(
    rng: np.random.Generator,
    shape: RingGearShape,
    steel: Steel,
    compound: Compound | None,
    painted_count: int,
    tile_size: tuple[int, int] = (80, 352),
    flanks: tuple[FlankName, ...] = FLANKS,
    regions: dict[FlankName, list[Field]] | None = None,
    states: tuple[State, ...] | None = None,
    flecked_count: int = 0,
) -> DressedGear:
    """Paint `painted_count` teeth in a row about tooth 0 (all teeth where it is at least their number).

    regions: the patch of each painted tile (PAINTED of them) per flank, in place of random ones; see
    `compound.lay`. states: of each painted tile, all rolled if not given; the teeth take them in their order.
    flecked_count: so many teeth to both sides carry flecks.
    """
    gear = build_gear(shape)
    count = min(painted_count, shape.teeth) if compound is not None else 0
    painted = tuple(int(t) for t in sorted((np.arange(count) - count // 2) % shape.teeth))
    order = (np.arange(shape.teeth) + count // 2) % shape.teeth
    rolled: State = "print" if compound is not None and compound.polarity == "printed" else "wiped"
    states = states or (rolled,) * PAINTED
    # few teeth take some of the tiles in their order, so that states come in the same shares
    tile = order * PAINTED // max(count, 1) if count <= PAINTED else order % PAINTED
    beside = np.minimum(order - count, shape.teeth - 1 - order) if count else order + shape.teeth
    flecks = PAINTED + np.clip(beside * FLECKED // max(flecked_count, 1), 0, FLECKED - 1)
    other = np.where(beside < flecked_count, flecks, PAINTED + FLECKED + order % BARE)
    tile_of_tooth = np.where(order < count, tile, other)
    size = flank_size(shape)
    rows, columns = tile_size
    scale = (columns / size[0] + rows / size[1]) / 2
    meshes: dict[str, Patch] = {
        n: _on_atlas(getattr(gear, n), shape.teeth, tile_of_tooth, rows) for n in FLANKS
    }
    layers: dict[FlankName, Layer] = {}
    used: dict[FlankName, PatchForm | None] = {}
    finishes: dict[str, Finish] = {}
    atlas = (rows * TILES, columns)
    v = np.tile((np.arange(rows, dtype=np.float32) + 0.5) / rows, TILES)[:, None].astype(np.float32)
    for name in FLANKS:
        thickness = None
        if compound is not None and name in flanks:
            mine = regions[name] if regions else None
            form = None if mine else common_form(rng)
            layers[name] = lay(rng, compound, form, size, tile_size, mine, states)
            used[name] = form
            thickness = layers[name].thickness
        wear = None
        if steel.finish == "used":
            band = ramp(v, 0.1, 0.3) * (1 - ramp(v, 0.7, 0.95)) * float(rng.uniform(0, 1))
            wear = np.clip(band + 0.25 * cloud(rng, atlas, 3 * scale, 2), 0, 1).astype(np.float32)
        finishes[name] = finish(rng, steel, atlas, scale, thickness, compound, wear)
    rest_tile = (64, 160)
    meshes["rest"] = _on_atlas(gear.rest, shape.teeth, tile_of_tooth, rest_tile[0])
    slop = _slop(rng, compound, rest_tile, states) if compound is not None else None
    finishes["rest"] = finish(rng, steel, (rest_tile[0] * TILES, rest_tile[1]), 4.5, slop, compound)
    meshes["body"] = gear.body
    finishes["body"] = finish(rng, steel, (128, 512), 2.0, None, None)
    if rng.random() < 0.3:
        for part in ("rest", "body"):
            finishes[part] = pen_marks(rng, finishes[part])
    wet = [t for t in painted if states[tile_of_tooth[t]] == "wet"]
    side = -shape.sense  # to the tooth on the other side of the space beside the convex flank
    spaces = [t for t in wet if (t + side) % shape.teeth in wet and rng.random() < 0.6]
    if compound is None or rng.random() < 0.5:
        spaces = []
    lump = thick(rng, compound) if compound is not None else finishes["body"]
    return DressedGear(
        gear,
        compound,
        painted,
        states,
        tile_of_tooth,
        meshes,
        finishes,
        layers,
        used,
        size,
        tile_size,
        steel,
        (grease(rng, shape, spaces), lump),
    )


def _slop(
    rng: np.random.Generator, compound: Compound, tile: tuple[int, int], states: tuple[State, ...]
) -> Field:
    """Compound on root, top land and tooth ends of the painted tiles, mm."""
    rows, columns = tile
    shape = (rows * TILES, columns)
    y = np.tile((np.arange(rows, dtype=np.float32) + 0.5) / rows, TILES)[:, None]
    number = np.repeat(np.arange(TILES), rows)[:, None]
    root, top = compound.slop
    amount = np.where(y < 0.5, root, np.where(y < 0.83, top, 0.5 * top * root)).astype(np.float32)
    field = cloud(rng, shape, (40, 9), 3, 0.7)
    cover = ramp(field, 2.0 - 3.2 * amount, 2.6 - 3.0 * amount) * (number < PAINTED)
    strength = {"wet": 1.2 * compound.wet, "wiped": 1.2, "print": 0.4}
    each = [strength[state] for state in states] + [0.0] * (TILES - PAINTED)
    return np.asarray(
        cover
        * compound.thickness
        * np.repeat(np.array(each), rows)[:, None]
        * np.exp(0.4 * cloud(rng, shape, 8.0)),
        np.float32,
    )
