"""Variation of lessons while training, a batch at a time, wherever the tensors live."""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F
from torch import Tensor

from calibration.finder.network import STRIDE

LARGEST_ID = 256  # instance number = 2 * tooth number + (0 convex, 1 concave)
SHORTEST, USUAL, LONGEST = 30.0, 70.0, 290.0  # flank lengths to which lessons are scaled, pixels
SHADED = 0.3  # share of the pictures whose tooth spaces are darkened
FAR = 0.2  # share of the lessons that are scaled to less than the usual


def _uniform(n: int, low: float, high: float, device: torch.device) -> Tensor:
    return torch.rand(n, device=device) * (high - low) + low


def warp(
    pictures: Tensor, labels: Tensor, length: Tensor, centre: Tensor, size: tuple[int, int]
) -> tuple[Tensor, Tensor]:
    """Turn, mirror, scale, stretch, tilt and crop each lesson.

    pictures: float (n, 3, h, w). labels: float (n, 4, h, w), sampled at the nearest pixel, 0 outside.
    length: (n,) flank length in each, pixels. centre: (n, 2) pixel (x, y) to bring near the middle.
    size: (rows, columns) of the result. A mirrored gear is one of the other hand, so labels stay true.
    """
    n, _, h, w = pictures.shape
    device = pictures.device
    rows, columns = size
    angle = _uniform(n, -math.pi, math.pi, device)
    mirror = (torch.rand(n, device=device) < 0.5).float() * 2 - 1
    draw = torch.rand(n, device=device)
    wanted = torch.where(
        torch.rand(n, device=device) < FAR,
        SHORTEST * (USUAL / SHORTEST) ** draw,
        USUAL * (LONGEST / USUAL) ** draw,
    )
    zoom = (length / wanted).clamp(0.35, 2.6)  # lesson pixels for each pixel of the result
    stretch = torch.exp(_uniform(n, -0.1, 0.1, device))
    ys, xs = torch.meshgrid(
        torch.arange(rows, device=device) - (rows - 1) / 2.0,
        torch.arange(columns, device=device) - (columns - 1) / 2.0,
        indexing="ij",
    )
    tilt_x, tilt_y = _uniform(n, -0.15, 0.15, device), _uniform(n, -0.15, 0.15, device)
    depth = 1 + (tilt_x.view(-1, 1, 1) * xs + tilt_y.view(-1, 1, 1) * ys) * (2 / columns)
    xs = (xs / depth) * (zoom * stretch * mirror).view(-1, 1, 1)
    ys = (ys / depth) * (zoom / stretch).view(-1, 1, 1)
    cos, sin = torch.cos(angle).view(-1, 1, 1), torch.sin(angle).view(-1, 1, 1)
    drift = torch.randn(n, 2, device=device) * zoom.unsqueeze(1)
    x = cos * xs - sin * ys + (centre[:, 0] + drift[:, 0] * (columns / 8)).view(-1, 1, 1)
    y = sin * xs + cos * ys + (centre[:, 1] + drift[:, 1] * (rows / 8)).view(-1, 1, 1)
    grid = torch.stack(((x + 0.5) / w * 2 - 1, (y + 0.5) / h * 2 - 1), -1)
    fine = F.grid_sample(pictures, grid, mode="bilinear", align_corners=False)
    # Where the result is much coarser than the lesson, it is the mean of pixels, as in a photo.
    coarse = F.grid_sample(F.avg_pool2d(pictures, 2), grid, mode="bilinear", align_corners=False)
    return (
        torch.where((zoom > 1.4).view(-1, 1, 1, 1), coarse, fine),
        F.grid_sample(labels, grid, mode="nearest", align_corners=False),
    )


def occlude(pictures: Tensor, labels: Tensor) -> tuple[Tensor, Tensor]:
    """Lay a blob of another lesson's picture, or of one colour, over some: a rag, a finger, a cable."""
    n, _, h, w = pictures.shape
    device = pictures.device
    ys, xs = torch.meshgrid(
        torch.linspace(-1, 1, h, device=device), torch.linspace(-1, 1, w, device=device), indexing="ij"
    )

    def per(low: float, high: float) -> Tensor:
        return _uniform(n, low, high, device).view(-1, 1, 1)

    cx, cy, turn, long, short = per(-1, 1), per(-1, 1), per(0, math.pi), per(0.1, 1.2), per(0.05, 0.3)
    along = (xs - cx) * torch.cos(turn) + (ys - cy) * torch.sin(turn)
    across = -(xs - cx) * torch.sin(turn) + (ys - cy) * torch.cos(turn)
    chosen = torch.rand(n, 1, 1, device=device) < 0.25
    blob = (((along / long) ** 2 + (across / short) ** 2 < 1) & chosen).float().unsqueeze(1)
    other = torch.roll(pictures, 1, 0).flip(3)
    flat = torch.rand(n, 3, 1, 1, device=device).expand_as(other)
    other = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.5, other, flat)
    return pictures * (1 - blob) + other * blob, labels * (1 - blob)


