"""What both networks' training shares: the loop against the clock, and the figures on held-out scenes."""

from __future__ import annotations

import argparse
import json
import math
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
import torch.distributed as distributed
from torch import Tensor, nn

Truth = dict[str, Tensor]
Batch = tuple[Tensor, Truth]
Phase = tuple[float, Callable[[], Batch]]  # how far (0..1) its batches are learnt, and what makes one
Loss = Callable[[Tensor, Truth], tuple[Tensor, dict[str, Tensor]]]
WARM_UP, REPORT = 300, 500  # steps
AVERAGE = 0.002  # share of the newest weights in the moving average
SAVING = 12.0  # seconds kept for the figures and the files
TOGETHER = 20  # steps after which the clock is read, and trainings that are joined share their weights


def options(description: str | None, rate: float) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--lessons", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--minutes", type=float, default=9.0, help="from the start, loading included")
    parser.add_argument("--rate", type=float, default=rate)
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="weights to start from")
    parser.add_argument("--known", type=Path, help="an exported network (ONNX) to start from")
    parser.add_argument(
        "--join",
        nargs=3,
        metavar=("FILE", "RANK", "SIZE"),
        help="train together with others, each on a GPU of its own: a new file that all name, and which of"
        " how many this one is. The first writes the results",
    )
    parser.add_argument("--state", type=Path, help="kept at the end, and gone on from if it is there")
    parser.add_argument(
        "--part",
        type=float,
        nargs=2,
        default=(0.0, 1.0),
        metavar=("FROM", "TO"),
        help="the part of the whole training that this sitting is, 0 to 1",
    )
    return parser


class Learner:
    """A network, its optimiser and the moving average of its weights."""

    def __init__(self, network: nn.Module, loss_of: Loss, device: torch.device) -> None:
        self.device, self.loss_of = device, loss_of
        self.network = network.to(device, memory_format=torch.channels_last)
        self.graphed = device.type == "cuda"
        self.rate = torch.zeros((), device=device)
        self.optimiser = torch.optim.AdamW(
            network.parameters(),
            lr=self.rate if self.graphed else 0.0,
            weight_decay=0.02,
            fused=self.graphed,
            capturable=self.graphed,
        )
        self.floats = [t for t in self.network.state_dict().values() if t.is_floating_point()]
        self.average = [t.detach().clone() for t in self.floats]

    def set_rate(self, rate: float) -> None:
        self.rate.fill_(rate)
        if not self.graphed:
            for group in self.optimiser.param_groups:
                group["lr"] = rate

    def step(self, batch: Callable[[], Batch]) -> tuple[Tensor, dict[str, Tensor]]:
        x, truth = batch()
        with torch.autocast(self.device.type, torch.bfloat16, self.graphed, cache_enabled=False):
            answer = self.network(x.contiguous(memory_format=torch.channels_last))
        loss, parts = self.loss_of(answer, truth)
        self.optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(self.network.parameters(), 2.0)
        self.optimiser.step()
        torch._foreach_lerp_(self.average, self.floats, AVERAGE)
        return loss.detach(), {name: value.detach() for name, value in parts.items()}

    def recorded(self, batch: Callable[[], Batch]) -> Callable[[], tuple[Tensor, dict[str, Tensor]]]:
        """A call that takes one step. On a GPU the step is recorded once and played back, which spares the
        host's time for every kernel; nothing in `batch` or the loss may then wait for the host."""
        if not self.graphed:
            return lambda: self.step(batch)
        side = torch.cuda.Stream()
        side.wait_stream(torch.cuda.current_stream())
        with torch.cuda.stream(side):
            for _ in range(3):
                self.step(batch)
        torch.cuda.current_stream().wait_stream(side)
        graph = torch.cuda.CUDAGraph()
        self.optimiser.zero_grad(set_to_none=True)
        with torch.cuda.graph(graph):
            result = self.step(batch)

        def play() -> tuple[Tensor, dict[str, Tensor]]:
            graph.replay()
            return result

        return play

    def averaged(self) -> nn.Module:
        """The network with the moving average of its weights."""
        for weights, mean in zip(self.floats, self.average, strict=True):
            weights.copy_(mean)
        return self.network.eval()

    def keep(self, path: Path) -> None:
        content = {"network": self.network.state_dict(), "optimiser": self.optimiser.state_dict()}
        torch.save(content | {"average": self.average}, path)

    def go_on_from(self, path: Path) -> None:
        content = torch.load(path, map_location=self.device)
        self.network.load_state_dict(content["network"])
        self.optimiser.load_state_dict(content["optimiser"])
        for group in self.optimiser.param_groups:
            group["lr"] = self.rate if self.graphed else 0.0
        for mean, kept in zip(self.average, content["average"], strict=True):
            mean.copy_(kept)


