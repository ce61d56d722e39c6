"""Start a training from a network that was exported before: its ONNX file holds all that was learnt."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import torch
from torch import Tensor, nn


def take_over(network: nn.Module, path: Path, example: Tensor) -> None:
    """Put an exported network's weights into `network`, whose first and last layer may have more channels.

    An export folds each normalisation into the convolution before it. Here the normalisation is set to undo
    itself on `example`, an input like those to come, so that the network answers as the exported one did.
    Raises ValueError where the two don't match.
    """
    folded = _convolutions(path)
    layers: list[tuple[nn.Module, nn.BatchNorm2d | None]] = []
    hooks = []
    before: dict[str, nn.Module] = {}

    def convolved(module: nn.Module, _inputs: Any, _output: Tensor) -> None:
        before["last"] = module
        layers.append((module, None))

    def normalised(module: nn.Module, _inputs: Any, _output: Tensor) -> None:
        assert isinstance(module, nn.BatchNorm2d)
        layers[-1] = (before["last"], module)

    for module in network.modules():
        if isinstance(module, nn.Conv2d):
            hooks.append(module.register_forward_hook(convolved))
        elif isinstance(module, nn.BatchNorm2d):
            hooks.append(module.register_forward_hook(normalised))
    network.eval()
    with torch.no_grad():
        network(example[:1])
    for hook in hooks:
        hook.remove()
    if len(layers) != len(folded):
        raise ValueError(f"{path} has {len(folded)} convolutions, the network {len(layers)}")
    shifts: dict[nn.Module, Tensor] = {}
    with torch.no_grad():
        for (conv, norm), (weight, bias) in zip(layers, folded, strict=True):
            mine = conv.weight
            outs, ins = weight.shape[:2]
            if outs > mine.shape[0] or ins > mine.shape[1] or weight.shape[2:] != mine.shape[2:]:
                raise ValueError(f"{path}: a convolution of {tuple(weight.shape)} for {tuple(mine.shape)}")
            if ins < mine.shape[1]:
                mine[:, ins:] = 0
            mine[:outs, :ins] = weight.to(mine.device)
            if norm is not None:
                shifts[norm] = bias.to(mine.device)
            elif conv.bias is not None:
                conv.bias[:outs] = bias.to(mine.device)
        _settle(network, shifts, example)


def _convolutions(path: Path) -> list[tuple[Tensor, Tensor]]:
    """Weight and bias of each convolution, in the order of their running."""
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    kept = {t.name: torch.from_numpy(numpy_helper.to_array(t).copy()) for t in graph.initializer}
    out = []
    for node in graph.node:
        if node.op_type == "Conv":
            weight = kept[node.input[1]]
            bias = kept[node.input[2]] if len(node.input) > 2 else torch.zeros(weight.shape[0])
            out.append((weight, bias))
    return out


def _settle(network: nn.Module, shifts: dict[nn.Module, Tensor], example: Tensor) -> None:
    """Make each normalisation add its shift and nothing else, whether training or not."""

    def settle(module: nn.Module, inputs: tuple[Tensor, ...]) -> None:
        assert isinstance(module, nn.BatchNorm2d)
        assert module.running_mean is not None and module.running_var is not None
        mean = inputs[0].mean((0, 2, 3))
        spread = inputs[0].var((0, 2, 3), unbiased=False)
        module.running_mean.copy_(mean)
        module.running_var.copy_(spread)
        module.weight.copy_(torch.sqrt(spread + module.eps))
        module.bias.copy_(mean + shifts[module])

    hooks = [module.register_forward_pre_hook(settle) for module in shifts]
    network.eval()
    network(example)
    for hook in hooks:
        hook.remove()
    network.train()
