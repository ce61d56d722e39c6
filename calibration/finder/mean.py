"""Write the mean of exported networks of one kind: of trainings that began from each other.

    python -m calibration.finder.mean A.onnx B.onnx [C.onnx ...] --out contactread/flank/closeup.onnx

Each weight is the mean of theirs. What that gained is in the history of contactread/flank/closeup.json;
`calibration.finder.accuracy` on pictures that none has learnt from shows whether it does again.
Prints the new file's SHA-256, for contactread/flank/networks.py.
"""

from __future__ import annotations

import argparse
import hashlib
from pathlib import Path

import numpy as np
import onnx
from onnx import numpy_helper


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("networks", type=Path, nargs="+")
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    first, *others = (onnx.load(path) for path in args.networks)
    for place, weights in enumerate(first.graph.initializer):
        same = [weights, *(other.graph.initializer[place] for other in others)]
        if any(one.name != weights.name or one.dims != weights.dims for one in same):
            parser.error(f"these are different networks: {weights.name} isn't the same in all of them")
        arrays = [numpy_helper.to_array(one) for one in same]
        if arrays[0].dtype == np.float32:
            mean = np.mean(arrays, axis=0, dtype=np.float64).astype(np.float32)
            weights.CopyFrom(numpy_helper.from_array(mean, weights.name))
    onnx.save(first, args.out)
    print(f"for contactread/flank/networks.py: {hashlib.sha256(args.out.read_bytes()).hexdigest()}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
