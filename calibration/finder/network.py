"""The network that sees ring-gear flanks: a small encoder-decoder of plain convolutions.

In: (batch, 3, 480, 640), blue, green, red, 0..1, letterboxed picture (landscape).
Out: (batch, 11, 120, 160), a quarter of the input's resolution, channels as in CHANNELS.
Only operations that `cv2.dnn` of OpenCV 4 runs: Conv (batch norm folded), Relu, Add, Concat, Resize.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn

INPUT_HEIGHT, INPUT_WIDTH, STRIDE = 480, 640, 4
CHANNELS = (
    "convex",  # logit: a convex flank of a ring-gear tooth
    "concave",  # logit: a concave one
    "painted",  # logit: on a tooth that carries compound
    "contact",  # logit: inside the contact patch
    "gear",  # logit: any part of a ring gear
    "u",  # 0 toe .. 1 heel
    "v",  # 0 root .. 1 top
    "log_spread",  # log of the expected error of u and v
    "to_middle_x",  # to the middle of this flank's visible part, in units of 64 input pixels
    "to_middle_y",
    "unrolled",  # logit: on a painted tooth that was never rolled
)


def conv(inputs: int, outputs: int, size: int = 3, stride: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, size, stride, size // 2, bias=False), nn.BatchNorm2d(outputs)
    )


class Residual(nn.Module):
    def __init__(self, width: int) -> None:
        super().__init__()
        self.first = conv(width, width)
        self.second = conv(width, width)

    def forward(self, x: Tensor) -> Tensor:
        return torch.relu(x + self.second(torch.relu(self.first(x))))


class Down(nn.Module):
    def __init__(self, inputs: int, outputs: int, blocks: int) -> None:
        super().__init__()
        self.reduce = conv(inputs, outputs, 3, 2)
        self.blocks = nn.Sequential(*(Residual(outputs) for _ in range(blocks)))

    def forward(self, x: Tensor) -> Tensor:
        return self.blocks(torch.relu(self.reduce(x)))


class Up(nn.Module):
    def __init__(self, deep: int, skip: int, outputs: int, blocks: int) -> None:
        super().__init__()
        self.grow = nn.Upsample(scale_factor=2, mode="nearest")
        self.lateral = conv(deep, outputs, 1)
        self.across = conv(skip, outputs, 1)
        self.blocks = nn.Sequential(*(Residual(outputs) for _ in range(blocks)))

    def forward(self, deep: Tensor, skip: Tensor) -> Tensor:
        return self.blocks(torch.relu(self.grow(self.lateral(deep)) + self.across(skip)))


class FlankNetwork(nn.Module):
    def __init__(self, widths: tuple[int, ...] = (24, 48, 88, 128, 128)) -> None:
        super().__init__()
        w2, w4, w8, w16, w32 = widths
        self.stem = conv(3, w2, 5, 2)
        self.down4 = Down(w2, w4, 1)
        self.down8 = Down(w4, w8, 2)
        self.down16 = Down(w8, w16, 2)
        self.down32 = Down(w16, w32, 2)
        self.up16 = Up(w32, w16, w16, 1)
        self.up8 = Up(w16, w8, w8, 1)
        self.up4 = Up(w8, w4, w4, 1)
        self.head = nn.Sequential(conv(w4, w4 + 16), nn.ReLU(), nn.Conv2d(w4 + 16, len(CHANNELS), 1))

    def forward(self, x: Tensor) -> Tensor:
        x4 = self.down4(torch.relu(self.stem(x)))
        x8 = self.down8(x4)
        x16 = self.down16(x8)
        x = self.up16(self.down32(x16), x16)
        return self.head(self.up4(self.up8(x, x8), x4))
