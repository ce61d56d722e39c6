"""What `contactread read --json` printed, taken up again by another command."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from contactread.errors import ContactreadError
from contactread.outside import Given, Unfit, read_json
from contactread.plausible import check_backlash

if TYPE_CHECKING:
    from contactread.axle import Axle, FlankName, Role
    from contactread.belief.tries import Seen
    from contactread.pattern.measures import Side

_MOST_BYTES = 5_000_000
_LEAST_SIGMA = 0.001
_USUAL_SIGMA = (0.02, 0.04)  # of a file that doesn't tell its own
_NEXT = "Make it with: contactread read DRIVE-PHOTO COAST-PHOTO --json > reading.json"


def seen_in(path: Path, axle: Axle, backlash_mm: tuple[float, ...] = ()) -> Seen:
    """The sides in a reading file, in their roles for this axle; the last photo of a flank counts. The
    backlash that was given when they were read counts where `backlash_mm` is empty.

    Raises ContactreadError `reading-file` where the file isn't what `contactread read --json` prints, or
    holds no pattern; QuantityError backlash-impossible, backlash-negative.
    """
    from contactread.belief.tries import Seen

    found: dict[str, Side] = {}
    try:
        content = Given(read_json(path, _MOST_BYTES))
        told = content.get("backlash_mm")
        if told is not None and not backlash_mm:
            backlash_mm = tuple(check_backlash(each.number(-1e9, 1e9)) for each in told.each(100))
        for photo in content.key("photos").each(1000):
            pattern, flank = photo.get("pattern"), photo.get("flank")
            if pattern is not None and flank is not None and flank.value in ("convex", "concave"):
                found[axle.role(flank.value)] = _side(flank.value, axle.role(flank.value), pattern)
    except Unfit as error:
        raise ContactreadError("reading-file", f"'{path}' can't be used: {error}.", _NEXT) from error
    if not found:
        raise ContactreadError("reading-file", f"'{path}' holds no measured pattern.", _NEXT)
    return Seen(found.get("drive"), found.get("coast"), backlash_mm)


def _side(flank: FlankName, role: Role, pattern: Given) -> Side:
    from contactread.advice.by_eye import side_from
    from contactread.patch import EDGES, told_clear

    length, height = (pattern.key(name).span(-0.5, 1.5) for name in ("length", "height"))
    sigma, area, tilt = (pattern.get(name) for name in ("sigma", "area_fraction", "tilt_deg"))
    u, v = _USUAL_SIGMA if sigma is None else sigma.pair(0, 1)
    side = side_from(
        flank,
        role,
        pattern.key("centroid").pair(-0.5, 1.5),
        length,
        height,
        sigma=(max(u, _LEAST_SIGMA), max(v, _LEAST_SIGMA)),
        area_fraction=None if area is None else area.number(0, 1.5),
        tilt_deg=0.0 if tilt is None else tilt.number(-180, 180),
    )
    off = pattern.get("runs_off")
    if off is None:
        return side
    named = {each.text() for each in off.each(len(EDGES))}
    return replace(side, clear=told_clear(length, height, {edge for edge in EDGES if edge in named}))
