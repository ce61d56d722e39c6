"""A careful photographer: the best of some views and lights, and a clean development."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.render.camera import Camera
from calibration.render.camera_post import Development, random_development
from calibration.render.dressed_gear import DressedGear
from calibration.render.housing import Mouth
from calibration.render.labels import Labels, labels_of, of_flanks, tooth_records
from calibration.render.lights import Light, random_light
from calibration.render.scene import Stage
from calibration.render.viewpoint import mouth_camera, random_camera
from contactread.axle import FlankName

CLEAR = 0.85  # a painted tooth counts as well visible from this share on


def well_visible(tooth: dict[str, Any]) -> bool:
    """Whether a record of `tooth_records` is of a rolled tooth, whole in the picture and hardly hidden."""
    return bool(tooth["rolled"] and tooth["visible_fraction"] >= CLEAR and tooth["fully_in_frame"])


def careful_view(
    rng: np.random.Generator,
    stage: Stage,
    dressed: DressedGear,
    up: NDArray[np.float64],
    flanks: tuple[FlankName, ...],
    size: int,
    mouth: Mouth | None = None,
) -> tuple[Camera, Labels, list[dict[str, Any]], Light]:
    """The best of some random views of a careful photographer: clear teeth, large in the picture.

    up: towards the ceiling (3,). size: long side in pixels. mouth: of the housing that the gear sits in, if
    it does. The stage is left lit by the light returned.
    """
    shape = dressed.gear.shape
    best: tuple[float, Camera, Any] | None = None
    stage.light_up(random_light(rng, random_camera(rng, shape, flanks[0], 0, 64)[0], np.zeros(3), up))
    wish = "clear" if len(flanks) == 1 else "both"
    for _ in range(24):
        tooth = int(rng.choice([t for t in dressed.painted[1:-1] if dressed.state(t) != "wet"]))
        if mouth is None:
            camera, middle = random_camera(rng, shape, flanks[0], tooth, size, wish)
        else:
            camera, middle = mouth_camera(rng, shape, mouth, up, tooth, size, close=True)
        camera = replace(camera, aperture=min(camera.aperture, 0.5))
        rough = labels_of(stage.hits(camera, max(1, size // 100)), dressed)
        clear = [
            [t for t in tooth_records(stage, dressed, camera, f, rough) if well_visible(t)] for f in flanks
        ]
        share = float((of_flanks(rough, *flanks) & rough.painted).mean())
        enough = 0.28 if mouth is None else 0.05  # there the housing shall be seen too
        marks = sum(min(len(teeth), 5) for teeth in clear) + 16 * min(share, enough)
        asked = float(of_flanks(rough, *flanks).mean())
        if mouth is not None and asked < 0.6 * float((rough.flank > 0).mean()):
            marks -= 8  # the other flank shows more
        if len(flanks) == 2:
            marks += 5 * min(len(teeth) for teeth in clear)
        if best is None or marks > best[0]:
            best = (marks, camera, middle)
    assert best is not None
    _, camera, middle = best
    labels = labels_of(stage.hits(camera), dressed)
    light = _careful_light(rng, stage, camera, middle, up, of_flanks(labels, *flanks))
    stage.light_up(light)
    records = [t for f in flanks for t in tooth_records(stage, dressed, camera, f, labels)]
    return camera, labels, records, light


def _careful_light(
    rng: np.random.Generator,
    stage: Stage,
    camera: Camera,
    middle: NDArray[np.float64],
    up: NDArray[np.float64],
    shown: NDArray[np.bool_],
) -> Light:
    """Of some lamps, those with the least glare and deep shadow on the flanks shown."""
    best: tuple[float, Light] | None = None
    for _ in range(6):
        light = random_light(rng, camera, middle, up)
        stage.light_up(light)
        image, _ = stage.picture(camera, 9, 1, 96 / max(camera.width, camera.height))
        small = cv2.resize(shown.astype(np.float32), image.shape[1::-1], interpolation=cv2.INTER_AREA) > 0.5
        grey = image.mean(-1)[small]
        low, mid, high = np.percentile(grey, [10, 50, 95])
        fault = float(np.log((high + 1e-6) / (mid + 1e-6)) + 0.5 * np.log((mid + 1e-6) / (low + 1e-6)))
        if best is None or fault < best[0]:
            best = (fault, light)
    assert best is not None
    return best[1]


def careful_development(rng: np.random.Generator) -> Development:
    """Little noise and blur, no movement, a good exposure."""
    noise = float(rng.uniform(0.004, 0.012))
    return replace(
        random_development(rng),
        ev=float(rng.normal(0, 0.2)),
        blur=float(rng.uniform(0.1, 0.3)),
        motion=0.0,
        noise=(noise, 0.3 * noise),
        denoise=float(rng.uniform(0.2, 0.5)),
        saturation=float(rng.uniform(0.95, 1.15)),
        contrast=float(rng.uniform(0.95, 1.15)),
        quality=int(rng.integers(80, 90)),
        shrink=1.0,
    )
