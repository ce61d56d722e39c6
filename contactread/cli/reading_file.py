"""What `contactread read --json` printed, taken up again by another command."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from contactread.errors import ContactreadError

if TYPE_CHECKING:
    from contactread.axle import FlankName
    from contactread.mesh.crowning import Measured

_MOST_BYTES = 20_000_000
_NEXT = "Make it with: contactread read DRIVE-PHOTO COAST-PHOTO --json > reading.json"


def measured_patterns(path: Path) -> dict[FlankName, Measured]:
    """The measured patch of each flank in a reading file; the last photo of a flank counts.

    Raises ContactreadError `reading-file` where the file isn't what `contactread read --json` prints, or
    holds no pattern.
    """
    from contactread.mesh.crowning import Measured

    found: dict[FlankName, Measured] = {}
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ValueError("it is too big")
        photos = json.loads(path.read_text(encoding="utf-8"))["photos"]
        for photo in photos:
            pattern = photo.get("pattern")
            if photo.get("flank") in ("convex", "concave") and pattern is not None:
                found[photo["flank"]] = Measured(
                    _pair(pattern["centroid"]),
                    _pair(pattern["length"]),
                    _pair(pattern["height"]),
                    float(pattern["tilt_deg"]) if pattern.get("tilt_deg") is not None else None,
                    _sigma(pattern.get("sigma")),
                )
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it isn't what `read --json` prints"
        raise ContactreadError("reading-file", f"'{path}' can't be used: {reason}.", _NEXT) from error
    if not found:
        raise ContactreadError("reading-file", f"'{path}' holds no measured pattern.", _NEXT)
    return found


def _pair(values: Any) -> tuple[float, float]:
    low, high = (float(value) for value in values)
    if not (-0.5 <= low <= 1.5 and -0.5 <= high <= 1.5):
        raise ValueError("a place off the flank")
    return low, high


def _sigma(values: Any) -> tuple[float, float]:
    """The reading's own doubt, but never less than what a reading can promise."""
    if values is None:
        return 0.02, 0.04
    u, v = (float(value) for value in values)
    return max(u, 0.01), max(v, 0.02)
