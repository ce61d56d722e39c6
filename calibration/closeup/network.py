"""The close-up network: one flattened flank, with its surroundings, seen beside what all teeth share.

In: (teeth, 12, 64, 128): blue, green, red of the flank; of the mean of the rolled teeth; its place u, v;
1 where the picture has pixels; blue, green, red of how much those teeth vary about their mean.
Rows run from below the root to above the top, columns from before the
toe to past the heel (see FIELD). Out: (teeth, 24, 32, 64): for each of CHANNELS the four pixels of every
two by two, row by row; `unfolded` makes (teeth, 6, 64, 128) of it.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn

from calibration.finder.network import Down, Residual, Up, conv

INPUTS, ROWS, COLUMNS = 12, 64, 128
FIELD = ((-0.08, 1.08), (-0.3, 1.3))  # what the flat shows of u and of v
CHANNELS = (
    "visible",  # logit: this flank is seen here, not its surroundings or something before it
    "painted",  # logit: the tooth carries compound
    "contact",  # logit: inside the contact patch
    "du",  # true u less the flat's u, in units of SHIFT
    "dv",
    "unrolled",  # logit: the tooth carries compound and was never rolled
)
SHIFT = 0.1
FOLD = 2  # pixels of the flat on each side of one of the answer


class CloseUpNetwork(nn.Module):
    def __init__(self, widths: tuple[int, ...] = (24, 40, 72, 96)) -> None:
        super().__init__()
        w2, w4, w8, w16 = widths
        self.stem = conv(INPUTS, w2, 5, FOLD)
        self.first = Residual(w2)
        self.down4 = Down(w2, w4, 2)
        self.down8 = Down(w4, w8, 2)
        self.down16 = Down(w8, w16, 2)
        self.up8 = Up(w16, w8, w8, 1)
        self.up4 = Up(w8, w4, w4, 1)
        self.up2 = Up(w4, w2, w2, 1)
        self.head = nn.Conv2d(w2, len(CHANNELS) * FOLD**2, 1)

    def forward(self, x: Tensor) -> Tensor:
        x2 = self.first(torch.relu(self.stem(x)))
        x4 = self.down4(x2)
        x8 = self.down8(x4)
        x = self.up8(self.down16(x8), x8)
        return self.head(self.up2(self.up4(x, x4), x2))


def unfolded(answer: Tensor) -> Tensor:
    """The network's answer pixel by pixel, (teeth, 6, 64, 128)."""
    return nn.functional.pixel_shuffle(answer, FOLD)
