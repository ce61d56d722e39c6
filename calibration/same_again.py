"""Whether a photo reads the same each time, with one thread and with two.

    python -m calibration.same_again [--runs 20] [PHOTO ...]

Each run is a process of its own; every number of the readings must agree within 1e-6.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

SAMPLES = Path(__file__).parents[1] / "sample_images"
MOST = 1e-6
_READ = """
import json, sys, cv2
cv2.setNumThreads(int(sys.argv[1]))
from contactread.reading import read
print(json.dumps([read(path).to_json() for path in sys.argv[2:]]))
"""


def numbers(value: Any) -> Iterator[Any]:
    """Every plain value of nested data, in order."""
    if isinstance(value, dict | list):
        for each in value.values() if isinstance(value, dict) else value:
            yield from numbers(each)
    else:
        yield value


def farthest(first: Any, other: Any) -> float:
    """The largest difference of two numbers; infinite where anything else differs."""
    pairs = list(zip(numbers(first), numbers(other), strict=True))
    plain = [(a, b) for a, b in pairs if isinstance(a, int | float) and isinstance(b, int | float)]
    if any(a != b for a, b in pairs if (a, b) not in plain):
        return float("inf")
    return max((abs(a - b) for a, b in plain), default=0.0)


def readings(photos: list[str], threads: int) -> Any:
    """What the photos read as, in a process of its own with so many threads."""
    done = subprocess.run(
        [sys.executable, "-c", _READ, str(threads), *photos], check=True, capture_output=True, text=True
    )
    return json.loads(done.stdout)


def main() -> int:
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)

    usual = [str(SAMPLES / "ash_good" / f"{side}.jpg") for side in ("drive", "coast")]
    parser.add_argument("photos", nargs="*", default=usual)

    parser.add_argument("--runs", type=int, default=20)
    asked = parser.parse_args()
    first = readings(asked.photos, 1)
    worst = {1: 0.0, 2: 0.0}
    for run in range(1, asked.runs):
        threads = 1 + run % 2
        worst[threads] = max(worst[threads], farthest(first, readings(asked.photos, threads)))
    for threads, most in worst.items():
        print(f"{threads} thread{'s' * (threads > 1)}: largest difference {most:.1e} (at most {MOST:.0e})")
    return 0 if max(worst.values()) <= MOST else 1


if __name__ == "__main__":
    sys.exit(main())
