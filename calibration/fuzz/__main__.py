"""Thousands of damaged photos, hostile texts and altered bundles: no traceback, none slow, all coded.

    python -m calibration.fuzz [photos texts bundles] [--seed 1] [--seconds 240] [--keep FOLDER]
                               [--photos 12000] [--texts 3000] [--bundles 1500]

Prints how often each code came, the slowest and the largest; ends with an error where a bar is missed.
--seconds ends each kind then. --keep: folder for what went wrong; it belongs into tests/corpus/. One photo in
five is read, the others are only loaded.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import warnings
from pathlib import Path

from calibration.fuzz.judge import Judge, Tally

KINDS = ("photos", "texts", "bundles")
WHOLE = 5  # one photo in so many is read


def fuzz_photos(count: int, seed: int, until: float, keep: Path | None) -> Tally:
    """Damaged photos, judged one by one."""
    from calibration.fuzz.photos import load_or_read, photos

    tally, judge = Tally(), Judge(load_or_read)
    for number, data in enumerate(photos(count, seed)):
        if time.monotonic() > until:
            break
        verdict = judge((data, number % WHOLE == 0))
        tally.add(f"photo {number} of seed {seed}", verdict)
        if verdict.wrong and keep is not None:
            (keep / f"photo-{seed}-{number}").write_bytes(data)
    judge.close()
    return tally


def fuzz_texts(count: int, seed: int, until: float, keep: Path | None) -> Tally:
    """Hostile texts, drawn by hypothesis."""
    import hypothesis
    from hypothesis import HealthCheck, given, settings

    from calibration.fuzz.texts import Text, give, texts

    tally, judge, folder = Tally(), Judge(give), tempfile.TemporaryDirectory()

    @hypothesis.seed(seed)
    @settings(max_examples=count, database=None, deadline=None, suppress_health_check=list(HealthCheck))
    @given(texts())
    def each(text: Text) -> None:
        if time.monotonic() > until:
            return
        verdict, number = judge((text, folder.name)), sum(tally.codes.values())
        tally.add(f"text {number} of seed {seed} ({text.kind})", verdict)
        if verdict.wrong and keep is not None:
            (keep / f"{text.kind}-{seed}-{number}").write_bytes(text.data)

    each()
    judge.close()
    folder.cleanup()
    return tally


def fuzz_bundles(count: int, seed: int, until: float, keep: Path | None) -> Tally:
    """Altered bundles, imported, put back and merged, and every question asked of what came in."""
    from calibration.fuzz.bundles import Alteration, bring_in, make_bundle

    tally, judge = Tally(), Judge(bring_in)
    with tempfile.TemporaryDirectory() as folder:
        make_bundle(Path(folder))
        for number in range(count):
            if time.monotonic() > until:
                break
            verdict = judge(Alteration(folder, seed, number))
            tally.add(f"bundle {number} of seed {seed}", verdict)
    judge.close()
    return tally


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("kinds", nargs="*", default=KINDS, choices=(*KINDS, []))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    for kind, most in zip(KINDS, (12_000, 3_000, 1_500), strict=True):
        parser.add_argument(f"--{kind}", type=int, default=most)
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args()
    if asked.keep is not None:
        asked.keep.mkdir(parents=True, exist_ok=True)
    warnings.simplefilter("ignore")
    wrong = 0
    for kind in asked.kinds or KINDS:
        work = {"photos": fuzz_photos, "texts": fuzz_texts, "bundles": fuzz_bundles}[kind]
        tally = work(getattr(asked, kind), asked.seed, time.monotonic() + asked.seconds, asked.keep)
        print(tally.table(kind), flush=True)
        wrong += len(tally.wrong)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
