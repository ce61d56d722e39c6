"""Where the photographer stands, and with which lens."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.render.camera import Camera
from calibration.render.gear_shape import RingGearShape, flank_points
from contactread.axle import FlankName

Array = NDArray[np.float64]


def tooth_frame(shape: RingGearShape, flank: FlankName, tooth: int) -> tuple[Array, Array, Array, Array]:
    """Middle of a flank and unit vectors: out of the tooth space, lengthwise to the heel, flank normal."""
    e = 0.02
    u = np.array([0.5, 0.5 - e, 0.5 + e, 0.5, 0.5])
    v = np.array([0.5, 0.5, 0.5, 0.5 - e, 0.5 + e])
    p = flank_points(shape, flank, u, v, tooth)
    along = p[2] - p[1]
    up = p[4] - p[3]
    along /= np.linalg.norm(along)
    normal = np.cross(along, up)
    normal /= np.linalg.norm(normal)
    gamma = np.radians(shape.pitch_angle)
    angle = np.arctan2(p[0, 1], p[0, 0])
    out = np.array([np.cos(gamma) * np.cos(angle), np.cos(gamma) * np.sin(angle), np.sin(gamma)])
    tangent = np.array([-np.sin(angle), np.cos(angle), 0.0])
    side = -shape.sense if flank == "convex" else shape.sense
    if normal @ tangent * side < 0:
        normal = -normal
    return p[0], out, along, normal


def random_camera(
    rng: np.random.Generator,
    shape: RingGearShape,
    flank: FlankName,
    tooth: int,
    long_side: int,
    wish: str | None = None,
) -> tuple[Camera, Array]:
    """A camera that looks at a flank, and the point aimed at.

    wish: "tiny", "edge_on", "clear" (a careful photographer), "both" (straight down, so that either flank
    shows) or None.
    """
    middle, out, along, normal = tooth_frame(shape, flank, tooth)
    across = normal - (normal @ out) * out
    across /= np.linalg.norm(across)
    lean = float(rng.uniform(8, 50) if rng.random() < 0.7 else rng.uniform(-5, 68))
    drift = float(rng.uniform(-45, 55) if rng.random() < 0.75 else rng.uniform(-65, 72))
    if wish == "clear":
        lean, drift = float(rng.uniform(14, 42)), float(rng.uniform(-15, 45))
    if wish == "both":
        lean, drift = float(rng.uniform(-6, 6)), float(rng.uniform(-10, 20))
    if wish == "edge_on":
        lean, drift = float(rng.uniform(-60, -22)), float(rng.uniform(-40, 40))
    a, b = np.radians(lean), np.radians(drift)
    view = np.cos(b) * (np.cos(a) * out + np.sin(a) * across) + np.sin(b) * along
    view /= np.linalg.norm(view)
    lens = float(np.exp(rng.uniform(np.log(23), np.log(80))))
    field = float(np.exp(rng.uniform(np.log(55), np.log(260))))
    if wish == "clear":
        field = float(rng.uniform(70, 125))
    if wish == "both":
        lens, field = float(rng.uniform(24, 28)), float(rng.uniform(130, 170))
    if wish == "tiny":
        field = float(rng.uniform(450, 1500))
    distance = field * lens / 36
    distance = float(np.clip(distance, 80, 620 if wish != "tiny" else 2500))
    aspect = float(rng.choice([4 / 3, 4 / 3, 3 / 2, 16 / 9, 1.0]))
    long_px, short_px = long_side, round(long_side / aspect / 2) * 2
    landscape = rng.random() < 0.55
    width, height = (long_px, short_px) if landscape else (short_px, long_px)
    focal = lens / 36 * long_px
    roll = float(rng.uniform(0, 2 * np.pi))
    helper = np.cross(view, along)
    up = np.cos(roll) * helper + np.sin(roll) * np.cross(view, helper)
    shift = rng.uniform(-0.22, 0.22, 2) * np.array([width, height]) / focal * distance
    right = np.cross(-view, up)
    right /= np.linalg.norm(right)
    aim = middle + shift[0] * right + shift[1] * np.cross(-view, right)
    origin = aim + view * distance
    stop = float(np.exp(rng.uniform(np.log(1.7), np.log(14))))
    # a phone's lens is a few mm long; larger cameras blur more
    real_lens = lens * float(np.exp(rng.uniform(np.log(0.14), np.log(0.6))))
    focus = float(np.linalg.norm(middle - origin) + rng.normal(0, 0.02 * distance))
    return (
        Camera(
            origin=origin,
            target=aim,
            up=up,
            focal_px=focal,
            width=width,
            height=height,
            k1=float(rng.normal(0, 0.03)),
            k2=float(rng.normal(0, 0.01)),
            aperture=min(real_lens / stop / 2, 3.0),
            focus=max(40.0, focus),
        ),
        middle,
    )
