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
from torch import Tensor, nn

from calibration.closeup.network import COLUMNS, FIELD, ROWS, SHIFT, CloseUpNetwork, unfolded
from calibration.finder.augment import occlude, relight, shade
from calibration.finder.known import take_over
from calibration.finder.lessons import load_lessons, of_each
from calibration.finder.loop import Batch, held_out, learn, options, save
from contactread.flank.flank import FlankMap

TEETH, NU, NV = 8, 4, 3
LEAST_PIXELS = 160
LEAST_LENGTH = 45.0  # pixels from toe to heel; smaller flanks teach nothing about edges
MOST_TEETH = 12  # of one kind in a picture
WRONG = 0.06  # share of the teeth whose being rolled the finder gets wrong
# How wrong the maps may be: standard deviations of the shift along the length and across the height, as
# shares of them; of each term of the map, as shares of that; and of each tooth alone.
ALONG_ERROR, ACROSS_ERROR, OWN_SHARE = 0.05, 0.18, 0.2
SHAKES = (1, 0.9, 0.25, 0.9, 0.6, 0.1, 0.4, 0.2, 0.05, 0.15, 0.08, 0.03)


def tooth_maps(label: NDArray[np.uint8]) -> NDArray[np.float32]:
    """One row for each flank with enough pixels: number, painted (0, or 1 if rolled, 2 if never), 12
    coefficients of x, 12 of y.

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
        painted = float((label[y, x, 0] & 4).any()) + float((label[y, x, 0] & 32).any())
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


def disturb(coefficients: Tensor, owner: Tensor, pictures: int, sizes: Tensor) -> Tensor:
    """Maps made a little wrong: (n, 2, 12), errors as fractions of length and of height.

    The teeth of one picture are mostly wrong in the same way, as those of one gear put at a wrong place are:
    else the mean of all teeth would betray the truth. owner: (n,) the picture that each belongs to. sizes:
    (12,) the greatest error of each term.
    """
    device = coefficients.device
    along = coefficients[:, :, NV : NV + 1]  # T1(u): half the length vector
    across = coefficients[:, :, 1:2]  # T1(v): half the height vector
    level = torch.rand(pictures, 1, 1, device=device) ** 1.5
    common = torch.randn(pictures, 2, NU * NV, device=device)[owner]
    own = torch.randn(len(coefficients), 2, NU * NV, device=device)
    shake = (common + OWN_SHARE * own) * sizes * level[owner]
    # First row acts along the length (fractions of it), second across the height.
    return coefficients + 2 * (along * shake[:, :1] * ALONG_ERROR + across * shake[:, 1:] * ACROSS_ERROR)


class Lessons:
    """Pictures, labels and tooth maps, and batches of flats made from them.

    maps: (pictures, 2, MOST_TEETH, 26) rows of `tooth_maps` by kind of flank, zero where there are fewer.
    there: (pictures, 2, MOST_TEETH) 1 where a row is. score: (pictures, 2) how much paint a kind shows.
    """

    def __init__(self, folder: Path, device: torch.device) -> None:
        pictures, labels, records = load_lessons(folder, threads=16)
        maps = of_each(labels, tooth_maps)
        keep = [i for i, m in enumerate(maps) if len(m) >= 2]
        self.scene = np.array([records[i]["scene_number"] for i in keep])
        table = np.zeros((len(keep), 2, MOST_TEETH, 2 + 2 * NU * NV), np.float32)
        there = np.zeros(table.shape[:3], np.float32)
        for place, i in enumerate(keep):
            for kind in (0, 1):
                rows = maps[i][maps[i][:, 0].astype(int) % 2 == kind]
                rows = rows[np.argsort(rows[:, 1] == 0, kind="stable")][:MOST_TEETH]  # painted ones first
                table[place, kind, : len(rows)] = rows
                there[place, kind, : len(rows)] = 1
        self.maps = torch.from_numpy(table).to(device)
        self.there = torch.from_numpy(there).to(device)
        self.score = (((self.maps[..., 1] == 1) + 0.6 * (self.maps[..., 1] == 2) + 0.2) * self.there).sum(-1)
        self.pictures = torch.from_numpy(pictures[keep]).to(device)
        self.labels = torch.from_numpy(labels[keep]).to(device)
        self.device = device
        self.shakes = torch.tensor(SHAKES, device=device)
        self.u, self.v, self.basis = flat_grid(device)

    def teeth_of(self, index: Tensor) -> tuple[Tensor, Tensor]:
        """Up to TEETH rows of each picture's maps, (pictures, TEETH, 26), and which of them there are.

        They are of one kind of flank: mostly the kind with more painted teeth.
        """
        score = self.score[index]
        better = (score[:, 1] > score[:, 0]).long()
        either = torch.rand(len(index), device=self.device) < 0.15
        kind = torch.logical_xor(better.bool(), either & (score.amin(1) > 0)).long()
        there = self.there[index, kind]
        order = (there + torch.rand_like(there)).topk(TEETH, dim=1).indices
        rows = self.maps[index, kind].gather(1, order.unsqueeze(2).expand(-1, -1, self.maps.shape[-1]))
        return rows, there.gather(1, order)

    def batch(self, index: Tensor, amount: float, vary: bool) -> tuple[Tensor, dict[str, Tensor]]:
        """Flats and truth; the teeth of all chosen pictures one after another.

        amount: how wrong the maps may be, see `disturb`. vary: relight the pictures, cover parts of them.
        """
        count = len(index)
        pictures = self.pictures[index].permute(0, 3, 1, 2).float() / 255
        labels = self.labels[index].permute(0, 3, 1, 2).float()
        if vary:
            pictures, labels = occlude(pictures, labels)
            pictures = relight(shade(pictures, labels))
        rows, there = self.teeth_of(index)
        table, there = rows.flatten(0, 1), there.flatten()
        owner = torch.arange(count, device=self.device).repeat_interleave(TEETH)
        maps = disturb(table[:, 2:].reshape(-1, 2, NU * NV), owner, count, self.shakes * amount)
        xy = torch.einsum("pk,nck->npc", self.basis, maps)
        h, w = pictures.shape[2:]
        grid = torch.stack(((xy[..., 0] + 0.5) / w, (xy[..., 1] + 0.5) / h), -1) * 2 - 1
        # All flats of a picture are sampled at once, one above another.
        tall = grid.reshape(count, TEETH * ROWS, COLUMNS, 2)

        def flat(planes: Tensor, mode: str) -> Tensor:
            sampled = F.grid_sample(planes, tall, mode=mode, align_corners=False)
            sampled = sampled.reshape(count, planes.shape[1], TEETH, ROWS, COLUMNS)
            return sampled.transpose(1, 2).flatten(0, 1)

        flats, truth = flat(pictures, "bilinear"), flat(labels, "nearest")
        grid = grid.reshape(-1, ROWS, COLUMNS, 2)
        framed = (grid.abs() <= 1).all(-1).float()
        flags = truth[:, 0].round().int()
        kind = flags & 3
        number = (truth[:, 1].round().int() * 2 + kind) * (kind > 0) - 1
        there = there.view(-1, 1, 1)
        visible = (number == table[:, 0].int().view(-1, 1, 1)).float() * there
        painted = (table[:, 1] > 0).float().view(-1, 1, 1)
        unrolled = (table[:, 1] > 1).float().view(-1, 1, 1)
        # The mean of the rolled teeth and their spread, over the pixels that have one. The finder, which says
        # which are rolled, errs at times.
        rolled = painted * (1 - unrolled)
        if vary:
            wrong = (torch.rand_like(rolled) < WRONG).float()
            rolled = (rolled - wrong).abs()
        share = framed * there * (0.02 + 0.98 * rolled)
        shares = share.view(count, TEETH, 1, ROWS, COLUMNS)
        total = (flats.view(count, TEETH, 3, ROWS, COLUMNS) * shares).sum(1)
        weight = shares.sum(1).clamp(min=1e-3)
        mean = (total / weight).repeat_interleave(TEETH, 0)
        off = (flats - mean).view(count, TEETH, 3, ROWS, COLUMNS)
        spread = ((off**2 * shares).sum(1) / weight).sqrt().repeat_interleave(TEETH, 0)
        place = torch.stack((self.u, self.v)).expand(len(flats), -1, -1, -1)
        inputs = torch.cat((flats, mean, place, framed.unsqueeze(1), spread), 1)
        shift = torch.stack((truth[:, 2] / 255 - self.u, truth[:, 3] / 255 - self.v), 1) / SHIFT
        return inputs, {
            "there": there,
            "visible": visible,
            "painted": painted.expand_as(visible),
            "unrolled": unrolled.expand_as(visible),
            "contact": ((flags & 8) > 0).float() * visible,
            "shift": shift,
        }


def loss_of(answer: Tensor, truth: dict[str, Tensor]) -> tuple[Tensor, dict[str, Tensor]]:
    """Weighted sum of the losses and each one's value; a flank's pixels count only where it is visible.

    visible, painted, contact: cross-entropy; contact's overlap (Dice) besides. du, dv: mean absolute error.
    """
    answer = unfolded(answer.float())
    visible, there = truth["visible"], truth["there"]
    seen = visible.sum().clamp(min=1)
    teeth = there.sum().clamp(min=1)

    def entropy(channel: int, name: str) -> Tensor:
        return F.binary_cross_entropy_with_logits(answer[:, channel], truth[name], reduction="none")

    chance = torch.sigmoid(answer[:, 2]) * visible
    overlap = 1 - (2 * (chance * truth["contact"]).sum((1, 2)) + 20) / (
        (chance + truth["contact"]).sum((1, 2)) + 20
    )
    parts = {
        "visible": (entropy(0, "visible") * there).sum() / (teeth * ROWS * COLUMNS),
        "painted": (entropy(1, "painted") * visible).sum() / seen,
        "contact": (entropy(2, "contact") * visible).sum() / seen,
        "unrolled": (entropy(5, "unrolled") * visible * truth["painted"]).sum()
        / (visible * truth["painted"]).sum().clamp(min=1),
        "overlap": (overlap * there.flatten()).sum() / teeth,
        "du": ((answer[:, 3] - truth["shift"][:, 0]).abs() * visible).sum() / seen,
        "dv": ((answer[:, 4] - truth["shift"][:, 1]).abs() * visible).sum() / seen,
    }
    total = (
        parts["visible"] + 0.5 * parts["painted"] + 2 * parts["contact"] + 0.5 * parts["overlap"]
        + 3 * parts["du"] + 2 * parts["dv"] + 0.5 * parts["unrolled"]
    )  # fmt: skip
    return total, parts


def main() -> int:
    parser = options(__doc__, rate=3e-3)
    parser.add_argument("--pictures", type=int, default=16, help="pictures in a step")
    args = parser.parse_args()
    torch.manual_seed(args.seed + (int(args.join[1]) if args.join else 0))
    began = time.monotonic()
    device = torch.device(args.device)
    lessons = Lessons(args.lessons, device)
    held = torch.from_numpy(np.flatnonzero(lessons.scene % 25 == 0)).to(device)
    chosen = torch.from_numpy(np.flatnonzero(lessons.scene % 25 != 0)).to(device)
    print(f"{len(chosen)} pictures to learn, {len(held)} held out", flush=True)

    def batch() -> Batch:
        picked = torch.randint(len(chosen), (args.pictures,), device=device)
        return lessons.batch(chosen[picked], 1.0, True)

    network: nn.Module = CloseUpNetwork()
    if args.known:
        take_over(network.to(device), args.known, batch()[0])
    network, record = learn(network, [(1.1, batch)], loss_of, args, began)
    if args.join and int(args.join[1]):
        return 0
    checks = (lessons.batch(part, 0.5, False) for part in held.split(args.pictures))
    figures = held_out(network, checks, loss_of)
    counts = {"lessons": len(chosen), "held_out_lessons": len(held), "held_out": figures}
    save(network, counts | record, args.out, "closeup")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
