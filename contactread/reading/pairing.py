"""The set-up that two readings show, one of each side."""

from __future__ import annotations

from collections.abc import Mapping

from contactread.axle import Role
from contactread.errors import AdviceError
from contactread.flags import flag
from contactread.pattern.measures import Setup, Side
from contactread.pattern.quality import SURE_ENOUGH
from contactread.reading.nouns import Reading

SNAPS = "Three snaps of each side, from a little apart, tell more than one."
# Colours of compound that another lamp or a thinner coat takes for each other.
_LIKE = [{"red", "orange"}, {"orange", "yellow"}, {"yellow", "green"}, {"green", "blue"}, {"yellow", "white"}]


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
                f"Take it again. {SNAPS}",
            )
    if first.hand != second.hand:
        raise AdviceError(
            "hands-differ",
            f"The {first.side.role} photo shows a {first.hand}-hand ring gear, the {second.side.role} one a "
            f"{second.hand}-hand one.",
            "Look at the marked-up photos: one is mirrored, of another axle, or its flank was misnamed.",
        )
    return Setup(sides["drive"], sides["coast"], backlash_mm, first.hand, _doubts(first, second))


def _doubts(*readings: Reading) -> tuple[str, ...]:
    """Rules that tell why readings may not be of one axle, or not of the axle file's."""
    colours = {reading.side.compound for reading in readings} - {"unknown", "none"}
    two = len(colours) == 2 and colours not in _LIKE
    unlike = any("unlike-axle" in reading.flags for reading in readings)
    return (*(["two-compounds"] if two else []), *(["perhaps-other-teeth"] if unlike else []))


def lacking(
    sides: Mapping[Role, Reading], photos: int, refused: bool = False
) -> tuple[str, tuple[str, ...]] | None:
    """Why readings make no set-up: a stable code (sides-missing, reading-unsure), and what to do, a headline
    and what goes with it. None where they make one. sides: the joined reading of each. photos: how many were
    read. refused: whether others were refused.
    """
    if len(sides) < 2:
        have = next(iter(sides), None)
        if have is None:
            return "sides-missing", ("Photograph both sides: advice needs a drive and a coast photo.",)
        want, again = "coast" if have == "drive" else "drive", "again" if refused else "too"
        lines = [f"Photograph the {want} side {again}: advice needs both sides."]
        return "sides-missing", (*lines, *([f"All photos show the {have} side."] if photos > 1 else []))
    unsure = {role: each for role, each in sides.items() if each.confidence < SURE_ENOUGH}
    if not unsure:
        return None
    named = " and ".join(f"{role} ({reading.confidence:.0%} sure)" for role, reading in unsure.items())
    codes = dict.fromkeys(code for reading in unsure.values() for code in reading.flags)
    steps = [flag(code).next_step for code in codes if code != "corners-by-hand"]
    return "reading-unsure", (f"Take it again: {named}.", *steps[:2], SNAPS)


def one_side_twice(side: Side) -> AdviceError:
    """The error where both sides of a set-up are this one."""
    return AdviceError(
        "same-side-twice",
        f"Both photos show the {side.role} side ({side.flank} flank).",
        "Give one photo of each side. If one was taken for the wrong flank, say so with --flank.",
    )
