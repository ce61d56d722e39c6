"""The close-up network: one flattened flank, with its surroundings, seen beside what all teeth share.

In: (teeth, 9, 64, 128): blue, green, red of the flank; of the mean of the painted teeth; its place u, v;
1 where the picture has pixels. Rows run from below the root to above the top, columns from before the
toe to past the heel (see FIELD). Out: (teeth, 5, 64, 128), channels as in CHANNELS.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn

from calibration.finder.network import Down, Up, conv

ROWS, COLUMNS = 64, 128
FIELD = ((-0.08, 1.08), (-0.3, 1.3))  # what the flat shows of u and of v
CHANNELS = (
    "visible",  # logit: this flank is seen here, not its surroundings or something before it
    "painted",  # logit: the tooth carries compound
    "contact",  # logit: inside the contact patch
    "du",  # true u less the flat's u, in units of SHIFT
    "dv",
)
SHIFT = 0.1


class CloseUpNetwork(nn.Module):
    def __init__(self, widths: tuple[int, ...] = (24, 40, 64, 88)) -> None:
        super().__init__()
        w1, w2, w4, w8 = widths
        self.stem = conv(9, w1)
        self.down2 = Down(w1, w2, 1)
        self.down4 = Down(w2, w4, 2)
        self.down8 = Down(w4, w8, 2)
        self.up4 = Up(w8, w4, w4, 1)
        self.up2 = Up(w4, w2, w2, 1)
        self.up1 = Up(w2, w1, w1, 1)
        self.head = nn.Conv2d(w1, len(CHANNELS), 1)

    def forward(self, x: Tensor) -> Tensor:
        x1 = torch.relu(self.stem(x))
        x2 = self.down2(x1)
        x4 = self.down4(x2)
        x = self.up4(self.down8(x4), x4)
        return self.head(self.up1(self.up2(x, x2), x1))
