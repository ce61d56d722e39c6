"""Variation of lessons while training, a batch at a time, wherever the tensors live."""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F
from torch import Tensor

from calibration.finder.network import INPUT_HEIGHT, INPUT_WIDTH, STRIDE

LARGEST_ID = 256  # instance number = 2 * tooth number + (0 convex, 1 concave)


def _uniform(n: int, low: float, high: float, device: torch.device) -> Tensor:
    return torch.rand(n, device=device) * (high - low) + low


def warp(pictures: Tensor, labels: Tensor, strength: float) -> tuple[Tensor, Tensor]:
    """Turn, mirror, scale, shift and tilt each lesson.

    pictures: float (n, 3, h, w); labels: float (n, 4, h, w), sampled at the nearest pixel, 0 outside.
    A mirrored gear is a gear of the other hand, so labels need no change.
    """
    n, _, h, w = pictures.shape
    device = pictures.device
    angle = _uniform(n, -math.pi, math.pi, device)
    zoom = torch.exp(_uniform(n, -0.55, 0.75, device) * strength)
    stretch = torch.exp(_uniform(n, -0.12, 0.12, device) * strength)
    mirror = (torch.rand(n, device=device) < 0.5).float() * 2 - 1
    aspect = w / h
    cos, sin = torch.cos(angle), torch.sin(angle)
    # Normalised output coordinates -> normalised input coordinates (x scaled by the aspect ratio).
    a = cos * zoom * stretch * mirror
    b = -sin * zoom / stretch / aspect * mirror
    c = sin * zoom * stretch * aspect
    d = cos * zoom / stretch
    shift = 0.55 * strength
    tx, ty = _uniform(n, -shift, shift, device), _uniform(n, -shift, shift, device)
    px, py = _uniform(n, -0.12, 0.12, device) * strength, _uniform(n, -0.12, 0.12, device) * strength
    ys, xs = torch.meshgrid(
        (torch.arange(h, device=device) + 0.5) / h * 2 - 1,
        (torch.arange(w, device=device) + 0.5) / w * 2 - 1,
        indexing="ij",
    )
    depth = 1 + px.view(-1, 1, 1) * xs + py.view(-1, 1, 1) * ys
    gx = (a.view(-1, 1, 1) * xs + b.view(-1, 1, 1) * ys) / depth + tx.view(-1, 1, 1)
    gy = (c.view(-1, 1, 1) * xs + d.view(-1, 1, 1) * ys) / depth + ty.view(-1, 1, 1)
    grid = torch.stack((gx, gy), -1)
    keep = (torch.rand(n, device=device) < 0.08).view(-1, 1, 1, 1)  # some as they are
    plain = torch.stack((xs, ys), -1).expand_as(grid)
    grid = torch.where(keep, plain, grid)
    return (
        F.grid_sample(pictures, grid, mode="bilinear", align_corners=False),
        F.grid_sample(labels, grid, mode="nearest", align_corners=False),
    )


def occlude(pictures: Tensor, labels: Tensor) -> tuple[Tensor, Tensor]:
    """Lay a soft-edged blob of another lesson's picture over some: a rag, a finger, a cable."""
    n, _, h, w = pictures.shape
    device = pictures.device
    ys, xs = torch.meshgrid(
        torch.linspace(-1, 1, h, device=device), torch.linspace(-1, 1, w, device=device), indexing="ij"
    )
    cx, cy = _uniform(n, -1, 1, device).view(-1, 1, 1), _uniform(n, -1, 1, device).view(-1, 1, 1)
    turn = _uniform(n, 0, math.pi, device).view(-1, 1, 1)
    long, short = (
        _uniform(n, 0.1, 1.2, device).view(-1, 1, 1),
        _uniform(n, 0.05, 0.3, device).view(-1, 1, 1),
    )
    along = (xs - cx) * torch.cos(turn) + (ys - cy) * torch.sin(turn)
    across = -(xs - cx) * torch.sin(turn) + (ys - cy) * torch.cos(turn)
    blob = ((along / long) ** 2 + (across / short) ** 2 < 1).float()
    chosen = (torch.rand(n, device=device) < 0.25).float().view(-1, 1, 1)
    blob = (blob * chosen).unsqueeze(1)
    other = torch.roll(pictures, 1, 0).flip(3)
    flat = torch.rand(n, 3, 1, 1, device=device).expand_as(other)
    other = torch.where((torch.rand(n, device=device) < 0.5).view(-1, 1, 1, 1), other, flat)
    return pictures * (1 - blob) + other * blob, labels * (1 - blob)


