"""What the finder's network sees in a photo, on a coarse grid of cells."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats, Singles
from contactread.axle import FlankName
from contactread.flank.networks import answer, chances
from contactread.photo.shrink import shrink

MODEL = "finder.onnx"
INPUT_HEIGHT, INPUT_WIDTH, STRIDE = 480, 640, 4
COARSEST = 32  # pixels of the network's picture in each of its coarsest cells
VOTE_UNIT = 64.0


@dataclass(frozen=True, eq=False)
class Sight:
    """The network's answer, cell by cell; every array float32 over (rows, columns) of the cell grid.

    convex, concave: chance of being on that flank of a ring-gear tooth. painted: chance of being on a
    tooth that carries compound. contact: chance of lying in the contact patch. unrolled: chance that a
    painted tooth was never rolled. u, v: place on the flank. spread: expected error of u and v. place: pixel
    of the photo at the cell's centre, (rows, columns, 2).
    vote: pixel of the photo where the cell expects the middle of its flank, (rows, columns, 2). cell_px:
    size of a cell in pixels of the photo. grey: the picture that was looked at, uint8, STRIDE pixels for
    each cell.
    """

    convex: Singles
    concave: Singles
    painted: Singles
    contact: Singles
    unrolled: Singles
    u: Singles
    v: Singles
    spread: Singles
    place: Singles
    vote: Singles
    cell_px: float
    grey: NDArray[np.uint8]

    def paint_at(self, places: Floats, kind: FlankName) -> float:
        """Chance of paint at places (points, 2) of the photo, meant over them by the chance of such a flank;
        0 where none of them was looked at.
        """
        origin = self.place[0, 0].astype(float)
        across, down = self.place[0, 1] - origin, self.place[1, 0] - origin
        column, row = np.rint(np.linalg.solve(np.stack([across, down], 1), (places - origin).T)).astype(int)
        rows, columns = self.painted.shape
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        cells = row[inside], column[inside]
        chance = getattr(self, kind)[cells] + 1e-3
        return float((chance * self.painted[cells]).sum() / max(chance.sum(), 1e-9))


def letterbox(pixels: NDArray[np.uint8], share: float = 1.0) -> tuple[NDArray[np.uint8], float, bool]:
    """The network's picture of a photo, the scale used, and whether it was turned.

    It is (rows, columns, 3), 480 x 640 at most: a portrait is turned by a quarter counter-clockwise, and
    black fills up what a long or narrow one leaves of whole blocks of COARSEST. share: of that size.
    """
    height, width = pixels.shape[:2]
    turned = height > width
    long, short = max(height, width), min(height, width)
    scale = share * min(INPUT_WIDTH / long, INPUT_HEIGHT / short)
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    small = shrink(pixels, *size) if scale < 1 else cv2.resize(pixels, size, interpolation=cv2.INTER_LINEAR)
    if turned:
        small = cv2.rotate(small, cv2.ROTATE_90_COUNTERCLOCKWISE)
    rows, columns = (-(-side // COARSEST) * COARSEST for side in small.shape[:2])
    canvas = np.zeros((rows, columns, 3), np.uint8)
    canvas[: small.shape[0], : small.shape[1]] = small
    return canvas, scale, turned


def to_photo(points: Singles, scale: float, turned: bool, width: int) -> Singles:
    """Pixels of the network's picture, (..., 2), as pixels of the photo of that width."""
    x, y = points[..., 0], points[..., 1]
    if turned:
        x, y = round(width * scale) - 1 - y, x
    return np.stack(((x + 0.5) / scale - 0.5, (y + 0.5) / scale - 0.5), -1).astype(np.float32)


class Window(NamedTuple):
    """A part of a photo, in its pixels; the ends don't belong to it."""

    left: int
    top: int
    right: int
    bottom: int


def look(pixels: NDArray[np.uint8], window: Window | None = None, share: float = 1.0) -> Sight:
    """Run the network over a photo, or over a part of it, whose places are then those in the whole photo.

    share: of the usual size at which it looks; half of it takes a quarter of the time and shows teeth that
    are large in the photo well enough.
    """
    left, top, right, bottom = window or (0, 0, pixels.shape[1], pixels.shape[0])
    part = pixels[top:bottom, left:right]
    picture, scale, turned = letterbox(part, share)
    seen = answer(MODEL, np.asarray(cv2.dnn.blobFromImage(picture, 1 / 255), np.float32))
    short, long = (round(side * scale) for side in sorted(part.shape[:2]))
    sight = sight_of(seen[0], scale, turned, part.shape[1], picture[:short, :long])
    if window is None:
        return sight
    corner = np.array([left, top], np.float32)
    return replace(sight, place=sight.place + corner, vote=sight.vote + corner)


def sight_of(seen: Singles, scale: float, turned: bool, width: int, picture: NDArray[np.uint8]) -> Sight:
    """The network's raw output, shape (11, rows, columns), in terms of the photo of that width.

    Its fifth channel, any part of a ring gear, only helps it to learn.

    scale, turned: as `letterbox` gave them with the picture, here without the black beside it.
    """
    rows, columns = seen.shape[1:]
    ys, xs = np.mgrid[:rows, :columns].astype(np.float32) * STRIDE + (STRIDE - 1) / 2
    cells = np.stack((xs, ys), -1)
    votes = cells + VOTE_UNIT * np.moveaxis(seen[8:10], 0, -1)
    return Sight(
        convex=chances(seen[0]),
        concave=chances(seen[1]),
        painted=chances(seen[2]),
        contact=chances(seen[3]),
        unrolled=chances(seen[10]),
        u=seen[5],
        v=seen[6],
        spread=np.exp(np.clip(seen[7], -4.5, 0)),
        place=to_photo(cells, scale, turned, width),
        vote=to_photo(votes, scale, turned, width),
        cell_px=STRIDE / scale,
        grey=np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), np.uint8),
    )
