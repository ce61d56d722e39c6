"""Train the finder's network on rendered lessons.

    python -m calibration.finder.train --lessons DIR --out DIR [--minutes 9] [--device cuda]

The first part of the time goes to small crops in large batches, where the network learns which way is up
on a tooth; the rest to whole pictures. Writes finder.pt (weights, moving average) and finder.json (the
run's record). Runs on a CPU, slowly.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from torch import Tensor, nn

from calibration.finder.augment import occlude, relight, shade, targets, warp
from calibration.finder.known import take_over
from calibration.finder.lessons import load_lessons, of_each
from calibration.finder.loop import Batch, held_out, learn, options, save
from calibration.finder.network import INPUT_HEIGHT, INPUT_WIDTH, FlankNetwork

CROP, CROP_BATCH, CROP_PART = (256, 320), 64, 0.6
WHOLE_BATCH = 24


def flank_length(label: NDArray[np.uint8]) -> float:
    """Median straight length of the flanks in a label, pixels; 150 where there are none."""
    label = label[::3, ::3]
    kind = label[..., 0] & 3
    ys, xs = np.nonzero(kind)
    number = label[ys, xs, 1].astype(np.int64) * 2 + kind[ys, xs]
    u = label[ys, xs, 2]
    lengths = []
    for value in np.unique(number):
        mine = number == value
        toe, heel = mine & (u < 64), mine & (u > 191)
        if toe.sum() < 5 or heel.sum() < 5:
            continue
        lengths.append(4 * math.hypot(xs[heel].mean() - xs[toe].mean(), ys[heel].mean() - ys[toe].mean()))
    return float(np.median(lengths)) if lengths else 150.0


def painted_spots(label: NDArray[np.uint8]) -> NDArray[np.float32]:
    """64 pixels (x, y) on painted flanks; on any flanks where few are painted; anywhere where none are."""
    flags = label[::2, ::2, 0]
    for wanted in (flags & 4, flags & 3, np.ones_like(flags)):
        ys, xs = np.nonzero(wanted)
        if len(xs) >= 60:
            break
    pick = np.random.default_rng(len(xs)).integers(len(xs), size=64)
    return 2 * np.stack((xs[pick], ys[pick]), 1).astype(np.float32)


@dataclass
class Lessons:
    """Everything a batch is made from, on one device."""

    pictures: Tensor  # uint8 (n, h, w, 3)
    labels: Tensor  # uint8 (n, h, w, 4)
    length: Tensor  # (n,) pixels
    spots: Tensor  # (n, 64, 2), see painted_spots

    @classmethod
    def of(cls, pictures: NDArray[np.uint8], labels: NDArray[np.uint8], device: torch.device) -> Lessons:
        length = np.array(of_each(labels, flank_length), np.float32)
        spots = np.stack(of_each(labels, painted_spots))
        return cls(*(torch.from_numpy(a).to(device) for a in (pictures, labels, length, spots)))

    def batch(self, index: Tensor, size: tuple[int, int] | None) -> tuple[Tensor, dict[str, Tensor]]:
        """A varied batch of crops of that size; with None, the lessons as they are."""
        x = self.pictures[index].permute(0, 3, 1, 2).float() / 255
        y = self.labels[index].permute(0, 3, 1, 2).float()
        if size is not None:
            spot = torch.randint(64, (len(index),), device=index.device)
            centre = self.spots[index, spot]
            x, y = warp(x, y, self.length[index], centre, size)
            x, y = occlude(x, y)
            x = relight(shade(x, y))
        return x, targets(y)


def loss_of(answer: Tensor, truth: dict[str, Tensor]) -> tuple[Tensor, dict[str, Tensor]]:
    """Weighted sum of the losses and each one's value.

    Masks: cross-entropy and overlap (Dice). u, v: Laplace likelihood with the network's own spread. Whether a
    tooth was rolled counts where it is painted.
    """
    answer = answer.float()
    masks, inside = truth["masks"][:, :5], truth["inside"]
    painted, unrolled = truth["masks"][:, 2], truth["masks"][:, 5]
    entropy = F.binary_cross_entropy_with_logits(answer[:, :5], masks, reduction="none")
    doubt = F.binary_cross_entropy_with_logits(answer[:, 10], unrolled.clamp(0, 1), reduction="none")
    unrolled_loss = (doubt * painted).sum() / painted.sum().clamp(min=1)
    on_gear = (masks[:, :2].sum(1, keepdim=True) > 0).float()
    weights = torch.cat((torch.ones_like(masks[:, :2]), 0.2 + 1.5 * on_gear.expand(-1, 2, -1, -1),
                         0.5 * torch.ones_like(on_gear)), 1)  # fmt: skip
    mask_loss = (entropy * weights).mean(dim=(0, 2, 3)).sum()
    chance = torch.sigmoid(answer[:, :2])
    both = (chance * masks[:, :2]).sum((2, 3))
    dice = 1 - (2 * both + 30) / ((chance + masks[:, :2]).sum((2, 3)) + 30)
    weight = inside.float()
    count = weight.sum().clamp(min=1)
    log_spread = answer[:, 7].clamp(-4.5, 0)
    error = (answer[:, 5:7] - truth["uv"]).abs()
    likelihood = error.sum(1) / log_spread.exp() + 2 * log_spread
    uv_loss = (likelihood * weight).sum() / count + 6 * (error.sum(1) * weight).sum() / count
    middle = F.smooth_l1_loss(answer[:, 8:10], truth["to_middle"], reduction="none", beta=0.1).sum(1)
    middle_loss = (middle * weight).sum() / count
    parts = {
        "mask": mask_loss,
        "dice": dice.mean(),
        "u": (error[:, 0] * weight).sum() / count,
        "v": (error[:, 1] * weight).sum() / count,
        "middle": middle_loss,
        "unrolled": unrolled_loss,
    }
    total = 3 * mask_loss + dice.mean() + 0.3 * uv_loss + 1.5 * middle_loss + 1.2 * unrolled_loss
    return total, parts


def main() -> int:
    args = options(__doc__, rate=3e-3).parse_args()
    began = time.monotonic()
    torch.manual_seed(args.seed + (int(args.join[1]) if args.join else 0))
    device = torch.device(args.device)
    pictures, labels, records = load_lessons(args.lessons, threads=16)
    # Hold out whole scenes, not single views.
    held = np.array([r["scene_number"] % 25 == 0 for r in records])
    lessons = Lessons.of(pictures, labels, device)
    chosen = torch.from_numpy(np.flatnonzero(~held)).to(device)
    check = torch.from_numpy(np.flatnonzero(held)).to(device)
    taken = time.monotonic() - began
    print(f"{len(chosen)} lessons to learn, {len(check)} held out, {taken:.0f} s", flush=True)

    def batch(count: int, size: tuple[int, int]) -> Batch:
        return lessons.batch(chosen[torch.randint(len(chosen), (count,), device=device)], size)

    phases = (
        (CROP_PART, lambda: batch(CROP_BATCH, CROP)),
        (1.1, lambda: batch(WHOLE_BATCH, (INPUT_HEIGHT, INPUT_WIDTH))),
    )
    network: nn.Module = FlankNetwork()
    if args.known:
        some = check[torch.arange(min(WHOLE_BATCH, len(check)), device=device)]
        take_over(network.to(device), args.known, lessons.batch(some, None)[0])
    network, record = learn(network, phases, loss_of, args, began)
    if args.join and int(args.join[1]):
        return 0
    checks = (lessons.batch(part, None) for part in check.split(WHOLE_BATCH))
    figures = held_out(network, checks, loss_of)
    counts = {"lessons": len(chosen), "held_out_lessons": len(check), "held_out": figures}
    save(network, counts | record, args.out, "finder")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
