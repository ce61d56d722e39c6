"""Write the close-up network as ONNX for `cv2.dnn`, and prove that both give the same answer.

python -m calibration.closeup.export --weights closeup.pt --out contactread/flank/closeup.onnx
"""

from __future__ import annotations

import torch

from calibration.closeup.network import COLUMNS, INPUTS, ROWS, CloseUpNetwork
from calibration.finder.export import export

if __name__ == "__main__":
    raise SystemExit(export(CloseUpNetwork(), torch.rand(1, INPUTS, ROWS, COLUMNS), __doc__))
