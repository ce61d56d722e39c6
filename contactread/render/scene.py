"""One scene for the path tracer: always the same shapes in the same order, so its kernels are reused.

Unused shapes are a speck far away and unused lamps are dark. Import this module only after choosing a
variant with `use_variant`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from contactread.render.camera import Camera
from contactread.render.dressed_gear import DressedGear
from contactread.render.lights import Light
from contactread.render.patches import Patch, nothing
from contactread.render.steel import Finish
from contactread.render.surroundings import Surroundings, Thing

Field = NDArray[np.float32]
SHAPES = ("convex", "concave", "rest", "body", "case", "housing", "backdrop", "soft", "clutter")
GEAR_SHAPES = SHAPES[:4]


def use_variant(variant: str) -> None:
    """Choose mitsuba's backend: cuda_ad_rgb or llvm_ad_rgb (a scalar one can't trace labels)."""
    import mitsuba as mi

    if not variant.startswith(("cuda", "llvm")):
        raise ValueError(f"the renderer needs a cuda or llvm variant, not {variant!r}")
    mi.set_variant(variant)


def _texture(data: Field, wrap: str = "repeat") -> dict[str, Any]:
    import mitsuba as mi

    return {
        "type": "bitmap",
        "data": mi.TensorXf(np.ascontiguousarray(data)),
        "raw": True,
        "filter_type": "bilinear",
        "wrap_mode": wrap,
    }


def _shape(name: str, patch: Patch, look: Finish) -> Any:
    import mitsuba as mi

    bsdf = mi.load_dict(
        {
            "type": "twosided",
            "inner": {
                "type": "bumpmap",
                "height": _texture(look.height),
                "scale": 1.0,
                "coat": {
                    "type": "principled",
                    "base_color": _texture(look.colour),
                    "roughness": _texture(look.rough),
                    "metallic": _texture(look.metal),
                    "specular": 0.5,
                },
            },
        }
    )
    props = mi.Properties()
    props["bsdf"] = bsdf
    mesh = mi.Mesh(
        name,
        vertex_count=len(patch.points),
        face_count=len(patch.faces),
        has_vertex_normals=True,
        has_vertex_texcoords=True,
        props=props,
    )
    values = mi.traverse(mesh)
    values["vertex_positions"] = np.ascontiguousarray(patch.points, np.float32).ravel()
    values["vertex_normals"] = np.ascontiguousarray(patch.normals, np.float32).ravel()
    values["vertex_texcoords"] = np.ascontiguousarray(patch.uv, np.float32).ravel()
    values["faces"] = np.ascontiguousarray(patch.faces, np.uint32).ravel()
    values.update()
    return mesh


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

    def __init__(self, dressed: DressedGear | None, around: Surroundings, instead: Thing | None = None) -> None:
        """instead: a thing in place of the ring gear (a spur gear, say)."""
        things: dict[str, tuple[Patch, Finish]] = {}
        blank = around.backdrop.finish
        for name in GEAR_SHAPES:
            if dressed is not None:
                things[name] = (dressed.meshes[name], dressed.finishes[name])
            elif name == "rest" and instead is not None:
                things[name] = (instead.mesh, instead.finish)
            else:
                things[name] = (nothing(), blank)
        for name, thing in zip(SHAPES[4:], around.things(), strict=True):
            things[name] = (thing.mesh, thing.finish)
        self._meshes = {name: _shape(name, *things[name]) for name in SHAPES}
        self._scene: Any = None

    @property
    def ready(self) -> bool:
        """Whether there is something to trace: `light_up` was called."""
        return self._scene is not None

    def light_up(self, light: Light) -> None:
        import mitsuba as mi

        plan: dict[str, Any] = {"type": "scene", **self._meshes}
        for i, lamp in enumerate(light.lamps):
            plan[f"lamp{i}"] = {
                "type": "rectangle",
                "to_world": mi.ScalarTransform4f(lamp.matrix()),
                "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.2}},
                "emitter": {
                    "type": "area",
                    "radiance": {"type": "rgb", "value": [float(c) for c in lamp.radiance]},
                    "sampling_weight": 1.0 if lamp.lit else 1e-3,
                },
            }
        plan["dome"] = {
            "type": "envmap",
            "bitmap": mi.Bitmap(light.dome),
            "sampling_weight": 0.9,
        }
        plan["integrator"] = {"type": "path", "max_depth": 4, "rr_depth": 10}
        self._scene = mi.load_dict(plan)
        registered = {s.id(): s for s in self._scene.shapes()}
        self._ids = np.full(len(SHAPES), -1, np.int64)
        for i, name in enumerate(SHAPES):
            self._ids[i] = int(_index_of(registered[name]))

    def hits(self, camera: Camera, step: int = 1) -> Hits:
        """Trace one ray through every `step`-th pixel centre, lens distortion included."""
        return self.hits_at(camera, camera.pixel_grid(step))

    def hits_at(self, camera: Camera, pixels: NDArray[np.float64]) -> Hits:
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
        """Linear picture (rows, columns, 3) of an undistorted lens, and how much wider it sees.

        scale: pixels of the traced picture per finished pixel.
        """
        import mitsuba as mi

        wide = camera.overscan()
        columns, rows = round(camera.width * scale), round(camera.height * scale)
        fov = 2 * np.degrees(np.arctan(wide * camera.width / 2 / camera.focal_px))
        down = camera.axes[1]
        sensor = mi.load_dict(
            {
                "type": "thinlens",
                "to_world": mi.ScalarTransform4f().look_at(
                    origin=[float(c) for c in camera.origin],
                    target=[float(c) for c in camera.origin + 100 * camera.axes[2]],
                    up=[float(-c) for c in down],
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
                "sampler": {"type": "independent", "sample_count": samples},
            }
        )
        image = mi.render(self._scene, sensor=sensor, spp=samples, seed=seed)
        out = np.nan_to_num(np.array(image, dtype=np.float32), nan=0.0, posinf=0.0)
        return out, wide


def _index_of(shape: Any) -> Any:
    import drjit as dr
    import mitsuba as mi

    return np.array(dr.reinterpret_array(mi.UInt32, mi.ShapePtr(shape)))[0]
