"""Write the close-up network as ONNX for `cv2.dnn`, and prove that both give the same answer.

python -m calibration.closeup.export --weights closeup.pt --out contactread/flank/closeup.onnx
"""

from __future__ import annotations

import argparse
from pathlib import Path

import torch

from calibration.closeup.network import COLUMNS, ROWS, CloseUpNetwork
from calibration.finder.export import write_onnx


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weights", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    network = CloseUpNetwork().eval()
    network.load_state_dict(torch.load(args.weights, map_location="cpu"))
    return write_onnx(network, torch.rand(1, 9, ROWS, COLUMNS), args.out)


if __name__ == "__main__":
    raise SystemExit(main())
