"""Starts and stops of the page: no handle, thread, process or file may be left over.

python -m calibration.web.starts [--count 50]
"""

from __future__ import annotations

import argparse
import gc
import multiprocessing
import sys
import tempfile
import threading
from pathlib import Path

from calibration.web.page import paired, served


def left_over(count: int, folder: Path) -> list[str]:
    """What more there is after so many starts than after the first one."""
    found = []
    before: dict[str, int] = {}
    for number in range(count + 1):
        with served(folder / "book.sqlite") as page, paired(page) as client:
            if client.get("/").status_code != 200:
                found.append(f"start {number}: the page didn't answer")
        gc.collect()
        now = _counted(folder)
        before = before or now
    found += [f"{what}: {before[what]} before, {now[what]} after" for what in now if now[what] > before[what]]
    return found


def _counted(folder: Path) -> dict[str, int]:
    handles = Path("/proc/self/fd")
    return {
        "handles": sum(1 for _ in handles.iterdir()) if handles.is_dir() else 0,
        "threads": threading.active_count(),
        "processes": len(multiprocessing.active_children()),
        "files": sum(1 for _ in folder.rglob("*")),
    }


def main() -> int:
    parser = argparse.ArgumentParser(description="Starts and stops of the page leave nothing behind.")
    parser.add_argument("--count", type=int, default=50)
    with tempfile.TemporaryDirectory() as folder:
        found = left_over(parser.parse_args().count, Path(folder))
    print("\n".join(found) or "nothing is left over")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
