"""From linear light to a phone's JPEG: lens, sensor and the phone's own processing."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.render.camera import Camera

Field = NDArray[np.float32]


@dataclass(frozen=True)
class Development:
    """ev: stops over the metered exposure. white: gains red, green, blue. noise: (shot, read) at grey.
    blur: sigma in px at 640 px long side, as are motion (length) and sharpen. shoulder: 0 = hard clip.
    local: how far light and shadow are evened out about each place, as a phone joins exposures; 0 = not."""

    ev: float = 0.0
    white: tuple[float, float, float] = (1.0, 1.0, 1.0)
    bloom: float = 0.0
    vignette: float = 0.1
    blur: float = 0.4
    motion: float = 0.0
    motion_angle: float = 0.0
    noise: tuple[float, float] = (0.01, 0.003)
    grain: float = 0.5
    denoise: float = 0.0
    saturation: float = 1.0
    contrast: float = 1.0
    shoulder: float = 0.5
    sharpen: float = 0.5
    quality: int = 85
    shrink: float = 1.0
    local: float = 0.0

    def as_dict(self) -> dict[str, object]:
        """By name, for the truth beside a picture."""
        return asdict(self)


def random_development(rng: np.random.Generator, mood: str | None = None) -> Development:
    """mood: None, "dark" or "blurred" (the spoiled pictures)."""
    cast = rng.normal(0, 0.1 if rng.random() < 0.4 else 0.035)
    if rng.random() < 0.15:  # a warm lamp that the phone left warm
        cast = float(rng.uniform(0.1, 0.4))
    tint = rng.normal(0, 0.03)
    noisiest = 0.012 if rng.random() < 0.5 else 0.03 if rng.random() < 0.9 else 0.07
    noise = float(np.exp(rng.uniform(np.log(0.003), np.log(noisiest))))
    blur = float(rng.uniform(0.0, 0.9)) if rng.random() < 0.8 else float(rng.uniform(0.9, 2.0))
    motion = float(rng.uniform(1, 5)) if rng.random() < 0.15 else 0.0
    ev = float(rng.normal(0, 0.55))
    if mood == "dark":
        ev, noise = float(rng.uniform(-5.0, -3.0)), float(rng.uniform(0.02, 0.1))
    if mood == "blurred":
        if rng.random() < 0.5:
            blur = float(rng.uniform(5, 14))
        else:
            motion = float(rng.uniform(18, 60))
    return Development(
        ev=ev,
        white=(float(np.exp(cast)), float(np.exp(tint)), float(np.exp(-cast))),
        bloom=float(rng.uniform(0, 0.12)) if rng.random() < 0.5 else 0.0,
        vignette=float(rng.uniform(0, 0.45)),
        blur=blur,
        motion=motion,
        motion_angle=float(rng.uniform(0, np.pi)),
        noise=(noise, noise * float(rng.uniform(0.1, 0.5))),
        grain=float(rng.uniform(0.0, 1.0)),
        denoise=float(rng.uniform(0, 1)) if rng.random() < 0.4 else 0.0,
        saturation=float(np.clip(rng.normal(1.05, 0.25), 0.3, 1.7) * (1.4 if rng.random() < 0.2 else 1.0)),
        contrast=float(np.clip(rng.normal(1.08, 0.16), 0.6, 1.6)),
        shoulder=float(rng.uniform(0, 1)),
        sharpen=float(rng.uniform(0, 1.4 if rng.random() < 0.75 else 3.0)) if rng.random() < 0.75 else 0.0,
        quality=int(rng.integers(45, 97)),
        shrink=float(rng.uniform(0.3, 0.9)) if rng.random() < 0.25 else 1.0,
        local=float(rng.uniform(0.2, 0.8)) if rng.random() < 0.35 else 0.0,
    )


def sober_development(rng: np.random.Generator, mood: str | None = None) -> Development:
    """As a phone does on a usual day; arguments as for `random_development`."""
    plan = random_development(rng, mood)
    if mood in ("dark", "blurred"):
        return plan
    cast = float(rng.normal(0, 0.05))
    noise = float(np.exp(rng.uniform(np.log(0.003), np.log(0.015))))
    return replace(
        plan,
        ev=float(rng.normal(0, 0.3)),
        white=(float(np.exp(cast)), 1.0, float(np.exp(-cast))),
        blur=float(rng.uniform(0.0, 0.7)),
        motion=plan.motion / 2,
        noise=(noise, 0.3 * noise),
        saturation=float(rng.normal(1.08, 0.12)),
        contrast=float(rng.normal(1.08, 0.1)),
        sharpen=min(plan.sharpen, 1.5),
        quality=int(rng.integers(60, 96)),
        shrink=plan.shrink if rng.random() < 0.5 else 1.0,
        local=plan.local if rng.random() < 0.6 else 0.0,
    )


def undistorted_to_distorted(image: Field, camera: Camera, scale: float) -> Field:
    """Resample the path tracer's undistorted picture, with `scale` of its pixels per finished pixel."""
    grid = camera.undistort(camera.pixel_grid())
    rows, columns = image.shape[:2]
    source = (grid - camera.centre) * scale + np.array([(columns - 1) / 2, (rows - 1) / 2])
    source = source.astype(np.float32)
    return np.asarray(
        cv2.remap(image, source[..., 0], source[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    )


def meter(image: Field, weight: NDArray[np.bool_] | None) -> float:
    """Gain that brings the metered place to a middle grey."""
    grey = image.mean(-1)
    spot = grey[weight] if weight is not None and weight.sum() > 200 else grey
    level = 0.6 * float(np.mean(np.minimum(spot, 4 * np.median(spot) + 1e-6))) + 0.4 * float(np.mean(
        np.minimum(grey, 4 * np.median(grey) + 1e-6)))  # fmt: skip
    return 0.17 / max(level, 1e-6)


def develop(image: Field, plan: Development, rng: np.random.Generator, gain: float) -> NDArray[np.uint8]:
    """uint8 picture (rows, columns, 3) in cv2 order from linear red, green, blue."""
    rows, columns = image.shape[:2]
    unit = max(rows, columns) / 640
    x = np.maximum(image * np.float32(gain * 2**plan.ev), 0)
    x = np.minimum(x, 60.0)
    if plan.bloom > 0:
        small = cv2.resize(np.minimum(x, 12), None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        glow = cv2.GaussianBlur(small, (0, 0), 6 * unit)
        x = x + np.float32(plan.bloom) * cv2.resize(glow, (columns, rows))
    if plan.local > 0:
        level = np.log(x.mean(-1) + 0.01)
        around = cv2.GaussianBlur(level, (0, 0), 0.04 * max(rows, columns))
        x = (
            x
            * np.exp(-np.float32(plan.local) * (around - np.log(0.18)) + 0.3 * plan.local * (level - around))[
                ..., None
            ]
        )
    yy, xx = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j].astype(np.float32)
    x = x * (1 - np.float32(plan.vignette) * (xx * xx + yy * yy) / 2)[..., None]
    x = np.minimum(x, 6.0)
    if plan.blur * unit > 0.25:
        x = cv2.GaussianBlur(x, (0, 0), plan.blur * unit)
    if plan.motion > 0:
        x = cv2.filter2D(x, -1, _streak(plan.motion * unit, plan.motion_angle))
    shot, read = plan.noise
    grit = rng.standard_normal(x.shape, dtype=np.float32)
    if plan.grain > 0.15:
        coarse = cv2.GaussianBlur(grit, (0, 0), 0.4 + 0.9 * plan.grain)
        grit = coarse / (coarse.std() + 1e-6)
    x = x + np.sqrt(np.maximum(x, 0) * shot**2 * 2 + read**2) * grit
    x = np.clip(x * np.array(plan.white, np.float32), 0, None)
    hard, soft = np.minimum(x, 1), 1.25 * x / (x + 0.35 + 0.25 * np.minimum(x, 1))
    x = hard + np.float32(plan.shoulder) * (np.minimum(soft, 1) - hard)
    x = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-6) ** np.float32(1 / 2.4) - 0.055)
    x = 0.45 + (x - 0.45) * np.float32(plan.contrast)
    grey = x @ np.array([0.3, 0.59, 0.11], np.float32)
    x = grey[..., None] + (x - grey[..., None]) * np.float32(plan.saturation)
    if plan.denoise > 0:
        eight = np.clip(x * 255, 0, 255).astype(np.uint8)
        x = cv2.bilateralFilter(eight, 5, 12 + 30 * plan.denoise, 2.0).astype(np.float32) / 255
    if plan.sharpen > 0:
        x = x + np.float32(plan.sharpen) * (x - cv2.GaussianBlur(x, (0, 0), 0.9 * max(1.0, unit * 0.7)))
    out = np.clip(x[..., ::-1] * 255 + 0.5, 0, 255).astype(np.uint8)
    if plan.shrink < 1:
        out = cv2.resize(out, None, fx=plan.shrink, fy=plan.shrink, interpolation=cv2.INTER_AREA)
        out = cv2.resize(out, (columns, rows), interpolation=cv2.INTER_CUBIC)
    return np.ascontiguousarray(out)


def _streak(length: float, angle: float) -> Field:
    size = int(length) | 1
    kernel = np.zeros((size + 2, size + 2), np.float32)
    middle = (size + 1) / 2
    offset = np.array([np.cos(angle), np.sin(angle)]) * length / 2
    a, b = (tuple(round(float(c)) for c in middle + sign * offset) for sign in (-1, 1))
    cv2.line(kernel, a, b, 1.0, 1)
    return kernel / max(float(kernel.sum()), 1e-6)


def jpeg(image: NDArray[np.uint8], quality: int) -> bytes:
    """A JPEG file of a picture (rows, columns, 3) in cv2's channel order. Raises ValueError."""
    ok, data = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not ok:
        raise ValueError("the picture could not be encoded as JPEG")
    return bytes(data)
