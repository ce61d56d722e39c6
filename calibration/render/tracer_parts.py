"""Patches and finishes as parts of mitsuba, the path tracer; its variant must be chosen before."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.render.patches import Patch
from calibration.render.steel import Finish

Field = NDArray[np.float32]


def _texture(data: Field, wrap: str = "repeat") -> dict[str, Any]:
    import mitsuba as mi

    return {
        "type": "bitmap",
        "data": mi.TensorXf(np.ascontiguousarray(data)),
        "raw": True,
        "filter_type": "bilinear",
        "wrap_mode": wrap,
    }


def coat(look: Finish) -> Any:
    """The material of a finish."""
    import mitsuba as mi

    return mi.load_dict(
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


def mesh(name: str, patch: Patch, **parts: Any) -> Any:
    """A mitsuba mesh; parts: its bsdf and, for a lamp, its emitter."""
    import mitsuba as mi

    props = mi.Properties()
    for key, part in parts.items():
        props[key] = part
    made = mi.Mesh(
        name,
        vertex_count=len(patch.points),
        face_count=len(patch.faces),
        has_vertex_normals=True,
        has_vertex_texcoords=True,
        props=props,
    )
    values = mi.traverse(made)
    values["vertex_positions"] = np.ascontiguousarray(patch.points, np.float32).ravel()
    values["vertex_normals"] = np.ascontiguousarray(patch.normals, np.float32).ravel()
    values["vertex_texcoords"] = np.ascontiguousarray(patch.uv, np.float32).ravel()
    values["faces"] = np.ascontiguousarray(patch.faces, np.uint32).ravel()
    values.update()
    return made


def same_size(look: Finish, size: tuple[int, int]) -> Finish:
    """All maps at one size (rows, columns): the size of a texture is compiled into the kernel."""

    def fit(field: Field) -> Field:
        if field.shape[:2] == size:
            return field
        out = cv2.resize(field, size[::-1], interpolation=cv2.INTER_AREA)
        return np.asarray(out.reshape(*size, field.shape[2]), np.float32)

    return Finish(fit(look.colour), fit(look.rough), fit(look.metal), fit(look.height))


def make_opaque(thing: Any, names: tuple[str, ...] = ("",)) -> None:
    """Turn numbers of a sensor or of lamps into data, so that a new value needs no new kernel."""
    import drjit as dr
    import mitsuba as mi

    values = mi.traverse(thing)
    for key in list(dict(values)):
        if key.startswith(names) and dr.is_jit_v(values[key]):
            value = values[key]
            dr.make_opaque(value)
            values[key] = value
    values.update()


def index_of(shape: Any) -> Any:
    """The number by which a ray's hit names this shape."""
    import drjit as dr
    import mitsuba as mi

    return np.array(dr.reinterpret_array(mi.UInt32, mi.ShapePtr(shape)))[0]
