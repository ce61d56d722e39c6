"""A ring-gear tooth seen from above the gear's face. Unit: mean radius of the gear.

The centre line is an arc of the cutter's circle, drawn more curved than true; its hollow side looks to that
circle's centre. In a left-hand gear the outer half leans counter-clockwise (the trade's definition, from
memory).
"""

from __future__ import annotations

from math import atan2, cos, pi, radians, sin

from contactread.axle import Hand
from contactread.patch import Point

SPIRAL = radians(35)
CUTTER_RADIUS = 0.5
HALF_LENGTH = 0.32  # along the arc
HALF_WIDTH = 0.045
_PIECES = 16  # straight ones, of which a tooth line is drawn


def tooth_line(clock_deg: float, hand: Hand, across: float = 0.0) -> list[Point]:
    """The line `across` from the tooth's centre line, toe first; positive is the hollow side. y is up."""
    centre, start, turn = _arc(clock_deg, hand)
    radius = CUTTER_RADIUS - across
    reach = HALF_LENGTH / CUTTER_RADIUS
    angles = [start + turn * reach * (2 * k / _PIECES - 1) for k in range(_PIECES + 1)]
    return [(centre[0] + radius * cos(a), centre[1] + radius * sin(a)) for a in angles]


def _arc(clock_deg: float, hand: Hand) -> tuple[Point, float, float]:
    """Centre of the cutter's circle, angle of the tooth's middle on it, and the sense toe to heel."""
    at = pi / 2 - radians(clock_deg)
    out = (cos(at), sin(at))
    sense = 1.0 if hand == "left" else -1.0
    side = (-sin(at) * sense, cos(at) * sense)
    to_centre = tuple(-sin(SPIRAL) * o + cos(SPIRAL) * s for o, s in zip(out, side, strict=True))
    centre = (out[0] + CUTTER_RADIUS * to_centre[0], out[1] + CUTTER_RADIUS * to_centre[1])
    along = tuple(cos(SPIRAL) * o + sin(SPIRAL) * s for o, s in zip(out, side, strict=True))
    start = atan2(out[1] - centre[1], out[0] - centre[0])
    turn = 1.0 if along[0] * -sin(start) + along[1] * cos(start) > 0 else -1.0
    return centre, start, turn