def _blur(pictures: Tensor, sigma: Tensor) -> Tensor:
    """Gaussian blur with one sigma per lesson (pixels), and per lesson its own direction ratio."""
    n, channels = pictures.shape[:2]
    reach = torch.arange(-7, 8, device=pictures.device).float()
    stretch = torch.exp(_uniform(n, -0.9, 0.9, pictures.device))
    for dim, spread in ((3, sigma * stretch), (2, sigma / stretch)):
        kernel = torch.exp(-0.5 * (reach / spread.clamp(min=0.05).view(-1, 1)) ** 2)
        kernel = (kernel / kernel.sum(1, keepdim=True)).repeat_interleave(channels, 0)
        shape = (n * channels, 1, 1, 15) if dim == 3 else (n * channels, 1, 15, 1)
        pad = (7, 7, 0, 0) if dim == 3 else (0, 0, 7, 7)
        flat = F.pad(pictures.reshape(1, n * channels, *pictures.shape[2:]), pad, mode="replicate")
        pictures = F.conv2d(flat, kernel.reshape(shape), groups=n * channels).reshape(
            n, channels, *pictures.shape[2:]
        )
    return pictures


def relight(pictures: Tensor) -> Tensor:
    """Vary exposure, cast, saturation, hue, contrast, focus, sharpness and noise."""
    n = pictures.shape[0]
    device = pictures.device

    def per(low: float, high: float) -> Tensor:
        return _uniform(n, low, high, device).view(-1, 1, 1, 1)

    linear = pictures.clamp(0, 1) ** 2.2
    gains = torch.exp((torch.rand(n, 3, 1, 1, device=device) - 0.5) * 0.7)
    linear = linear * gains * torch.exp2(per(-1.6, 1.1))
    x = linear.clamp(1e-6, 1) ** (1 / 2.2)
    # Turn the hue of some lessons, so that no colour is a rule.
    grey = x.mean(1, keepdim=True)
    odd = (torch.rand(n, device=device) < 0.2).view(-1, 1, 1, 1)
    order = torch.randperm(3, device=device)
    x = torch.where(odd, x[:, order], x)
    x = grey + (x - grey) * per(0.35, 1.5)
    x = (x - 0.5) * per(0.75, 1.3) + 0.5 + per(-0.06, 0.06)
    soft = _blur(x, _uniform(n, -1.0, 2.0, device).clamp(min=0))
    x = soft
    keen = _blur(x, torch.full((n,), 1.2, device=device))
    x = x + (x - keen) * per(-0.5, 1.5).clamp(min=0)
    fine = torch.randn_like(x)
    coarse = F.interpolate(
        torch.randn(n, 3, x.shape[2] // 2, x.shape[3] // 2, device=device), scale_factor=2.0, mode="nearest"
    )
    return (x + (fine + coarse) * per(-0.03, 0.05).clamp(min=0)).clamp(0, 1)


def targets(labels: Tensor) -> dict[str, Tensor]:
    """What the network should answer, at its output resolution.

    labels: float (n, 4, h, w). Returns, each (n, ..., h / 4, w / 4): ``masks`` (5 channels, shares of
    the cell: convex, concave, painted, contact, gear), ``uv`` (2), ``to_middle`` (2, units of 64 input
    pixels), ``inside`` (bool: one flank fills the cell's middle).
    """
    flags = labels[:, 0].round().to(torch.int32)
    kind = flags & 3
    masks = torch.stack([kind == 1, kind == 2, (flags & 4) > 0, (flags & 8) > 0, (flags & 16) > 0], 1).float()
    masks = F.avg_pool2d(masks, STRIDE)
    number = torch.where(kind > 0, labels[:, 1].round().to(torch.int64) * 2 + kind - 1, 0)
    # The middle two by two pixels of each cell.
    quads = [number[:, i::STRIDE, j::STRIDE] for i in (1, 2) for j in (1, 2)]
    inside = (quads[0] > 0) & (quads[0] == quads[1]) & (quads[0] == quads[2]) & (quads[0] == quads[3])
    uv = sum(labels[:, 2:4, i::STRIDE, j::STRIDE] for i in (1, 2) for j in (1, 2)) / (4 * 255)
    n, h, w = inside.shape
    index = torch.where(inside, quads[0], 0).clamp(max=LARGEST_ID - 1)
    slot = (index + torch.arange(n, device=labels.device).view(-1, 1, 1) * LARGEST_ID).reshape(-1)
    ys, xs = torch.meshgrid(
        torch.arange(h, device=labels.device), torch.arange(w, device=labels.device), indexing="ij"
    )
    place = torch.stack((xs, ys)).float() * STRIDE + (STRIDE - 1) / 2
    place = place.unsqueeze(0).expand(n, -1, -1, -1)
    flat = place.permute(0, 2, 3, 1).reshape(-1, 2)
    total = torch.zeros(n * LARGEST_ID, 2, device=labels.device).index_add_(0, slot, flat)
    count = torch.zeros(n * LARGEST_ID, device=labels.device).index_add_(0, slot, torch.ones_like(flat[:, 0]))
    middle = (total / count.clamp(min=1).unsqueeze(1))[slot].reshape(n, h, w, 2).permute(0, 3, 1, 2)
    return {"masks": masks, "uv": uv, "to_middle": (middle - place) / 64, "inside": inside}


assert INPUT_HEIGHT % 32 == 0 and INPUT_WIDTH % 32 == 0