def shade(pictures: Tensor, labels: Tensor) -> Tensor:
    """Darken the tooth spaces of some pictures: roots that no light reaches, where height is hard to tell.

    pictures: (n, 3, h, w), 0..1. labels: (n, 4, h, w). The shadow goes on past the flanks' edges, so that its
    end never shows where they are; it may grow along the teeth.
    """
    n = pictures.shape[0]
    device = pictures.device

    def per(low: float, high: float) -> Tensor:
        return _uniform(n, low, high, device).view(-1, 1, 1, 1)

    flags = labels[:, :1].round().to(torch.int32)
    flank = ((flags & 3) > 0).float()
    u, v = labels[:, 2:3] / 255, labels[:, 3:4] / 255
    ends = per(0.2, 1.0) + per(-0.6, 0.6) * (u - 0.5)
    dark = ((ends - v) / per(0.15, 0.6)).clamp(0, 1)
    dark = dark * dark * (3 - 2 * dark) * flank
    near, spread = flank, dark
    for _ in range(2):
        near, spread = _pool(near, 9, 9), _pool(spread, 9, 9)
    beyond = spread / near.clamp(min=1e-3) * (3 * near).clamp(max=1)
    depth = per(0.2, 0.85) * (torch.rand(n, 1, 1, 1, device=device) < SHADED).float()
    return pictures * (1 - depth * torch.where(flank > 0, dark, beyond))


def _pool(x: Tensor, rows: int, columns: int) -> Tensor:
    return F.avg_pool2d(x, (rows, columns), 1, (rows // 2, columns // 2), count_include_pad=False)


def _defocus(x: Tensor) -> Tensor:
    """Sharp for half of the lessons; for the rest a blur of some size, or of one direction."""
    n = x.shape[0]
    mild = _pool(x, 3, 3)
    middling = _pool(_pool(mild, 3, 3), 3, 3)
    strong = _pool(_pool(middling, 5, 5), 3, 3)
    kinds = (mild, middling, strong, _pool(x, 1, 7), _pool(x, 7, 1))
    choice = torch.randint(0, 2 * len(kinds), (n, 1, 1, 1), device=x.device)
    for index, kind in enumerate(kinds):
        x = torch.where(choice == index, kind, x)
    return x


def relight(pictures: Tensor) -> Tensor:
    """Vary exposure, cast, saturation, hue, contrast, focus, sharpness and noise; (n, 3, h, w), 0..1."""
    n = pictures.shape[0]
    device = pictures.device

    def per(low: float, high: float) -> Tensor:
        return _uniform(n, low, high, device).view(-1, 1, 1, 1)

    gains = torch.exp((torch.rand(n, 3, 1, 1, device=device) - 0.5) * 0.5) * torch.exp2(per(-1.2, 0.8))
    x = (pictures.clamp(1e-4, 1) * gains ** (1 / 2.2)).clamp(0, 1)
    # Swap the colours of some lessons, so that no hue is a rule.
    order = torch.rand(3, device=device).argsort()
    x = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.2, x[:, order], x)
    grey = x.mean(1, keepdim=True)
    x = grey + (x - grey) * per(0.4, 1.5)
    x = (x - 0.5) * per(0.8, 1.25) + 0.5 + per(-0.05, 0.05)
    x = _defocus(x)
    x = x + (x - _pool(x, 3, 3)) * per(-1.0, 1.5).clamp(min=0)
    coarse = torch.randn(n, 3, x.shape[2] // 2, x.shape[3] // 2, device=device)
    noise = torch.randn_like(x) + F.interpolate(coarse, size=x.shape[2:], mode="nearest")
    return (x + noise * per(-0.03, 0.04).clamp(min=0)).clamp(0, 1)


def targets(labels: Tensor) -> dict[str, Tensor]:
    """What the network should answer, at its output resolution.

    labels: float (n, 4, h, w). Returns, each (n, ..., h / 4, w / 4): ``masks`` (6 channels, shares of
    the cell: convex, concave, painted, contact, gear, unrolled), ``uv`` (2), ``to_middle`` (2, units of 64
    input pixels), ``inside`` (bool: one flank fills the cell's middle).
    """
    flags = labels[:, 0].round().to(torch.int32)
    kind = flags & 3
    masks = torch.stack(
        [kind == 1, kind == 2, (flags & 4) > 0, (flags & 8) > 0, (flags & 16) > 0, (flags & 32) > 0], 1
    )
    masks = F.avg_pool2d(masks.float(), STRIDE)
    number = (labels[:, 1].round().to(torch.int64) * 2 + kind - 1) * (kind > 0)
    # The middle two by two pixels of each cell.
    quads = [number[:, i::STRIDE, j::STRIDE] for i in (1, 2) for j in (1, 2)]
    inside = (quads[0] > 0) & (quads[0] == quads[1]) & (quads[0] == quads[2]) & (quads[0] == quads[3])
    corners = [labels[:, 2:4, i::STRIDE, j::STRIDE] for i in (1, 2) for j in (1, 2)]
    uv = torch.stack(corners).mean(0) / 255
    n, h, w = inside.shape
    index = (quads[0] * inside).clamp(max=LARGEST_ID - 1)
    slot = (index + torch.arange(n, device=labels.device).view(-1, 1, 1) * LARGEST_ID).reshape(-1)
    ys, xs = torch.meshgrid(
        torch.arange(h, device=labels.device), torch.arange(w, device=labels.device), indexing="ij"
    )
    place = torch.stack((xs, ys)).float() * STRIDE + (STRIDE - 1) / 2
    place = place.unsqueeze(0).expand(n, -1, -1, -1)
    flat = place.permute(0, 2, 3, 1).reshape(-1, 2)
    total = torch.zeros(n * LARGEST_ID, 2, device=labels.device).index_add_(0, slot, flat)
    count = torch.zeros(n * LARGEST_ID, device=labels.device)
    count.index_add_(0, slot, torch.ones_like(flat[:, 0]))
    middle = (total / count.clamp(min=1).unsqueeze(1))[slot].reshape(n, h, w, 2).permute(0, 3, 1, 2)
    return {"masks": masks, "uv": uv, "to_middle": (middle - place) / 64, "inside": inside}