class Company:
    """The trainings that learn together, from different batches; of one alone there is no company."""

    def __init__(self, join: Sequence[str] | None, device: torch.device) -> None:
        self.rank, self.size = (int(join[1]), int(join[2])) if join else (0, 1)
        self.device = device
        if join and self.size > 1:
            distributed.init_process_group(
                "nccl" if device.type == "cuda" else "gloo",
                init_method=f"file://{Path(join[0]).resolve()}",
                rank=self.rank,
                world_size=self.size,
            )

    def mean(self, values: Sequence[Tensor]) -> None:
        """Put the mean over all into each tensor."""
        if self.size > 1:
            flat = torch.cat([value.detach().reshape(-1) for value in values])
            distributed.all_reduce(flat)
            flat /= self.size
            parts = flat.split([value.numel() for value in values])
            torch._foreach_copy_(
                list(values), [part.view(value.shape) for part, value in zip(parts, values, strict=True)]
            )

    def latest(self, seconds: float) -> float:
        """The longest of all their times, so that all do the same."""
        if self.size == 1:
            return seconds
        told = torch.tensor([seconds], device=self.device)
        distributed.all_reduce(told, distributed.ReduceOp.MAX)
        return float(told.item())

    def close(self) -> None:
        if self.size > 1:
            distributed.destroy_process_group()


def learn(
    network: nn.Module, phases: Sequence[Phase], loss_of: Loss, args: argparse.Namespace, began: float
) -> tuple[nn.Module, dict[str, Any]]:
    """Train until args.minutes after `began`; the moving average of the network, and the run's record.

    The rate warms up, then falls along a cosine, of which this sitting is args.part. Trainings that are
    joined take the mean of their weights every TOGETHER steps.
    """
    learner = Learner(network, loss_of, torch.device(args.device))
    company = Company(args.join, learner.device)
    if args.start:
        known = torch.load(args.start, map_location=args.device)
        mine = network.state_dict()
        fitting = {k: v.float() for k, v in known.items() if k in mine and v.shape == mine[k].shape}
        network.load_state_dict(fitting, strict=False)
        print(f"{len(fitting)} of {len(mine)} tensors from {args.start}", flush=True)
        for mean, weights in zip(learner.average, learner.floats, strict=True):
            mean.copy_(weights)
    if args.state and args.state.exists():
        learner.go_on_from(args.state)
    first, last = args.part
    company.latest(0.0)  # wait for all
    begun = time.monotonic()
    length, step, log, elapsed = began + args.minutes * 60 - SAVING - begun, 0, [], 0.0
    length = -company.latest(-length)  # the shortest
    learner.set_rate(1e-6)
    play, until = None, 0.0
    while elapsed < length:
        part = first + (last - first) * elapsed / length
        if play is None or part >= until:
            until, batch = next(phase for phase in phases if part < phase[0])
            play = learner.recorded(batch)
        warm = min(1.0, step / WARM_UP + 0.01)
        learner.set_rate(args.rate * warm * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6)
        loss, parts = play()
        step += 1
        if step % REPORT == 0:
            row = {"step": step, "seconds": round(elapsed), "loss": round(loss.item(), 3)}
            row |= {name: round(value.item(), 4) for name, value in parts.items()}
            log.append(row)
            print(row, flush=True)
        if step % TOGETHER == 0 or not learner.graphed:
            if learner.graphed:
                torch.cuda.synchronize()  # the clock must not run ahead of the GPU
            company.mean(learner.floats)
            elapsed = company.latest(time.monotonic() - begun)
    company.mean(learner.average)
    company.close()
    if args.state and company.rank == 0:
        learner.keep(args.state)
    record = {"steps": step, "rate": args.rate, "minutes": args.minutes, "part": list(args.part)}
    record |= {"seed": args.seed, "together": company.size, "log": log[:: max(1, len(log) // 40)]}
    return learner.averaged(), record


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
    (out / f"{name}.json").write_text(json.dumps(record, indent=1), encoding="utf-8")
