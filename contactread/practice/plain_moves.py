"""The four plain moves that several questions offer, and what each leads to."""

from __future__ import annotations

from contactread.practice.case import Case, limits_of

PINION_IN = "Move the pinion toward the ring gear."
PINION_OUT = "Move the pinion away from the ring gear."
RING_IN = "Move the ring gear toward the pinion."
RING_OUT = "Move the ring gear away from the pinion."
# What to do, and the way it moves pinion and ring gear.
MOVES = {PINION_IN: (-1, 0), PINION_OUT: (1, 0), RING_IN: (0, -1), RING_OUT: (0, 1)}


def after_move(case: Case, pinion: int, ring: int) -> Case | None:
    """The set after a plain move of 0.15 mm one way; a pinion move sets backlash again."""
    if pinion:
        moved = case.moved(pinion_mm=pinion * max(0.15, abs(case.pinion_mm)))
        if moved.touches:
            moved = moved.with_backlash(
                min(max(case.backlash_mm, limits_of(case.axle)[0]), limits_of(case.axle)[1])
            )
    else:
        moved = case.moved(ring_mm=ring * 0.15)
    return moved if moved.touches else None
