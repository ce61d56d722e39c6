"""Train the finder's network on rendered lessons.

    python -m calibration.finder.train --lessons DIR --out DIR [--minutes 8] [--device cuda]

Writes finder.pt (weights, moving average) and train.json (the run's record). Runs on a CPU, slowly.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor

from calibration.finder.augment import occlude, relight, targets, warp
from calibration.finder.lessons import load_lessons
from calibration.finder.network import FlankNetwork


def loss_of(answer: Tensor, truth: dict[str, Tensor]) -> tuple[Tensor, dict[str, float]]:
    """Weighted sum of the losses and each one's value.

    Masks: cross-entropy and overlap (Dice). u, v: Laplace likelihood with the network's own spread.
    """
    answer = answer.float()
    masks, inside = truth["masks"], truth["inside"]
    entropy = F.binary_cross_entropy_with_logits(answer[:, :5], masks, reduction="none")
    on_gear = masks[:, :2].sum(1) > 0
    entropy[:, 2:4] = entropy[:, 2:4] * (0.2 + 2.0 * on_gear.unsqueeze(1))
    mask_loss = entropy.mean(dim=(0, 2, 3)).sum()
    chance = torch.sigmoid(answer[:, :2])
    dice = 1 - (2 * (chance * masks[:, :2]).sum((2, 3)) + 30) / ((chance + masks[:, :2]).sum((2, 3)) + 30)
    weight = inside.float()
    count = weight.sum().clamp(min=1)
    log_spread = answer[:, 7].clamp(-4.5, 0)
    error = (answer[:, 5:7] - truth["uv"]).abs()
    likelihood = error.sum(1) / log_spread.exp() + 2 * log_spread
    uv_loss = (likelihood * weight).sum() / count
    middle = F.smooth_l1_loss(answer[:, 8:10], truth["to_middle"], reduction="none", beta=0.1).sum(1)
    middle_loss = (middle * weight).sum() / count
    parts = {
        "mask": mask_loss.detach(),
        "dice": dice.mean().detach(),
        "u": (error[:, 0] * weight).sum().detach() / count,
        "v": (error[:, 1] * weight).sum().detach() / count,
        "middle": middle_loss.detach(),
    }
    total = 4 * mask_loss + dice.mean() + 0.35 * uv_loss + 1.5 * middle_loss
    return total, parts


def batch_of(
    pictures: Tensor, labels: Tensor, index: Tensor, strength: float, device: torch.device
) -> tuple[Tensor, dict[str, Tensor]]:
    """A varied batch on the device."""
    x = pictures[index].to(device).permute(0, 3, 1, 2).float() / 255
    y = labels[index].to(device).permute(0, 3, 1, 2).float()
    if strength > 0:
        x, y = warp(x, y, strength)
        x, y = occlude(x, y)
        x = relight(x)
    return x, targets(y)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lessons", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--minutes", type=float, default=8.0)
    parser.add_argument("--batch", type=int, default=32)
    parser.add_argument("--rate", type=float, default=2.5e-3)
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="weights to start from")
    args = parser.parse_args()
    torch.manual_seed(args.seed)
    device = torch.device(args.device)
    began = time.monotonic()
    pictures_np, labels_np, records = load_lessons(args.lessons, threads=16)
    # Hold out whole scenes, not single views.
    scenes = np.array([hash_scene(r) for r in records])
    held = scenes % 25 == 0
    keep_on = device if device.type == "cuda" else torch.device("cpu")
    pictures, labels = torch.from_numpy(pictures_np).to(keep_on), torch.from_numpy(labels_np).to(keep_on)
    learn = torch.from_numpy(np.flatnonzero(~held)).to(keep_on)
    check = torch.from_numpy(np.flatnonzero(held)).to(keep_on)
    print(
        f"{len(learn)} lessons to learn, {len(check)} held out, {time.monotonic() - began:.0f} s", flush=True
    )

    network = FlankNetwork().to(device, memory_format=torch.channels_last)
    if args.start:
        network.load_state_dict(torch.load(args.start, map_location=device))
    average = torch.optim.swa_utils.AveragedModel(
        network, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True
    )
    optimiser = torch.optim.AdamW(network.parameters(), lr=args.rate, weight_decay=0.02)
    length, step, log = args.minutes * 60, 0, []
    began_training = time.monotonic()
    while (elapsed := time.monotonic() - began_training) < length:
        part = elapsed / length
        rate = args.rate * min(1.0, step / 300 + 0.01) * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
        for group in optimiser.param_groups:
            group["lr"] = rate
        strength = 1.0 if part < 0.85 else 0.8
        index = learn[torch.randint(len(learn), (args.batch,), device=keep_on)]
        x, truth = batch_of(pictures, labels, index, strength, device)
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=device.type == "cuda"):
            answer = network(x.contiguous(memory_format=torch.channels_last))
        loss, parts = loss_of(answer, truth)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        average.update_parameters(network)
        step += 1
        if step % 200 == 0:
            row = {"step": step, "part": round(part, 3), "loss": loss.item()}
            row |= {name: round(float(value), 4) for name, value in parts.items()}
            log.append(row)
            print(row, flush=True)
    best = average.module.eval()
    sums: dict[str, list[float]] = {}
    with torch.no_grad():
        for start in range(0, len(check), args.batch):
            x, truth = batch_of(pictures, labels, check[start : start + args.batch], 0.0, device)
            _, parts = loss_of(best(x.contiguous(memory_format=torch.channels_last)), truth)
            for name, value in parts.items():
                sums.setdefault(name, []).append(float(value))
    held_out = {name: round(float(np.mean(values)), 4) for name, values in sums.items()}
    print("held out:", held_out, flush=True)
    args.out.mkdir(parents=True, exist_ok=True)
    torch.save({k: v.cpu() for k, v in best.state_dict().items()}, args.out / "finder.pt")
    record = {"lessons": len(learn), "held_out_lessons": len(check), "steps": step, "batch": args.batch,
              "rate": args.rate, "minutes": args.minutes, "seed": args.seed, "held_out": held_out,
              "log": log[:: max(1, len(log) // 40)]}  # fmt: skip
    (args.out / "train.json").write_text(json.dumps(record, indent=1))
    return 0


def hash_scene(record: dict) -> int:
    """A number that all views of one scene share."""
    return int(record["scene"])


if __name__ == "__main__":
    raise SystemExit(main())
