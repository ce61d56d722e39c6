"""Mutated photos sent to a running page: no crash, no hang, each a reading or a refusal with a code.

    python -m calibration.web.mutated_uploads [--count 10000] [--seed 1]

Prints how often each code came and the slowest answer; ends with an error where one wasn't coded, took
longer than the limit, or ended a worker process.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from calibration.fuzz.photos import photos
from calibration.web.page import paired, served

SLOWEST_S = 30.0


def send_all(count: int, seed: int, folder: Path) -> tuple[Counter[str], float, list[str]]:
    """How often each code came, the slowest answer in seconds, what went wrong."""
    codes: Counter[str] = Counter()
    slowest, wrong = 0.0, []
    with served(folder / "book.sqlite") as page, paired(page) as client:
        processes = page.worker_ids()
        for number, data in enumerate(photos(count, seed)):
            began = time.monotonic()
            answer = client.post("/api/v1/photos", params={"name": "mutated.jpg"}, content=data)
            took = time.monotonic() - began
            slowest = max(slowest, took)
            body = answer.json()
            if answer.status_code == 200:
                code = "read" if body["status"] == "read" else body["refusal"]["code"]
            else:
                code = body["error"]["code"]
            codes[code] += 1
            if code in ("fault", "work-ended", "work-too-long") or took > SLOWEST_S:
                wrong.append(f"upload {number} of seed {seed}: {code} after {took:.1f} s")
        if page.worker_ids() != processes:
            wrong.append("a worker process was replaced")
        if client.get("/").status_code != 200:
            wrong.append("the page doesn't answer any more")
    return codes, slowest, wrong


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        codes, slowest, wrong = send_all(given.count, given.seed, Path(folder))
    for code, times in codes.most_common():
        print(f"{times:6}  {code}")
    print(f"slowest answer: {slowest:.1f} s")
    print("\n".join(wrong) or "each was read or refused with a code")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
