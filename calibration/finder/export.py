"""Write the finder's network as ONNX for `cv2.dnn`, and prove that both give the same answer.

python -m calibration.finder.export --weights finder.pt --out contactread/flank/finder.onnx
"""

from __future__ import annotations

import argparse
import hashlib
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor, nn

from calibration.finder.network import INPUT_HEIGHT, INPUT_WIDTH, FlankNetwork


def export(network: nn.Module, example: Tensor, description: str | None) -> int:
    """The export command of either network: --weights and --out are read from the command line.

    example: an input that fixes the shape. Returns the exit code: 1 where cv2.dnn and torch differ by more
    than 0.001, else 0.
    """
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--weights", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    network.eval().load_state_dict(torch.load(args.weights, map_location="cpu"))
    torch.onnx.export(network, (example,), str(args.out), opset_version=17, dynamo=False,
                      input_names=["picture"], output_names=["seen"])  # fmt: skip
    runtime = cv2.dnn.readNetFromONNX(str(args.out))
    runtime.setInput(example.numpy())
    with torch.no_grad():
        difference = np.abs(runtime.forward() - network(example).numpy()).max()
    size = args.out.stat().st_size / 1e6
    print(f"{args.out}: {size:.1f} MB, largest difference between cv2.dnn and torch {difference:.2e}")
    print(f"for contactread/flank/networks.py: {hashlib.sha256(args.out.read_bytes()).hexdigest()}")
    return int(difference > 1e-3)


if __name__ == "__main__":
    raise SystemExit(export(FlankNetwork(), torch.rand(1, 3, INPUT_HEIGHT, INPUT_WIDTH), __doc__))
