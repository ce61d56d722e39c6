"""The set-up that two readings show, one of each side."""

from __future__ import annotations

from contactread.axle import Role
from contactread.errors import AdviceError
from contactread.pattern.measures import Setup, Side
from contactread.pattern.quality import SURE_ENOUGH
from contactread.reading.nouns import Reading


def pair(first: Reading, second: Reading, backlash_mm: tuple[float, ...] = ()) -> Setup:
    """The set-up that two photos show, in whichever order they come: the flank seen tells the side.

    backlash_mm: readings of the dial round the ring gear. Raises AdviceError (same-side-twice;
    reading-unsure: too little to move a shim by; hands-differ: not of one gear set, or misread).
    """
    sides: dict[Role, Side] = {reading.side.role: reading.side for reading in (first, second)}
    if len(sides) < 2:
        raise one_side_twice(first.side)
    for reading in (first, second):
        if reading.confidence < SURE_ENOUGH:
            raise AdviceError(
                "reading-unsure",
                f"The reading of the {reading.side.role} side is only {reading.confidence:.0%} sure: too "
                "little to move a shim by.",
                "Take it again: three snaps of the side, from a little apart, tell more than one.",
            )
    if first.hand != second.hand:
        raise AdviceError(
            "hands-differ",
            f"The {first.side.role} photo shows a {first.hand}-hand ring gear, the {second.side.role} one a "
            f"{second.hand}-hand one.",
            "Look at the marked-up photos: one is mirrored, of another axle, or its flank was misnamed.",
        )
    return Setup(sides["drive"], sides["coast"], backlash_mm, first.hand)


def one_side_twice(side: Side) -> AdviceError:
    """The error where both sides of a set-up are this one."""
    return AdviceError(
        "same-side-twice",
        f"Both photos show the {side.role} side ({side.flank} flank).",
        "Give one photo of each side. If one was taken for the wrong flank, say so with --flank.",
    )
