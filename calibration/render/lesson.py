"""Lessons for the finder: random scenes, several views of each, with labels and truth."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration.render.camera import Camera
from calibration.render.camera_post import (
    Development,
    develop,
    jpeg,
    meter,
    random_development,
    sober_development,
    undistorted_to_distorted,
)
from calibration.render.compound import careful_compound, random_compound, random_states
from calibration.render.dressed_gear import FLANKS, DressedGear, dress
from calibration.render.gear_shape import RingGearShape, random_shape
from calibration.render.labels import Labels, encode, flank_shown, labels_of, tooth_records
from calibration.render.lights import random_light
from calibration.render.other_parts import other_gear, other_part
from calibration.render.scene import Stage
from calibration.render.steel import random_steel
from calibration.render.surroundings import KINDS, Surroundings, random_surroundings
from calibration.render.viewpoint import mouth_camera, random_camera, whole_camera
from contactread.axle import FlankName

SUBJECTS = {"ring": 0.72, "no_compound": 0.13, "no_gear": 0.05, "other_gear": 0.1}
SOBER = 0.8  # share of the scenes as workshops usually are; the others are as wild as may be
CAREFUL = 0.6  # of these, share of the coats put on with care
UNROLLED = {"mouth": 0.6}  # chance by place that some painted teeth were never rolled
UNROLLED_ELSEWHERE = 0.35
TRIES = 12  # of a camera, until one sees enough
SPOILED = ("dark", "blurred", "tiny")  # wishes that leave nothing to read
WISHES = {"clear": 0.25, "dark": 0.025, "blurred": 0.025, "tiny": 0.025, "glare": 0.04, "edge_on": 0.02}


@dataclass(frozen=True, eq=False)
class Lesson:
    """One picture: jpeg bytes, label picture (see labels.encode), record for the truth line."""

    jpeg: bytes
    label: NDArray[np.uint8]
    record: dict[str, Any]


class Clock:
    """Adds the seconds since its last call to the named stage."""

    def __init__(self, spent: dict[str, float]) -> None:
        self._spent = spent
        self._last = time.perf_counter()

    def __call__(self, stage: str) -> None:
        now = time.perf_counter()
        self._spent[stage] = self._spent.get(stage, 0.0) + now - self._last
        self._last = now


@dataclass(frozen=True, eq=False)
class Subject:
    """What one scene shows. kind: a key of SUBJECTS. shape: of the ring gear, or of the one left out. sober:
    see SOBER."""

    kind: str
    shape: RingGearShape
    dressed: DressedGear | None
    around: Surroundings
    stage: Stage
    sober: bool


def random_subject(
    rng: np.random.Generator,
    tick: Clock,
    kind: str | None = None,
    place: str | None = None,
    sober: bool | None = None,
) -> Subject:
    """A random scene, of a given kind or any, at a given place (a kind of `Surroundings`) or any; sober or
    wild, or either (see SOBER)."""
    drawn = str(rng.choice(list(SUBJECTS), p=list(SUBJECTS.values())))
    kind = kind or drawn
    shape, steel = random_shape(rng), random_steel(rng)
    drawn_sober = rng.random() < SOBER
    sober = drawn_sober if sober is None else sober
    makes = careful_compound if sober and rng.random() < CAREFUL else random_compound
    compound = makes(rng) if kind != "no_compound" else None
    chosen = str(rng.choice(list(KINDS), p=list(KINDS.values())))
    place = place or (chosen if kind in ("ring", "no_compound") else None)
    dressed: DressedGear | None = None
    instead = None
    if kind in ("ring", "no_compound"):
        count = int(rng.integers(3, 14)) if rng.random() < 0.9 else 99
        one_side = rng.random()
        sides: tuple[FlankName, ...] = FLANKS if one_side < 0.75 else (FLANKS[int(one_side < 0.875)],)
        unrolled = UNROLLED.get(place or "", UNROLLED_ELSEWHERE)
        states = random_states(rng, compound, unrolled) if compound is not None else None
        flecked = int(rng.integers(0, 12)) if rng.random() < 0.5 else 0
        dressed = dress(
            rng, shape, steel, compound, count, flanks=sides, states=states, flecked_count=flecked
        )
    elif kind == "other_gear":
        painted = compound if rng.random() < 0.75 else None
        instead = other_gear(rng, shape.diameter / 2 * float(rng.uniform(0.3, 1)), steel, painted)
    elif rng.random() < 0.85:
        painted = compound if rng.random() < 0.5 else None
        instead = other_part(rng, shape.diameter / 2 * float(rng.uniform(0.4, 1)), steel, painted)
    if place is None and dressed is None and rng.random() < 0.75:
        place = "bench"  # there a part is seen best
    around = random_surroundings(rng, shape, 0.0, dressed is not None, place, compound, sober)
    tick("textures and solids")
    stage = Stage(dressed, around, instead)
    tick("load")
    return Subject(kind, shape, dressed, around, stage, sober)


def scene_of_lessons(
    rng: np.random.Generator,
    views: int,
    samples: int,
    long_side: int = 640,
    clock: dict[str, float] | None = None,
) -> Iterator[Lesson]:
    """Views of one random scene. clock: seconds spent per stage are added to it."""
    tick = Clock({} if clock is None else clock)
    subject = random_subject(rng, tick)
    for _ in range(views):
        wish = None
        if subject.kind == "ring" and rng.random() < sum(WISHES.values()):
            odds = np.array(list(WISHES.values()))
            wish = str(rng.choice(list(WISHES), p=odds / odds.sum()))
        if wish == "clear" and subject.around.mouth is not None:
            wish = None  # a camera that asks for nothing else would look through the housing
        yield view_of(rng, subject, wish, samples, long_side, tick)


def view_of(
    rng: np.random.Generator, subject: Subject, wish: str | None, samples: int, long_side: int, tick: Clock
) -> Lesson:
    """One picture of a scene. wish: a key of WISHES, "mouth" (all of an open housing), or None."""
    stage, dressed = subject.stage, subject.dressed
    camera, labels, middle = _look(rng, subject, long_side, wish, tick)
    flash = subject.around.mouth is not None and rng.random() < 0.45
    light = random_light(rng, camera, middle, subject.around.up, wish == "glare", flash)
    stage.light_up(light)
    tick("load")
    linear, scale = stage.picture(camera, samples, int(rng.integers(2**31)))
    tick("trace")
    plan: Development = (sober_development if subject.sober else random_development)(rng, wish)
    image = undistorted_to_distorted(linear, camera, scale)
    spot = labels.gear & (labels.flank > 0)
    # A phone that looks into a housing exposes for the whole picture, at times for what is bright in it.
    everything = subject.around.mouth is not None and rng.random() < 0.5
    eight = develop(image, plan, rng, meter(image, None if everything else spot))
    data = jpeg(eight, plan.quality)
    tick("camera")
    flank = flank_shown(labels)
    teeth = tooth_records(stage, dressed, camera, flank, labels) if dressed is not None and flank else []
    negative = subject.kind if subject.kind != "ring" else wish if wish in SPOILED else None
    seen = [t for t in teeth if t["painted"] and t["visible_fraction"] > 0.2]
    if negative is None and not seen:
        negative = "nothing_to_read"
    elif negative is None and not any(t["rolled"] for t in seen):
        negative = "wet-unrolled"
    record = {
        "negative": negative,
        "tags": [wish] if wish else [],
        "width": camera.width,
        "height": camera.height,
        "flank_shown": flank,
        "side": {"convex": "drive", "concave": "coast"}.get(flank or ""),
        "gear": asdict(subject.shape) if dressed is not None else None,
        "hand": subject.shape.hand if dressed is not None else None,
        "compound": asdict(dressed.compound) if dressed is not None and dressed.compound else None,
        "steel": dressed.steel.finish if dressed is not None else None,
        "scene": subject.around.kind,
        "lighting": list(light.names),
        "teeth": teeth,
    }
    tick("labels")
    return Lesson(data, encode(labels), record)


def _look(
    rng: np.random.Generator, subject: Subject, long_side: int, wish: str | None, tick: Clock
) -> tuple[Camera, Labels, NDArray[np.float64]]:
    """A camera that sees something of the wanted flank; the last of TRIES is taken as it is."""
    stage, dressed, shape = subject.stage, subject.dressed, subject.shape
    if not stage.ready:
        camera = random_camera(rng, shape, "convex", 0, 64)[0]
        stage.light_up(random_light(rng, camera, np.zeros(3), subject.around.up))
        tick("load")
    painted = dressed.painted if dressed is not None and dressed.painted else tuple(range(shape.teeth))
    choice = [f for f in FLANKS if dressed is None or not dressed.layers or f in dressed.layers]
    for attempt in range(TRIES):
        flank = choice[int(rng.integers(len(choice)))]
        tooth = int(rng.choice(painted)) if rng.random() < 0.85 else int(rng.integers(shape.teeth))
        mouth = subject.around.mouth
        if mouth is not None and (wish == "mouth" or (wish is None and rng.random() < 0.85)):
            close = wish != "mouth" and rng.random() < 0.6
            camera, middle = mouth_camera(rng, shape, mouth, subject.around.up, tooth, long_side, close)
        elif mouth is None and wish is None and rng.random() < (0.12 if subject.kind == "ring" else 0.5):
            camera, middle = whole_camera(rng, shape.diameter / 2, long_side)
        else:
            camera, middle = random_camera(rng, shape, flank, tooth, long_side, wish)
        anything = wish not in (None, "mouth", "clear")
        rough = labels_of(stage.hits(camera, 8), dressed)
        code = FLANKS.index(flank) + 1
        wanted = rough.painted | anything | (subject.kind == "no_compound")
        share = float(((rough.flank == code) & wanted).mean())
        near = float(np.median(stage.hits(camera, 40).distance))
        least = 0.0 if anything else 0.004 if mouth is not None else 0.02
        enough = share > least
        if (dressed is None and near > 60) or enough or attempt == TRIES - 1:
            break
    labels = labels_of(stage.hits(camera), dressed)
    tick("labels")
    return camera, labels, middle
