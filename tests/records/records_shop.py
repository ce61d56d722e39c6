"""A small invented shop: a book in a temporary folder, readings as `read --json` gives them."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any

from contactread.records.review import ReadTask


class Ticking:
    """A clock that moves one minute at each look."""

    def __init__(self) -> None:
        self.moment = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.moment += timedelta(minutes=1)
        return self.moment


def reading(side: str = "drive", centre: tuple[float, float] = (0.4, 0.5), **more: Any) -> dict[str, Any]:
    u, v = centre
    pattern: dict[str, Any] = {"centroid": [u, v], "length": [u - 0.2, u + 0.2], "height": [v - 0.2, v + 0.2]}
    pattern |= {"area_fraction": 0.2, "runs_off": [], "spread": {"length": 0.01, "height": 0.02}}
    return {
        "path": "x.jpg", "status": "read", "refusal": None, "side": side, "confidence": 0.9, "flags": [],
        "flank": "convex" if side == "drive" else "concave", "teeth": [], "pattern": pattern,
    } | more  # fmt: skip


def refusal(code: str = "too-blurred") -> dict[str, Any]:
    return {
        "path": "x.jpg", "status": "refused", "flank": None, "side": None, "confidence": None, "flags": [],
        "teeth": [], "pattern": None,
        "refusal": {"code": code, "message": "The photo is too blurred.", "next_step": "Take it again."},
    }  # fmt: skip


def fake_read(task: ReadTask) -> dict[str, Any]:
    """Stands in for the reader: the file's first word says what is seen; "crash" ends the worker."""
    data = task.path.read_bytes() if task.data is None else task.data
    word = data.split(b" ")[0].decode("ascii")
    if word == "crash":
        os._exit(9)
    if word == "slow":
        time.sleep(0.05)
    found = reading(word) if word in ("drive", "coast") else refusal()
    if word == "slow":
        found = reading("drive")
    return found | {"axle": task.axle_text is not None, "marks": task.corners is not None}


@contextmanager
def in_process() -> Iterator[Executor]:
    """Workers for tests that don't need processes."""
    with ThreadPoolExecutor(2) as executor:
        yield executor
