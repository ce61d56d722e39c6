"""What both networks' training shares: the loop against the clock, and the figures on held-out scenes."""

from __future__ import annotations

import argparse
import json
import math
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn

Truth = dict[str, Tensor]
Batch = tuple[Tensor, Truth]
Loss = Callable[[Tensor, Truth], tuple[Tensor, dict[str, Tensor]]]
WARM_UP, REPORT = 300, 250  # steps
SAVING = 12.0  # seconds kept for the figures and the files


def options(description: str | None, rate: float) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--lessons", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--minutes", type=float, default=9.0, help="from the start, loading included")
    parser.add_argument("--rate", type=float, default=rate)
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="weights to start from")
    return parser


def learn(
    network: nn.Module, batch: Callable[[float], Batch], loss_of: Loss, args: argparse.Namespace, began: float
) -> tuple[nn.Module, dict[str, Any]]:
    """Train until args.minutes after `began`; the moving average of the network, and the run's record.

    batch: makes one, told how far the training is (0..1). The rate warms up, then falls along a cosine.
    """
    device = torch.device(args.device)
    network = network.to(device, memory_format=torch.channels_last)  # type: ignore[call-overload]
    if args.start:
        network.load_state_dict(torch.load(args.start, map_location=device))
    average = torch.optim.swa_utils.AveragedModel(
        network, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True
    )
    fused = device.type == "cuda"
    optimiser = torch.optim.AdamW(network.parameters(), lr=args.rate, weight_decay=0.02, fused=fused)
    begun = time.monotonic()
    length, step, log = began + args.minutes * 60 - SAVING - begun, 0, []
    while (elapsed := time.monotonic() - begun) < length:
        part = elapsed / length
        warm = min(1.0, step / WARM_UP + 0.01)
        for group in optimiser.param_groups:
            group["lr"] = args.rate * warm * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
        x, truth = batch(part)
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=fused):
            answer = network(x.contiguous(memory_format=torch.channels_last))
        loss, parts = loss_of(answer, truth)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        average.update_parameters(network)
        step += 1
        if step % REPORT == 0:
            row = {"step": step, "seconds": round(elapsed), "loss": round(loss.item(), 3)}
            row |= {name: round(value.item(), 4) for name, value in parts.items()}
            log.append(row)
            print(row, flush=True)
    record = {"steps": step, "rate": args.rate, "minutes": args.minutes, "seed": args.seed}
    return average.module.eval(), record | {"log": log[:: max(1, len(log) // 40)]}


def held_out(network: nn.Module, batches: Iterable[Batch], loss_of: Loss) -> dict[str, float]:
    """Mean of each part of the loss over batches that were not learnt."""
    sums: dict[str, list[float]] = {}
    with torch.no_grad():
        for x, truth in batches:
            _, parts = loss_of(network(x.contiguous(memory_format=torch.channels_last)), truth)
            for name, value in parts.items():
                sums.setdefault(name, []).append(value.item())
    figures = {name: round(float(np.mean(values)), 4) for name, values in sums.items()}
    print("held out:", figures, flush=True)
    return figures


def save(network: nn.Module, record: dict[str, Any], out: Path, name: str) -> None:
    """NAME.pt (weights) and NAME.json (the run's record) in the folder `out`."""
    out.mkdir(parents=True, exist_ok=True)
    torch.save({k: v.cpu() for k, v in network.state_dict().items()}, out / f"{name}.pt")
    (out / f"{name}.json").write_text(json.dumps(record, indent=1))
