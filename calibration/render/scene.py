"""One scene for the path tracer: always the same shapes in the same order, so its kernels are reused.

Unused shapes are a speck far away and unused lamps are dark. Call `use_variant` before making a `Stage`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration.render.camera import Camera
from calibration.render.dressed_gear import DressedGear
from calibration.render.grain import despeckle, smooth
from calibration.render.lights import Light
from calibration.render.llvm import choose_llvm
from calibration.render.patches import Patch, nothing, quad
from calibration.render.steel import Finish
from calibration.render.surroundings import Surroundings, Thing
from calibration.render.tracer_parts import coat, index_of, make_opaque, mesh, same_size

Field = NDArray[np.float32]
SHAPES = (
    "convex", "concave", "rest", "body",
    "case", "housing", "backdrop", "soft", "clutter", "flange", "trim", "grease",
)  # fmt: skip
GEAR_SHAPES = SHAPES[:4]
FILM_ASPECT = 0.75
SAMPLER = "multijitter"
STRATA = (4, 6, 9, 12, 16, 20, 25, 30, 36, 42, 49, 56, 64)  # sample counts it can divide evenly
MOST_SAMPLES = 1.6e7  # traced at once; more go in passes, to bound memory
USUAL_SIZE = {"convex": (1600, 352), "concave": (1600, 352), "rest": (1280, 160), "body": (128, 512)}


def use_variant(variant: str) -> None:
    """Choose mitsuba's backend: cuda_ad_rgb or llvm_ad_rgb (a scalar one can't trace labels).

    For llvm, the library is chosen first (`llvm.choose_llvm`). Raises RuntimeError where none will do.
    """
    if not variant.startswith(("cuda", "llvm")):
        raise ValueError(f"the renderer needs a cuda or llvm variant, not {variant!r}")
    if variant.startswith("llvm"):
        choose_llvm()
    import mitsuba as mi

    mi.set_variant(variant)


@dataclass(frozen=True, eq=False)
class Hits:
    """What the ray of each pixel centre meets. shape: index into SHAPES, -1 for nothing or a lamp;
    face: triangle number; uv: texture coordinates; distance: mm. Arrays (rows, columns[, 2])."""

    shape: NDArray[np.int64]
    face: NDArray[np.int64]
    uv: NDArray[np.float64]
    distance: NDArray[np.float64]


class Stage:
    """The shapes of one scene, loaded once; lamps and camera come with each view."""

    def __init__(
        self,
        dressed: DressedGear | None,
        around: Surroundings,
        instead: Thing | None = None,
        depth: int = 3,
        film_aspect: float | None = FILM_ASPECT,
    ) -> None:
        """instead: a thing in place of the ring gear (a spur gear, say). depth: of the light paths.

        film_aspect: short side of the film over its long side; None makes it each picture's own, which
        costs a kernel for each.
        """
        self._depth, self._film_aspect = depth, film_aspect
        things: dict[str, tuple[Patch, Finish]] = {}
        blank = around.case.finish
        for name in GEAR_SHAPES:
            if dressed is not None:
                things[name] = (dressed.meshes[name], dressed.finishes[name])
            elif name == "rest" and instead is not None:
                things[name] = (instead.mesh, same_size(instead.finish, USUAL_SIZE[name]))
            else:
                things[name] = (nothing(), same_size(blank, USUAL_SIZE[name]))
        for name, thing in zip(SHAPES[4:-1], around.things(), strict=True):
            things[name] = (thing.mesh, same_size(thing.finish, (256, 256)))
        bridge, look = (nothing(), blank) if dressed is None else dressed.grease
        things["grease"] = (bridge, same_size(look, (256, 256)))
        self._meshes = {name: mesh(name, patch, bsdf=coat(look)) for name, (patch, look) in things.items()}
        self._scene: Any = None

    @property
    def ready(self) -> bool:
        """Whether there is something to trace: `light_up` was called."""
        return self._scene is not None

    def light_up(self, light: Light) -> None:
        """Set these lamps and this dome in place of the last ones; needed before any tracing."""
        import mitsuba as mi

        self._scene = None  # let go of the last view's lamps first: their order is compiled in
        plan: dict[str, Any] = {"type": "scene", **self._meshes}
        shares = light.shares()
        for i, lamp in enumerate(light.lamps):
            shade = mi.load_dict({"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.2}})
            glow = mi.load_dict(
                {
                    "type": "area",
                    "radiance": {"type": "rgb", "value": [float(c) for c in lamp.radiance]},
                    "sampling_weight": shares[i],
                }
            )
            plan[f"lamp{i}"] = mesh(f"lamp{i}", quad(lamp.corners()), bsdf=shade, emitter=glow)
        plan["dome"] = {
            "type": "envmap",
            "bitmap": mi.Bitmap(light.dome),
            "sampling_weight": shares[-1],
        }
        plan["integrator"] = {
            "type": "aov",
            "aovs": "albedo:albedo",
            "inner": {"type": "path", "max_depth": self._depth, "rr_depth": 10},
        }
        self._scene = mi.load_dict(plan)
        make_opaque(self._scene, ("lamp", "dome"))
        registered = {s.id(): s for s in self._scene.shapes()}
        self._ids = np.full(len(SHAPES), -1, np.int64)
        for i, name in enumerate(SHAPES):
            self._ids[i] = int(index_of(registered[name]))

    def hits(self, camera: Camera, step: int = 1) -> Hits:
        """Trace one ray through every `step`-th pixel centre, lens distortion included."""
        return self.hits_at(camera, camera.pixel_grid(step))

    def hits_at(self, camera: Camera, pixels: NDArray[np.float64]) -> Hits:
        """Trace one ray through each pixel place (..., 2) of (x, y), lens distortion included."""
        import drjit as dr
        import mitsuba as mi

        direction = camera.directions(pixels).reshape(-1, 3).astype(np.float32)
        origin = [float(c) for c in camera.origin]
        rays = mi.Ray3f(mi.Point3f(*origin), mi.Vector3f(*np.ascontiguousarray(direction.T)))
        si = self._scene.ray_intersect(rays, mi.RayFlags.All, True)
        pointer = dr.reinterpret_array(mi.UInt32, si.shape)
        face, uv, t = si.prim_index, si.uv, si.t
        dr.eval(pointer, face, uv, t)
        found = np.array(pointer).astype(np.int64)
        shape = np.full(found.shape, -1, np.int64)
        for i, value in enumerate(self._ids):
            shape[found == value] = i
        size = pixels.shape[:-1]
        distance = np.array(t, dtype=np.float64)
        shape[~np.isfinite(distance)] = -1
        return Hits(
            shape.reshape(size),
            np.array(face).astype(np.int64).reshape(size),
            np.stack([np.array(uv.x), np.array(uv.y)], -1).astype(np.float64).reshape(*size, 2),
            distance.reshape(size),
        )

    def picture(self, camera: Camera, samples: int, seed: int, scale: float = 1.0) -> tuple[Field, float]:
        """Linear picture (rows, columns, 3), evened out; see `layers`."""
        both, per_pixel = self.layers(camera, samples, seed, scale)
        return smooth(both[..., :3], both[..., 3:], samples), per_pixel

    def layers(self, camera: Camera, samples: int, seed: int, scale: float = 1.0) -> tuple[Field, float]:
        """Linear light and albedo (rows, columns, 3 + 3) of an undistorted lens, and the scale at the
        middle: traced pixels per finished pixel. Its middle is the finished picture's middle.

        scale: long side of the traced picture over that of the finished one. The film always lies on
        its long side with one aspect, because its size is compiled into the kernel.
        """
        import mitsuba as mi

        right, down, forward = camera.axes
        upright = camera.height > camera.width
        long, short = max(camera.width, camera.height), min(camera.width, camera.height)
        columns = round(long * scale)
        aspect = self._film_aspect or short / long
        rows = round(columns * aspect)
        wide = camera.overscan() * max(1.0, short / (aspect * long))
        fov = 2 * np.degrees(np.arctan(wide * long / 2 / camera.focal_px))
        film_up = right if upright else -down
        passes = max(1, round(columns * rows * samples / MOST_SAMPLES))
        share = next((n for n in STRATA if n * passes >= samples), STRATA[-1])
        sensor = mi.load_dict(
            {
                "type": "thinlens",
                "to_world": mi.ScalarTransform4f().look_at(
                    origin=[float(c) for c in camera.origin],
                    target=[float(c) for c in camera.origin + 100 * forward],
                    up=[float(c) for c in film_up],
                ),
                "fov": float(fov),
                "fov_axis": "x",
                "aperture_radius": float(max(camera.aperture, 1e-3)),
                "focus_distance": float(camera.focus),
                "near_clip": 1.0,
                "far_clip": 1e5,
                "film": {
                    "type": "hdrfilm",
                    "width": columns,
                    "height": rows,
                    "rfilter": {"type": "box"},
                    "pixel_format": "rgb",
                    "component_format": "float32",
                },
                "sampler": {"type": SAMPLER, "sample_count": share},
            }
        )
        make_opaque(sensor)
        both = np.zeros((rows, columns, 6), np.float32)
        for i in range(passes):
            image = mi.render(self._scene, sensor=sensor, spp=share, seed=mi.UInt32(seed + i))
            part = np.nan_to_num(np.array(image, dtype=np.float32), nan=0.0, posinf=0.0)
            part[..., :3] = despeckle(part[..., :3])
            both += part / passes
        if upright:
            both = np.ascontiguousarray(np.rot90(both, -1))
        return both, columns / (long * wide)
