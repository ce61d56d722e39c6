"""Render pictures of random scenes, with truth, that no network has learnt from.

    python -m calibration.finder.render_unseen --out DIR [--family ordinary] [--scenes 30] [--seed 7171]
    python -m calibration.finder.accuracy DIR --details

Families: "ordinary" (one careful view of a rolled gear and two of any kind), "views" (five careful views of
one), "workshop" (a careful view and any, of a sober scene: as mechanics mostly photograph a gear on the bench
or in its axle), "housing" (two views into a housing with its cover off) and "negative" (a gear without
compound, another kind of gear or part, a picture that is dark, blurred or far too small). But for "workshop"
the scenes are as wild as the lessons, wilder than what a careful photographer takes. Use a seed that no
lesson had.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np

from calibration.render.lesson import SPOILED, Clock, random_subject, view_of
from calibration.render.scene import use_variant

FAMILIES = ("ordinary", "housing", "negative", "views", "workshop")
OTHERS = ("no_compound", "other_gear", "no_gear", "no_compound")
PLACES = ("axle", "bench", "stand")


class Plan(NamedTuple):
    """What a scene shows (a key of SUBJECTS), where (None: anywhere), the wish for each of its views, and
    whether it is sober (None: or wild)."""

    kind: str
    place: str | None
    wishes: tuple[str | None, ...]
    sober: bool | None = None


def plan(family: str, scene: int) -> Plan:
    if family == "ordinary":
        return Plan("ring", None, ("clear", None, None))
    if family == "views":
        return Plan("ring", None, ("clear",) * 5)
    if family == "workshop":
        return Plan("ring", PLACES[scene % len(PLACES)], ("clear", None), sober=True)
    if family == "housing":
        return Plan("ring", "mouth", ("mouth", "mouth"))
    turn, kind = divmod(scene, 5)
    if kind == 4:
        return Plan("ring", None, (SPOILED[turn % len(SPOILED)],))
    return Plan(OTHERS[kind], "mouth" if kind == 3 else None, (None,))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--family", choices=FAMILIES, default="ordinary")
    parser.add_argument("--scenes", type=int, default=30)
    parser.add_argument("--every", type=int, nargs=2, default=(0, 1), metavar=("FIRST", "STEP"))
    parser.add_argument("--seed", type=int, default=7171)
    parser.add_argument("--samples", type=int, default=10, help="per pixel")
    parser.add_argument("--size", type=int, default=900, help="long side in pixels")
    parser.add_argument("--minutes", type=float, default=1e6, help="no scene is begun later")
    parser.add_argument("--variant", choices=["llvm_ad_rgb", "cuda_ad_rgb"], default="llvm_ad_rgb")
    args = parser.parse_args()
    began = time.monotonic()
    use_variant(args.variant)
    args.out.mkdir(parents=True, exist_ok=True)
    for scene in range(args.every[0], args.scenes, args.every[1]):
        if time.monotonic() - began > 60 * args.minutes:
            break
        rng = np.random.default_rng([args.seed, FAMILIES.index(args.family), scene])
        planned = plan(args.family, scene)
        subject = random_subject(rng, Clock({}), planned.kind, planned.place, planned.sober)
        for view, wish in enumerate(planned.wishes):
            picture = view_of(rng, subject, wish, args.samples, args.size, Clock({}))
            name = f"{args.family}_{scene:03d}_{view}"
            (args.out / f"{name}.jpg").write_bytes(picture.jpeg)
            tags = [tag for tag in picture.record["tags"] if tag not in ("clear", "mouth")]
            record = picture.record | {"image": f"{name}.jpg", "tags": tags}
            (args.out / f"{name}.json").write_text(json.dumps(record, default=float), encoding="utf-8")
            print(name, flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
