"""Train the finder's network on rendered lessons.

    python -m calibration.finder.train --lessons DIR --out DIR [--minutes 9] [--device cuda]

The first part of the time goes to small crops in large batches, where the network learns which way is up
on a tooth; the rest to whole pictures. Writes finder.pt (weights, moving average) and train.json (the
run's record). Runs on a CPU, slowly.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from torch import Tensor

from calibration.finder.augment import occlude, relight, targets, warp
from calibration.finder.lessons import load_lessons, of_each
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
    spots: Tensor  # (n, 64, 2) pixels on painted flanks, or anywhere where there are none

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
            x = relight(x)
        return x, targets(y)


def loss_of(answer: Tensor, truth: dict[str, Tensor]) -> tuple[Tensor, dict[str, Tensor]]:
    """Weighted sum of the losses and each one's value.

    Masks: cross-entropy and overlap (Dice). u, v: Laplace likelihood with the network's own spread.
    """
    answer = answer.float()
    masks, inside = truth["masks"], truth["inside"]
    entropy = F.binary_cross_entropy_with_logits(answer[:, :5], masks, reduction="none")
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
    }
    total = 3 * mask_loss + dice.mean() + 0.3 * uv_loss + 1.5 * middle_loss
    return total, parts


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lessons", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--minutes", type=float, default=9.0, help="from the start, loading included")
    parser.add_argument("--rate", type=float, default=3e-3)
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="weights to start from")
    args = parser.parse_args()
    began = time.monotonic()
    torch.manual_seed(args.seed)
    device = torch.device(args.device)
    pictures, labels, records = load_lessons(args.lessons, threads=16)
    # Hold out whole scenes, not single views.
    held = np.array([r["scene_number"] % 25 == 0 for r in records])
    lessons = Lessons.of(pictures, labels, device)
    learn = torch.from_numpy(np.flatnonzero(~held)).to(device)
    check = torch.from_numpy(np.flatnonzero(held)).to(device)
    print(
        f"{len(learn)} lessons to learn, {len(check)} held out, {time.monotonic() - began:.0f} s", flush=True
    )

    network = FlankNetwork().to(device, memory_format=torch.channels_last)
    if args.start:
        network.load_state_dict(torch.load(args.start, map_location=device))
    average = torch.optim.swa_utils.AveragedModel(
        network, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True
    )
    optimiser = torch.optim.AdamW(
        network.parameters(), lr=args.rate, weight_decay=0.02, fused=device.type == "cuda"
    )
    begun = time.monotonic()
    length, step, log = began + args.minutes * 60 - 12 - begun, 0, []
    while (elapsed := time.monotonic() - begun) < length:
        part = elapsed / length
        rate = args.rate * min(1.0, step / 300 + 0.01) * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
        for group in optimiser.param_groups:
            group["lr"] = rate
        small = part < CROP_PART
        count, size = (CROP_BATCH, CROP) if small else (WHOLE_BATCH, (INPUT_HEIGHT, INPUT_WIDTH))
        x, truth = lessons.batch(learn[torch.randint(len(learn), (count,), device=device)], size)
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=device.type == "cuda"):
            answer = network(x.contiguous(memory_format=torch.channels_last))
        loss, parts = loss_of(answer, truth)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        average.update_parameters(network)
        step += 1
        if step % 250 == 0:
            row = {"step": step, "seconds": round(elapsed), "loss": round(loss.item(), 3)}
            row |= {name: round(value.item(), 4) for name, value in parts.items()}
            log.append(row)
            print(row, flush=True)
    best = average.module.eval()
    sums: dict[str, list[float]] = {}
    with torch.no_grad():
        for start in range(0, len(check), WHOLE_BATCH):
            x, truth = lessons.batch(check[start : start + WHOLE_BATCH], None)
            _, parts = loss_of(best(x.contiguous(memory_format=torch.channels_last)), truth)
            for name, value in parts.items():
                sums.setdefault(name, []).append(value.item())
    held_out = {name: round(float(np.mean(values)), 4) for name, values in sums.items()}
    print("held out:", held_out, flush=True)
    args.out.mkdir(parents=True, exist_ok=True)
    torch.save({k: v.cpu() for k, v in best.state_dict().items()}, args.out / "finder.pt")
    record = {"lessons": len(learn), "held_out_lessons": len(check), "steps": step,
              "rate": args.rate, "minutes": args.minutes, "seed": args.seed, "held_out": held_out,
              "log": log[:: max(1, len(log) // 40)]}  # fmt: skip
    (args.out / "finder.json").write_text(json.dumps(record, indent=1))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
