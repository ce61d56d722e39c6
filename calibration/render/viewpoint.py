"""Where the photographer stands, and with which lens."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.render.camera import Camera
from calibration.render.gear_shape import RingGearShape, flank_points
from calibration.render.housing import Mouth
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
    shift = float(rng.uniform(-0.22, 0.22)), float(rng.uniform(-0.22, 0.22))
    roll = float(rng.uniform(0, 2 * np.pi))
    helper = np.cross(view, along)
    up = np.cos(roll) * helper + np.sin(roll) * np.cross(view, helper)
    return _camera(rng, middle, view, up, lens, distance, long_side, shift), middle


def mouth_camera(
    rng: np.random.Generator,
    shape: RingGearShape,
    mouth: Mouth,
    ceiling: Array,
    tooth: int,
    long_side: int,
    close: bool,
) -> tuple[Camera, Array]:
    """A camera that looks into a housing's mouth, and the point aimed at.

    ceiling: unit vector upwards. close: at some teeth, else at the whole mouth.
    """
    radius = shape.diameter / 2
    middle = tooth_frame(shape, "convex", tooth)[0]
    to_teeth, beside = (float(np.radians(rng.normal(m, s))) for m, s in ((27, 20), (0, 18)))
    view = np.cos(to_teeth) * (np.cos(beside) * mouth.out + np.sin(beside) * mouth.side)
    view = view + np.sin(to_teeth) * np.array([0, 0, 1.0])
    view /= np.linalg.norm(view)
    lens = float(np.exp(rng.uniform(np.log(23), np.log(70))))
    if close:
        aim = middle + rng.normal(0, 0.1, 3) * radius
        field = radius * float(np.exp(rng.uniform(np.log(0.55), np.log(2.2))))
    else:
        aim = mouth.middle + rng.normal(0, 0.15, 3) * radius
        aim = aim + float(rng.uniform(0, 0.6)) * (middle - aim)
        field = 2 * max(mouth.half) * float(np.exp(rng.uniform(np.log(0.75), np.log(2.0))))
    distance = float(np.clip(field * lens / 36, 150, 1500))
    roll = float(rng.normal(0, 0.2)) + float(rng.choice([0, 0, 0, np.pi / 2, -np.pi / 2, np.pi]))
    level = ceiling - (ceiling @ view) * view + 1e-6
    level /= np.linalg.norm(level)
    up = np.cos(roll) * level + np.sin(roll) * np.cross(view, level)
    shift = float(rng.uniform(-0.15, 0.15)), float(rng.uniform(-0.15, 0.15))
    return _camera(rng, aim, view, up, lens, distance, long_side, shift), middle


def whole_camera(rng: np.random.Generator, radius: float, long_side: int) -> tuple[Camera, Array]:
    """A camera that looks from above at a whole part of that radius (mm) about the origin; and the origin."""
    view = rng.standard_normal(3)
    view[2] = abs(view[2]) + 0.3
    view /= np.linalg.norm(view)
    lens = float(np.exp(rng.uniform(np.log(23), np.log(80))))
    field = 2 * radius * float(np.exp(rng.uniform(np.log(0.5), np.log(3.5))))
    distance = float(np.clip(field * lens / 36, 1.2 * radius, 2500))
    up = np.cross(view, rng.standard_normal(3))
    shift = float(rng.uniform(-0.25, 0.25)), float(rng.uniform(-0.25, 0.25))
    return _camera(
        rng, np.zeros(3), view, up / np.linalg.norm(up), lens, distance, long_side, shift
    ), np.zeros(3)


def _camera(
    rng: np.random.Generator,
    middle: Array,
    view: Array,
    up: Array,
    lens: float,
    distance: float,
    long_side: int,
    shift: tuple[float, float],
) -> Camera:
    """A camera `distance` mm from `middle` along `view`; lens: focal length on 36 mm. shift: how far from the
    picture's middle that place lies, as shares of its sides."""
    aspect = float(rng.choice([4 / 3, 4 / 3, 3 / 2, 16 / 9, 1.0]))
    long_px, short_px = long_side, round(long_side / aspect / 2) * 2
    landscape = rng.random() < 0.55
    width, height = (long_px, short_px) if landscape else (short_px, long_px)
    focal = lens / 36 * long_px
    right = np.cross(-view, up)
    right /= np.linalg.norm(right)
    off = np.array(shift) * np.array([width, height]) / focal * distance
    aim = middle + off[0] * right + off[1] * np.cross(-view, right)
    origin = aim + view * distance
    stop = float(np.exp(rng.uniform(np.log(1.7), np.log(14))))
    # a phone's lens is a few mm long; larger cameras blur more
    real_lens = lens * float(np.exp(rng.uniform(np.log(0.14), np.log(0.6))))
    focus = float(np.linalg.norm(middle - origin) + rng.normal(0, 0.02 * distance))
    return Camera(
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
    )
