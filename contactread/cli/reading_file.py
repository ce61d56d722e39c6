"""What `contactread read --json` printed, taken up again by another command."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from contactread.errors import ContactreadError

if TYPE_CHECKING:
    from contactread.axle import Axle, FlankName, Role
    from contactread.belief.tries import Seen
    from contactread.pattern.measures import Side

_MOST_BYTES = 20_000_000
_USUAL_SIGMA = (0.02, 0.04)  # of a file that doesn't tell its own
_NEXT = "Make it with: contactread read DRIVE-PHOTO COAST-PHOTO --json > reading.json"


def seen_in(path: Path, axle: Axle, backlash_mm: tuple[float, ...] = ()) -> Seen:
    """The sides in a reading file, in their roles for this axle; the last photo of a flank counts. The
    backlash that was given when they were read counts where `backlash_mm` is empty.

    Raises ContactreadError `reading-file` where the file isn't what `contactread read --json` prints, or
    holds no pattern.
    """
    from contactread.belief.tries import Seen

    found: dict[str, Side] = {}
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ValueError("it is too big")
        content = json.loads(path.read_text(encoding="utf-8"))
        backlash_mm = backlash_mm or tuple(float(mm) for mm in content.get("backlash_mm") or ())
        for photo in content["photos"]:
            pattern, flank = photo.get("pattern"), photo.get("flank")
            if flank in ("convex", "concave") and pattern is not None:
                found[axle.role(flank)] = _side(flank, axle.role(flank), pattern)
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it isn't what `read --json` prints"
        raise ContactreadError("reading-file", f"'{path}' can't be used: {reason}.", _NEXT) from error
    if not found:
        raise ContactreadError("reading-file", f"'{path}' holds no measured pattern.", _NEXT)
    return Seen(found.get("drive"), found.get("coast"), backlash_mm)


def _side(flank: FlankName, role: Role, pattern: dict[str, Any]) -> Side:
    from contactread.advice.by_eye import side_from
    from contactread.patch import told_clear

    side = side_from(
        flank,
        role,
        _pair(pattern["centroid"]),
        _pair(pattern["length"]),
        _pair(pattern["height"]),
        sigma=_pair(pattern.get("sigma", _USUAL_SIGMA)),
        area_fraction=pattern.get("area_fraction"),
        tilt_deg=float(pattern.get("tilt_deg") or 0.0),
    )
    off = frozenset(pattern.get("runs_off", side.runs_off))
    return replace(side, clear=told_clear(side.length, side.height, off))


def _pair(values: Any) -> tuple[float, float]:
    low, high = (float(value) for value in values)
    if not (-0.5 <= low <= 1.5 and -0.5 <= high <= 1.5):
        raise ValueError("a place off the flank")
    return low, high
