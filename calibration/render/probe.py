"""Trace a small scene with the LLVM that the environment names, to see whether it can. `llvm.py` runs this.

The scene's kernel is that of every picture, so an LLVM that can't compile it fails here; what was compiled
is kept (mitsuba's own cache), so the next process has it.
"""

from __future__ import annotations

import numpy as np

from calibration.render.camera import Camera
from calibration.render.gear_shape import RingGearShape
from calibration.render.lights import random_light
from calibration.render.scene import Stage, use_variant
from calibration.render.surroundings import random_surroundings


def main() -> None:
    use_variant("llvm_ad_rgb")
    rng = np.random.default_rng(1)
    shape = RingGearShape()
    stage = Stage(None, random_surroundings(rng, shape, 0.0, kind="bench"))
    middle = np.array([0.0, 0.0, 0.0])
    camera = Camera(np.array([0.0, 0.0, 300.0]), middle, np.array([0.0, 1.0, 0.0]), 20, 16, 12, 0.05)
    stage.light_up(random_light(rng, camera, middle, np.array([0, 0, 1.0])))
    stage.hits(camera)
    layers, _ = stage.layers(camera, 4, 1)
    if not np.isfinite(layers).all() or layers.max() <= 0:
        raise SystemExit("the traced picture is empty")


if __name__ == "__main__":
    main()
