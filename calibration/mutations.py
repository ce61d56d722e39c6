"""Do the tests guard the numbers? One-line changes, each of which must fail a test.

    python -m calibration.mutations [--only WORD] [--all-tests]

Each change is made in a copy of the checkout, where the tests of its room run (--all-tests: all of them);
then it is taken back. Prints what was caught and what was missed; ends with 1 where a bar is missed.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
LIST = Path(__file__).with_name("mutations.toml")
BARS = {"named": 1.0, "chosen": 0.9}  # shares that must be caught
LIMIT_S = 400.0


@dataclass(frozen=True)
class Change:
    """file: below contactread/. line: what stands there, once. instead: what comes in its place. tests: what
    runs, as pytest takes it."""

    kind: str
    file: str
    line: str
    instead: str
    tests: str

    def made_in(self, folder: Path) -> str:
        """The file's text with the change. Raises ValueError where the line isn't there just once."""
        text = (folder / "contactread" / self.file).read_text(encoding="utf-8")
        if text.count(self.line) != 1:
            raise ValueError(f"{self.file} has {text.count(self.line)} times {self.line!r}")
        return text.replace(self.line, self.instead)


def changes() -> list[Change]:
    """The changes of mutations.toml, in its order."""
    listed = tomllib.loads(LIST.read_text(encoding="utf-8"))
    return [Change(kind, **entry) for kind in BARS for entry in listed[kind]]


def is_caught(change: Change, folder: Path, tests: list[str]) -> bool:
    """Whether a test fails with the change in place; the copy is as before afterwards."""
    place = folder / "contactread" / change.file
    before = place.read_text(encoding="utf-8")
    place.write_text(change.made_in(folder), encoding="utf-8")
    try:
        return not passes(tests, folder)
    except subprocess.TimeoutExpired:
        return True
    finally:
        place.write_text(before, encoding="utf-8")


def passes(tests: list[str], folder: Path) -> bool:
    """Whether these tests pass in the copy."""
    done = subprocess.run(
        [sys.executable, "-B", "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *tests],
        cwd=folder, capture_output=True, timeout=LIMIT_S, check=False,
        env={**os.environ, "PYTHONPATH": str(folder)},
    )  # fmt: skip
    return done.returncode == 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--only", default="", help="changes whose file or line holds this word")
    parser.add_argument("--all-tests", action="store_true")
    given = parser.parse_args()
    caught: dict[str, list[bool]] = {kind: [] for kind in BARS}
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        for part in ("contactread", "calibration", "tests", "shared"):
            shutil.copytree(ROOT / part, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
        shutil.copy(ROOT / "pyproject.toml", folder)
        (folder / "sample_images").symlink_to(ROOT / "sample_images")
        asked = [change for change in changes() if given.only in change.file + change.line]
        needed = sorted({test for change in asked for test in change.tests.split()})
        if not passes(["tests"] if given.all_tests else needed, folder):
            print("These tests fail without any change.", file=sys.stderr)
            return 1
        for change in asked:
            tests = ["tests"] if given.all_tests else change.tests.split()
            caught[change.kind].append(is_caught(change, folder, tests))
            word = "caught" if caught[change.kind][-1] else "MISSED"
            print(f"{word}  {change.file}: {change.line.strip()}  ->  {change.instead.strip()}", flush=True)
    kept = True
    for kind, bar in BARS.items():
        if caught[kind]:
            kept &= sum(caught[kind]) >= bar * len(caught[kind])
            print(f"{kind}: {sum(caught[kind])} of {len(caught[kind])} caught, bar {bar:.0%}")
    return 0 if kept else 1


if __name__ == "__main__":
    raise SystemExit(main())
