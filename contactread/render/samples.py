"""Renders sample_images/: the set-ups of one invented shop, with truth.

    python -m contactread.render.samples sample_images [--only NAME ...] [--samples 48] [--size 1600]

Reads FOLDER/setups.toml. For each set-up writes FOLDER/NAME/{drive,coast}.jpg, .json (truth),
_mask.png, _corners.json and axle.toml (both.* where one picture shows both flanks); for each picture to
be refused FOLDER/refused/NAME.jpg and .json.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
import tomllib
import zlib
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.axle import Axle, Carrier, FlankName, GearSet, Limits, PinionShim
from contactread.axle_file import axle_toml
from contactread.mesh.kinematics import Displacement
from contactread.mesh.response import FILM_MM, MeshModel
from contactread.render.camera import Camera
from contactread.render.camera_post import (
    Development,
    develop,
    jpeg,
    meter,
    random_development,
    undistorted_to_distorted,
)
from contactread.render.compound import random_compound
from contactread.render.dressed_gear import FLANKS, DressedGear, dress
from contactread.render.from_axle import contact_regions, shape_of
from contactread.render.labels import Labels, labels_of, mask_of, tooth_records
from contactread.render.lesson import Clock, random_subject, view_of
from contactread.render.lights import Light, random_light
from contactread.render.scene import Stage, use_variant
from contactread.render.steel import random_steel
from contactread.render.surroundings import random_surroundings
from contactread.render.viewpoint import random_camera

TILE = (160, 704)
SIDES: dict[str, FlankName] = {"drive": "convex", "coast": "concave"}
CLEAR = 0.85  # a painted tooth counts as well visible from this share on


@dataclass(frozen=True)
class SetUp:
    """One entry of setups.toml. Moves and runout in mm, signs as in `Displacement`; film: times usual.
    both: one picture that shows drive and coast flanks, in place of one each."""

    name: str
    axle: Axle
    says: str
    colour: str
    finish: str
    scene: str
    pinion_mm: float = 0.0
    ring_mm: float = 0.0
    runout_mm: float = 0.0
    shaft_angle_deg: float = 0.0
    film: float = 1.0
    printed: bool = False
    seed: int = 0
    drive_seed: int = 0
    coast_seed: int = 0
    both: bool = False

    @property
    def at(self) -> Displacement:
        return Displacement(self.pinion_mm, self.ring_mm, 0.0, float(np.radians(self.shaft_angle_deg)))


def read_set_ups(path: Path) -> list[SetUp]:
    """All set-ups of the recipe."""
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    out = []
    for name, entry in data["setup"].items():
        plan: dict[str, Any] = data["axle"][entry.pop("axle")]
        gears = GearSet(**{**plan["gears"], "condition": entry.pop("condition", "new")})
        limits: dict[str, Any] = {
            k: tuple(v) if isinstance(v, list) else v for k, v in plan["limits"].items()
        }
        axle = Axle(
            gears,
            plan["name"],
            pinion_shim=PinionShim(**plan["pinion_shim"]),
            carrier=Carrier(**plan["carrier"]),
            limits=Limits(**limits),
        )
        out.append(SetUp(name=name, axle=axle, **entry))
    return out


def render_set_up(setup: SetUp, folder: Path, size: int, samples: int, scale: float = 1.0) -> None:
    """Both pictures of one set-up and everything beside them. scale: traced over finished pixels."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng([zlib.crc32(setup.name.encode()), setup.seed])
    model = MeshModel(setup.axle, film_mm=FILM_MM * setup.film)
    shape = shape_of(model.blank)
    compound = replace(
        random_compound(rng, setup.colour),
        polarity="printed" if setup.printed else "pressed_away",
        thickness=float(rng.uniform(0.07, 0.14)),
        opaque=float(rng.uniform(0.012, 0.025)),
        miss=float(rng.uniform(-3.4, -2.5)),
        smear=float(rng.uniform(0.001, 0.006)),
        feather=float(rng.uniform(0.15, 0.5)),
        patchy=float(rng.uniform(-1.8, -0.9)),
        brush=float(rng.uniform(0.15, 0.45)),
        stray=float(rng.uniform(0, 0.4)),
    )
    steel = random_steel(rng)
    while steel.finish != setup.finish or steel.rust > 0.15:
        steel = random_steel(rng)
    first = dress(rng, shape, steel, None, 0, (8, 16))  # for the flank's size only
    regions = {
        flank: contact_regions(model, flank, setup.at, setup.runout_mm, first.size, TILE, rng)
        for flank in FLANKS
    }
    dressed = dress(rng, shape, steel, compound, int(rng.integers(7, 12)), TILE, FLANKS, regions)
    around = random_surroundings(rng, shape, 0.0, kind=setup.scene)
    stage = Stage(dressed, around, depth=4, film_aspect=None)
    (folder / "axle.toml").write_text(axle_toml(setup.axle), encoding="utf-8")
    names = ["both"] if setup.both else list(SIDES)
    for name in names:
        started = time.time()
        seed = setup.coast_seed if name == "coast" else setup.drive_seed
        view = np.random.default_rng([zlib.crc32(setup.name.encode()), seed, name == "drive"])
        flanks = FLANKS if name == "both" else (SIDES[name],)
        camera, labels, records, light = _careful_view(view, stage, dressed, around.up, flanks, size)
        linear, per_pixel = stage.picture(camera, samples, int(view.integers(2**31)), scale)
        plan = _careful_development(view)
        image = undistorted_to_distorted(linear, camera, per_pixel)
        eight = develop(image, plan, view, meter(image, _of(labels, flanks)))
        (folder / f"{name}.jpg").write_bytes(jpeg(eight, plan.quality))
        ok, png = cv2.imencode(".png", mask_of(labels, *flanks))
        if not ok:
            raise ValueError("the mask could not be encoded as PNG")
        (folder / f"{name}_mask.png").write_bytes(bytes(png))
        truth = truth_of(setup, dressed, camera, plan, flanks, around.kind, light, records, name)
        (folder / f"{name}.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
        clear = [t["corners_px"] for t in records if _well_visible(t)]
        if not setup.both:
            corners = json.dumps({"teeth": clear}, indent=1) + "\n"
            (folder / f"{name}_corners.json").write_text(corners, encoding="utf-8")
        print(
            f"{setup.name} {name}: {len(clear)} clear teeth, {time.time() - started:.0f} s",
            file=sys.stderr,
            flush=True,
        )


def _of(labels: Labels, flanks: tuple[FlankName, ...]) -> NDArray[np.bool_]:
    """Pixels of any of these flanks."""
    return np.isin(labels.flank, [FLANKS.index(f) + 1 for f in flanks])


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


def _well_visible(tooth: dict[str, Any]) -> bool:
    return bool(tooth["painted"] and tooth["visible_fraction"] >= CLEAR and tooth["fully_in_frame"])


def _careful_view(
    rng: np.random.Generator,
    stage: Stage,
    dressed: DressedGear,
    up: NDArray[np.float64],
    flanks: tuple[FlankName, ...],
    size: int,
) -> tuple[Camera, Labels, list[dict[str, Any]], Light]:
    """The best of some random views of a careful photographer: clear teeth, large in the picture."""
    shape = dressed.gear.shape
    best: tuple[float, Camera, Any] | None = None
    stage.light_up(random_light(rng, random_camera(rng, shape, flanks[0], 0, 64)[0], np.zeros(3), up))
    wish = "clear" if len(flanks) == 1 else "both"
    for _ in range(24):
        tooth = int(rng.choice(dressed.painted[1:-1]))
        camera, middle = random_camera(rng, shape, flanks[0], tooth, size, wish)
        camera = replace(camera, aperture=min(camera.aperture, 0.5))
        rough = labels_of(stage.hits(camera, max(1, size // 100)), dressed)
        clear = [
            [t for t in tooth_records(stage, dressed, camera, f, rough) if _well_visible(t)] for f in flanks
        ]
        share = float((_of(rough, flanks) & rough.painted).mean())
        marks = sum(min(len(teeth), 5) for teeth in clear) + 16 * min(share, 0.28)
        if len(flanks) == 2:
            marks += 5 * min(len(teeth) for teeth in clear)
        if best is None or marks > best[0]:
            best = (marks, camera, middle)
    assert best is not None
    _, camera, middle = best
    labels = labels_of(stage.hits(camera), dressed)
    light = _careful_light(rng, stage, camera, middle, up, _of(labels, flanks))
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


def _careful_development(rng: np.random.Generator) -> Development:
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
    for setup in read_set_ups(args.folder / "setups.toml"):
        if args.only is None or setup.name in args.only:
            render_set_up(setup, out / setup.name, args.size, args.samples, args.scale)
    refused = tomllib.loads((args.folder / "setups.toml").read_text(encoding="utf-8"))["refused"]
    for name, entry in refused.items():
        if args.only is None or name in args.only:
            render_refused(name, entry, out / "refused", 1024, args.samples)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
