"""Render pictures of random scenes, with truth, that no network has learnt from.

    python -m calibration.finder.render_unseen --out DIR [--scenes 30] [--seed 7171] [--variant llvm_ad_rgb]
    python -m calibration.finder.accuracy DIR --details

Of every five scenes three show a rolled gear (one careful view and two of any kind), one shows a gear without
compound, another kind of gear or none, and one is spoiled: dark, blurred or far too small. The scenes are as
wild as the lessons, wilder than what a careful photographer takes. Use a seed that no lesson had.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np

from calibration.render.lesson import SPOILED, Clock, random_subject, view_of
from calibration.render.scene import use_variant

OTHERS = ("no_compound", "other_gear", "no_gear")
RING_VIEWS: tuple[str | None, ...] = ("clear", None, None)  # wishes


def plan(scene: int) -> tuple[str, tuple[str | None, ...]]:
    """The subject of a scene and the wish for each of its views."""
    turn = scene // 5
    if scene % 5 == 3:
        return OTHERS[turn % len(OTHERS)], (None,)
    if scene % 5 == 4:
        return "ring", (SPOILED[turn % len(SPOILED)],)
    return "ring", RING_VIEWS


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--scenes", type=int, default=30)
    parser.add_argument("--seed", type=int, default=7171)
    parser.add_argument("--samples", type=int, default=10, help="per pixel")
    parser.add_argument("--size", type=int, default=900, help="long side in pixels")
    parser.add_argument("--variant", choices=["llvm_ad_rgb", "cuda_ad_rgb"], default="llvm_ad_rgb")
    args = parser.parse_args()
    use_variant(args.variant)
    args.out.mkdir(parents=True, exist_ok=True)
    for scene in range(args.scenes):
        rng = np.random.default_rng([args.seed, scene])
        kind, wishes = plan(scene)
        subject = random_subject(rng, Clock({}), kind)
        for view, wish in enumerate(wishes):
            picture = view_of(rng, subject, wish, args.samples, args.size, Clock({}))
            name = f"{scene:03d}_{view}_{wish or kind}"
            (args.out / f"{name}.jpg").write_bytes(picture.jpeg)
            tags = [tag for tag in picture.record["tags"] if tag != "clear"]
            record = picture.record | {"image": f"{name}.jpg", "tags": tags}
            (args.out / f"{name}.json").write_text(json.dumps(record, default=float))
            print(name, flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
