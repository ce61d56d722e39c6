"""The plain part of a recorded reading; light, for commands that need no picture."""

from __future__ import annotations

from typing import Any

_SAID_AGAIN = {"pattern", "teeth", "compound", "polarity"}


def kept_once(reading: dict[str, Any]) -> dict[str, Any]:
    """A reading as the book keeps it, without what ``measured`` says already; one that is kept so is left."""
    if "measured" not in reading or "pattern" not in reading:
        return reading
    kept = {name: value for name, value in reading.items() if name not in _SAID_AGAIN}
    other = reading.get("other")
    return kept | {
        "interval_90": reading["pattern"].get("interval_90"),
        "other": None if other is None else kept_once(other),
    }


def numbers_of(reading: dict[str, Any]) -> dict[str, Any]:
    """Centre, spread and wave of a recorded reading, each along the length and up the height."""
    pattern = reading.get("pattern")
    if pattern is None:
        side = reading["measured"]["side"]
        return {name: side[name] for name in ("centre", "spread", "wave")}
    spread = (pattern["spread"]["length"], pattern["spread"]["height"])
    return {"centre": pattern["centroid"], "spread": spread, "wave": pattern.get("wave")}
