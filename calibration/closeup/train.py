"""Train the close-up network on rendered lessons.

    python -m calibration.closeup.train --lessons DIR --out DIR [--minutes 9] [--device cuda]

Each step takes some pictures, relights them, flattens up to eight of each one's teeth by a map that is
a little wrong, and asks where on the flank each pixel truly lies and where the contact patch is.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from torch import Tensor

from calibration.closeup.network import COLUMNS, FIELD, ROWS, SHIFT, CloseUpNetwork
from calibration.finder.augment import relight
from calibration.finder.lessons import load_lessons, of_each
from calibration.finder.loop import Batch, held_out, learn, options, save
from contactread.flank.flank import FlankMap

TEETH, NU, NV = 8, 4, 3
LEAST_PIXELS = 250
LEAST_LENGTH = 75.0  # pixels from toe to heel; smaller flanks teach nothing about edges


def tooth_maps(label: NDArray[np.uint8]) -> NDArray[np.float32]:
    """One row for each flank with enough pixels: number, painted, 12 coefficients of x, 12 of y.

    number = 2 * tooth number + (0 convex, 1 concave), as in calibration.finder.augment.targets.
    """
    kind = label[..., 0] & 3
    ys, xs = np.nonzero(kind)
    number = label[ys, xs, 1].astype(np.int64) * 2 + kind[ys, xs] - 1
    rows = []
    for value in np.unique(number):
        mine = np.flatnonzero(number == value)
        if mine.size < LEAST_PIXELS:
            continue
        mine = mine[:: max(1, mine.size // 600)]
        x, y = xs[mine], ys[mine]
        u, v = label[y, x, 2] / 255.0, label[y, x, 3] / 255.0
        if np.ptp(u) < 0.6 or np.ptp(v) < 0.6:
            continue
        basis = FlankMap.basis(u, v, NU, NV)
        stiff = np.diag([0, 0, 0.5, 0, 0, 2, 0.5, 2, 8, 2, 8, 20.0])
        place = np.stack((x, y), 1).astype(np.float64)
        fit = np.linalg.solve(basis.T @ basis + stiff, basis.T @ place)
        if np.sqrt(np.mean((basis @ fit - place) ** 2)) > 2.5:
            continue
        if 2 * np.hypot(*fit[NV]) < LEAST_LENGTH:
            continue
        painted = float((label[y, x, 0] & 4).any())
        rows.append(np.concatenate(([value, painted], fit[:, 0], fit[:, 1])))
    return np.array(rows, np.float32).reshape(-1, 2 + 2 * NU * NV)


def flat_grid(device: torch.device) -> tuple[Tensor, Tensor, Tensor]:
    """u and v of the flat's pixels, (ROWS, COLUMNS) each, and the map's basis there, (pixels, 12)."""
    (u0, u1), (v0, v1) = FIELD
    u = u0 + (np.arange(COLUMNS) + 0.5) / COLUMNS * (u1 - u0)
    v = v0 + (np.arange(ROWS) + 0.5) / ROWS * (v1 - v0)
    uu, vv = np.meshgrid(u, v)
    basis = FlankMap.basis(uu.ravel(), vv.ravel(), NU, NV)
    return tuple(torch.from_numpy(a.astype(np.float32)).to(device) for a in (uu, vv, basis))


def disturb(coefficients: Tensor, amount: float) -> Tensor:
    """Maps made a little wrong: (n, 2, 12), errors as fractions of length and of height."""
    n = coefficients.shape[0]
    device = coefficients.device
    along = coefficients[:, :, NV]  # T1(u): half the length vector
    across = coefficients[:, :, 1]  # T1(v): half the height vector
    level = torch.rand(n, 1, 1, device=device) * amount
    size = torch.tensor([1, 0.9, 0.25, 0.9, 0.6, 0.1, 0.4, 0.2, 0.05, 0.15, 0.08, 0.03], device=device)
    shake = torch.randn(n, 2, 12, device=device) * size * level
    # First row acts along the length (fractions of it), second across the height.
    return coefficients + 2 * (
        along.unsqueeze(2) * shake[:, :1] * 0.03 + across.unsqueeze(2) * shake[:, 1:] * 0.10
    )


class Lessons:
    """Pictures, labels and tooth maps, and batches of flats made from them."""

    def __init__(self, folder: Path, device: torch.device) -> None:
        pictures, labels, records = load_lessons(folder, threads=16)
        maps = of_each(labels, tooth_maps)
        keep = [i for i, m in enumerate(maps) if len(m) >= 2]
        self.scene = np.array([records[i]["scene_number"] for i in keep])
        self.maps = [maps[i] for i in keep]
        self.pictures = torch.from_numpy(pictures[keep]).to(device)
        self.labels = torch.from_numpy(labels[keep]).to(device)
        self.device = device
        self.u, self.v, self.basis = flat_grid(device)

    def teeth_of(self, picture: int, rng: np.random.Generator) -> NDArray[np.float32]:
        """Rows of `tooth_maps` of one kind of flank: mostly the kind with more painted teeth."""
        maps = self.maps[picture]
        kind = maps[:, 0].astype(int) % 2
        score = [float((maps[kind == k, 1] + 0.2).sum()) for k in (0, 1)]
        want = int(score[1] > score[0]) if rng.random() < 0.85 else int(rng.integers(2))
        if score[want] == 0:
            want = 1 - want
        return maps[kind == want][rng.permutation(np.count_nonzero(kind == want))[:TEETH]]

    def batch(
        self, chosen: NDArray[np.int64], amount: float, vary: bool, rng: np.random.Generator
    ) -> tuple[Tensor, dict[str, Tensor]]:
        """Flats and truth; the teeth of all chosen pictures one after another.

        amount: how wrong the maps may be, see `disturb`. vary: relight the pictures.
        """
        index = torch.from_numpy(chosen).to(self.device)
        pictures = self.pictures[index].permute(0, 3, 1, 2).float() / 255
        if vary:
            pictures = relight(pictures)
        labels = self.labels[index].permute(0, 3, 1, 2).float()
        rows = [self.teeth_of(int(i), rng) for i in chosen]
        owner = torch.from_numpy(np.repeat(np.arange(len(rows)), [len(r) for r in rows])).to(self.device)
        table = torch.from_numpy(np.concatenate(rows)).to(self.device)
        maps = disturb(table[:, 2:].reshape(-1, 2, NU * NV), amount)
        xy = torch.einsum("pk,nck->npc", self.basis, maps)
        h, w = pictures.shape[2:]
        grid = torch.stack(((xy[..., 0] + 0.5) / w, (xy[..., 1] + 0.5) / h), -1) * 2 - 1
        grid = grid.reshape(-1, ROWS, COLUMNS, 2)
        flats = F.grid_sample(pictures[owner], grid, mode="bilinear", align_corners=False)
        truth = F.grid_sample(labels[owner], grid, mode="nearest", align_corners=False)
        framed = (grid.abs() <= 1).all(-1).float()
        flags = truth[:, 0].round().int()
        kind = flags & 3
        number = torch.where(kind > 0, truth[:, 1].round().int() * 2 + kind - 1, -1)
        visible = (number == table[:, 0].int().view(-1, 1, 1)).float()
        painted = table[:, 1]
        # The mean of the painted teeth, over the pixels that have one.
        share = framed * torch.where(painted > 0, 1.0, 0.02).view(-1, 1, 1)
        count = torch.zeros(len(rows), ROWS, COLUMNS, device=self.device).index_add_(0, owner, share)
        total = torch.zeros(len(rows), 3, ROWS, COLUMNS, device=self.device)
        total.index_add_(0, owner, flats * share.unsqueeze(1))
        mean = (total / count.clamp(min=1e-3).unsqueeze(1))[owner]
        place = torch.stack((self.u, self.v)).expand(len(flats), -1, -1, -1)
        inputs = torch.cat((flats, mean, place, framed.unsqueeze(1)), 1)
        shift = torch.stack((truth[:, 2] / 255 - self.u, truth[:, 3] / 255 - self.v), 1) / SHIFT
        return inputs, {
            "visible": visible,
            "painted": painted.view(-1, 1, 1).expand_as(visible),
            "contact": ((flags & 8) > 0).float() * visible,
            "shift": shift,
        }


def loss_of(answer: Tensor, truth: dict[str, Tensor]) -> tuple[Tensor, dict[str, Tensor]]:
    answer = answer.float()
    visible = truth["visible"]
    seen = visible.sum().clamp(min=1)

    def entropy(channel: int, name: str) -> Tensor:
        return F.binary_cross_entropy_with_logits(answer[:, channel], truth[name], reduction="none")

    chance = torch.sigmoid(answer[:, 2]) * visible
    overlap = 1 - (2 * (chance * truth["contact"]).sum((1, 2)) + 20) / (
        (chance + truth["contact"]).sum((1, 2)) + 20
    )
    parts = {
        "visible": entropy(0, "visible").mean(),
        "painted": (entropy(1, "painted") * visible).sum() / seen,
        "contact": (entropy(2, "contact") * visible).sum() / seen,
        "overlap": overlap.mean(),
        "du": ((answer[:, 3] - truth["shift"][:, 0]).abs() * visible).sum() / seen,
        "dv": ((answer[:, 4] - truth["shift"][:, 1]).abs() * visible).sum() / seen,
    }
    total = (
        parts["visible"] + 0.5 * parts["painted"] + 2 * parts["contact"] + 0.5 * parts["overlap"]
        + 3 * parts["du"] + 2 * parts["dv"]
    )  # fmt: skip
    return total, parts


def main() -> int:
    parser = options(__doc__, rate=2.5e-3)
    parser.add_argument("--pictures", type=int, default=16, help="pictures in a step")
    args = parser.parse_args()
    torch.manual_seed(args.seed)
    rng = np.random.default_rng(args.seed)
    began = time.monotonic()
    lessons = Lessons(args.lessons, torch.device(args.device))
    held = np.flatnonzero(lessons.scene % 25 == 0)
    chosen = np.flatnonzero(lessons.scene % 25 != 0)
    count = min(args.pictures, len(chosen))
    print(f"{len(chosen)} pictures to learn, {len(held)} held out", flush=True)

    def batch(part: float) -> Batch:
        return lessons.batch(rng.choice(chosen, count, replace=False), 1.0, True, rng)

    network, record = learn(CloseUpNetwork(), batch, loss_of, args, began)
    starts = range(0, len(held), args.pictures)
    checks = (lessons.batch(held[start : start + args.pictures], 0.5, False, rng) for start in starts)
    figures = held_out(network, checks, loss_of)
    counts = {"lessons": len(chosen), "held_out_lessons": len(held), "held_out": figures}
    save(network, counts | record, args.out, "closeup")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
