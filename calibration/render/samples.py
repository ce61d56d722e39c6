"""Renders sample_images/: the set-ups of one invented shop, with truth.

    python -m calibration.render.samples sample_images [--only NAME ...] [--samples 48] [--size 1600]

Reads FOLDER/setups.toml. For each set-up writes FOLDER/NAME/{drive,coast}.jpg, .json (truth),
_mask.png, _corners.json and axle.toml (both.* where one picture shows both flanks); for each picture to
be refused FOLDER/refused/NAME.jpg and .json.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
import zlib
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from calibration.render.camera import Camera
from calibration.render.camera_post import Development, develop, jpeg, meter, undistorted_to_distorted
from calibration.render.careful import careful_development, careful_view, well_visible
from calibration.render.compound import PAINTED, State, careful_compound
from calibration.render.dressed_gear import FLANKS, DressedGear, dress
from calibration.render.from_axle import contact_regions, shape_of
from calibration.render.labels import mask_of, of_flanks
from calibration.render.lesson import Clock, random_subject, view_of
from calibration.render.lights import Light
from calibration.render.recipe import SetUp, read_refused, read_set_ups
from calibration.render.scene import Stage, use_variant
from calibration.render.steel import random_steel
from calibration.render.surroundings import random_surroundings
from contactread.axle import FlankName
from contactread.axle_file import axle_toml
from contactread.mesh.response import FILM_MM, MeshModel

TILE = (160, 704)
SIDES: dict[str, FlankName] = {"drive": "convex", "coast": "concave"}


def render_set_up(setup: SetUp, folder: Path, size: int, samples: int, scale: float = 1.0) -> None:
    """Both pictures of one set-up and everything beside them. scale: traced over finished pixels."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng([zlib.crc32(setup.name.encode()), setup.seed])
    model = MeshModel(setup.axle, film_mm=FILM_MM * setup.film)
    shape = shape_of(model.blank)
    compound = replace(
        careful_compound(rng, setup.colour), polarity="printed" if setup.printed else "pressed_away"
    )
    steel = random_steel(rng)
    while steel.finish != setup.finish or steel.rust > 0.15:
        steel = random_steel(rng)
    first = dress(rng, shape, steel, None, 0, (8, 16))  # for the flank's size only
    regions = {
        flank: contact_regions(model, flank, setup.at, setup.runout_mm, first.size, TILE, rng)
        for flank in FLANKS
    }
    rolled: State = "print" if setup.printed else "wiped"
    wet: State = "wet"
    states = (wet,) * setup.wet + (rolled,) * (PAINTED - setup.wet)
    count = int(rng.integers(7, 12))
    dressed = dress(rng, shape, steel, compound, count, TILE, FLANKS, regions, states, 3 if setup.wet else 0)
    around = random_surroundings(
        rng, shape, 0.0, kind=setup.scene, compound=compound, sober=setup.scene == "mouth"
    )
    stage = Stage(dressed, around, depth=4, film_aspect=None)
    (folder / "axle.toml").write_text(axle_toml(setup.axle), encoding="utf-8")
    names = ["both"] if setup.both else list(SIDES)
    for name in names:
        started = time.time()
        seed = setup.coast_seed if name == "coast" else setup.drive_seed
        view = np.random.default_rng([zlib.crc32(setup.name.encode()), seed, name == "drive"])
        flanks = FLANKS if name == "both" else (SIDES[name],)
        camera, labels, records, light = careful_view(
            view, stage, dressed, around.up, flanks, size, around.mouth
        )
        linear, per_pixel = stage.picture(camera, samples, int(view.integers(2**31)), scale)
        plan = careful_development(view)
        image = undistorted_to_distorted(linear, camera, per_pixel)
        eight = develop(image, plan, view, meter(image, of_flanks(labels, *flanks)))
        (folder / f"{name}.jpg").write_bytes(jpeg(eight, plan.quality))
        ok, png = cv2.imencode(".png", mask_of(labels, *flanks))
        if not ok:
            raise ValueError("the mask could not be encoded as PNG")
        (folder / f"{name}_mask.png").write_bytes(bytes(png))
        truth = truth_of(setup, dressed, camera, plan, flanks, around.kind, light, records, name)
        (folder / f"{name}.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
        clear = [t["corners_px"] for t in records if well_visible(t)]
        if not setup.both:
            corners = json.dumps({"teeth": clear}, indent=1) + "\n"
            (folder / f"{name}_corners.json").write_text(corners, encoding="utf-8")
        print(
            f"{setup.name} {name}: {len(clear)} clear teeth, {time.time() - started:.0f} s",
            file=sys.stderr,
            flush=True,
        )


def render_refused(name: str, entry: dict[str, Any], folder: Path, size: int, samples: int) -> None:
    """One picture that holds nothing to read, and its truth."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng([zlib.crc32(name.encode()), entry.get("seed", 0)])
    tick = Clock({})
    subject = random_subject(rng, tick, entry["kind"])
    lesson = view_of(rng, subject, entry.get("wish"), samples, size, tick)
    (folder / f"{name}.jpg").write_bytes(lesson.jpeg)
    record = {"image": f"{name}.jpg", "invented": True, **lesson.record}
    (folder / f"{name}.json").write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")
    print(f"refused {name}", file=sys.stderr, flush=True)


def truth_of(
    setup: SetUp,
    dressed: DressedGear,
    camera: Camera,
    plan: Development,
    flanks: tuple[FlankName, ...],
    scene: str,
    light: Light,
    records: list[dict[str, Any]],
    name: str,
) -> dict[str, Any]:
    """What is really so in one picture."""
    asked = [t for t in records if t["painted"] and t["contact"]]
    centres = np.array([t["contact"]["centroid_uv"] for t in asked])
    return {
        "image": f"{name}.jpg",
        "mask": f"{name}_mask.png",
        "width": camera.width,
        "height": camera.height,
        "negative": None,
        "tags": [],
        "invented": True,
        "says": setup.says,
        "gear": asdict(dressed.gear.shape),
        "hand": dressed.gear.shape.hand,
        "flank_shown": flanks[0] if len(flanks) == 1 else None,
        "side": name if name in SIDES else None,
        "rotation": setup.axle.rotation,
        "displacement": asdict(setup.at) | {"runout": setup.runout_mm},
        "compound": asdict(dressed.compound) if dressed.compound else None,
        "steel": dressed.steel.finish,
        "scene": scene,
        "lighting": list(light.names),
        "camera": {
            "origin": camera.origin.tolist(),
            "axes": camera.axes.tolist(),
            "focal_px": camera.focal_px,
            "k1": camera.k1,
            "k2": camera.k2,
            "model": "pixels: distort(centre + focal_px * (x, y) / z), (x, y, z) = axes (X - origin), mm;"
            " undistorted p: centre + (p - centre)(1 + k1 r^2 + k2 r^4), r over half the diagonal",
        },
        "gear_truth": {
            "mean_centroid_uv": centres.mean(0).tolist() if len(centres) else None,
            "std_centroid_uv": centres.std(0).tolist() if len(centres) else None,
            "n_teeth": len(asked),
        },
        "post": plan.as_dict(),
        "teeth": records,
    }


def main() -> int:
    """Read the command line and render; 0."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, help="write here instead of FOLDER")
    parser.add_argument("--only", nargs="*", default=None)
    parser.add_argument("--samples", type=int, default=48, help="per pixel")
    parser.add_argument("--size", type=int, default=1600, help="long side in pixels")
    parser.add_argument("--scale", type=float, default=1.0, help="traced pixels per finished pixel")
    parser.add_argument("--variant", choices=["llvm_ad_rgb", "cuda_ad_rgb"], default="llvm_ad_rgb")
    args = parser.parse_args()
    use_variant(args.variant)
    out = args.out or args.folder
    recipe = args.folder / "setups.toml"
    for setup in read_set_ups(recipe):
        if args.only is None or setup.name in args.only:
            render_set_up(setup, out / setup.name, args.size, args.samples, args.scale)
    for name, entry in read_refused(recipe).items():
        if args.only is None or name in args.only:
            render_refused(name, entry, out / "refused", 1024, args.samples)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
