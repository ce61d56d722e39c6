"""Render lessons for the finder in bulk.

    python -m calibration.finder.render_lessons --out DIR --scenes 800 --views 6 --seed 1 \\
        --workers 14 --variant cuda_ad_rgb --minutes 8

For each picture: NNNNNN.jpg, NNNNNN.png (labels, see calibration.render.labels.encode) and a line in
lessons_<worker>.jsonl. Every scene is fixed by --seed and its number. Stops when --minutes are used up.
Needs mitsuba; on a bare machine: pip install mitsuba numpy opencv-python-headless scikit-image.
"""

from __future__ import annotations

import argparse
import gc
import json
import multiprocessing
import os
import sys
import time
import traceback
from pathlib import Path


def work(args: argparse.Namespace, worker: int, deadline: float) -> None:
    """One process: scenes worker, worker + workers, ... until done or out of time."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    import cv2
    import numpy as np

    cv2.setNumThreads(1)
    from calibration.render.scene import use_variant

    use_variant(args.variant)
    if args.threads:
        import drjit

        drjit.set_thread_count(args.threads)
    from calibration.render.lesson import scene_of_lessons

    clock: dict[str, float] = {}
    done, started, first = 0, time.time(), 0.0
    with (args.out / f"lessons_{worker:02d}.jsonl").open("w") as lines:
        for scene in range(worker, args.scenes, args.workers):
            if time.time() > deadline:
                break
            rng = np.random.default_rng([args.seed, scene])
            try:
                lessons = scene_of_lessons(rng, args.views, args.spp, args.size, clock)
                for view, lesson in enumerate(lessons):
                    number = scene * args.views + view
                    name = f"{number:06d}"
                    (args.out / f"{name}.jpg").write_bytes(lesson.jpeg)
                    ok, png = cv2.imencode(".png", lesson.label, [cv2.IMWRITE_PNG_COMPRESSION, 2])
                    assert ok
                    (args.out / f"{name}.png").write_bytes(bytes(png))
                    record = {"name": name, "scene_number": scene, **lesson.record}
                    lines.write(json.dumps(record, default=float) + "\n")
                    done += 1
                    if done == 1:
                        first = time.time() - started
                    if time.time() > deadline:
                        break
            except Exception:
                print(
                    f"worker {worker}: scene {scene} failed\n{traceback.format_exc()}",
                    file=sys.stderr,
                    flush=True,
                )
            lines.flush()
            gc.collect()
            if done and scene // args.workers % 5 == 0:
                report(worker, done, started, first, clock)
    report(worker, done, started, first, clock)


def report(worker: int, done: int, started: float, first: float, clock: dict[str, float]) -> None:
    spent = time.time() - started
    shares = ", ".join(f"{k} {v / max(done, 1):.3f}" for k, v in clock.items())
    print(
        f"worker {worker}: {done} pictures in {spent:.0f} s ({done / spent:.2f}/s, first {first:.0f} s);"
        f" seconds per picture: {shares}",
        file=sys.stderr,
        flush=True,
    )


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--scenes", type=int, default=100)
    parser.add_argument("--views", type=int, default=6)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--variant", choices=["cuda_ad_rgb", "llvm_ad_rgb"], default="cuda_ad_rgb")
    parser.add_argument("--minutes", type=float, default=8.0)
    parser.add_argument("--spp", type=int, default=24, help="samples per pixel")
    parser.add_argument("--size", type=int, default=640, help="long side in pixels")
    parser.add_argument("--threads", type=int, default=0, help="threads per worker for llvm; 0 = all")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    deadline = time.time() + 60 * args.minutes
    context = multiprocessing.get_context("spawn")
    processes = [context.Process(target=work, args=(args, i, deadline)) for i in range(args.workers)]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
    count = len(list(args.out.glob("*.jpg")))
    print(f"{count} pictures in {args.out}", file=sys.stderr)
    return 0 if all(p.exitcode == 0 for p in processes) else 1


if __name__ == "__main__":
    raise SystemExit(main())
