"""What would make an answer surer: numbers that the axle file leaves out, by what measuring them earns."""

from __future__ import annotations

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.belief import Belief

# How each is found with a rule and by counting: common practice.
HOW = {
    "cutting": "how it was cut: tooth height at heel and toe, the same at both is face hobbed",
    "offset_mm": "the offset: a rule from axis to axis, pinion against ring gear",
    "face_width_mm": "the face width: a rule along a ring-gear tooth, toe to heel",
    "spiral_deg": "the spiral angle: a protractor on a tooth at mid-length, against the radius",
    "cutter_radius_mm": "the cutter radius: bend a strip along a tooth and measure the radius of its curve",
    "pressure_angle_deg": "the pressure angle: from the gear maker's data",
}
WORTH = 0.05  # share of the doubt below which measuring earns nothing
MOST = 2


def surer(belief: Belief, move_mm: tuple[float, float]) -> tuple[Statement, ...]:
    """The facts that would narrow the doubt about this move most, best first; empty where none would."""
    found = belief.worth_knowing(move_mm)
    return tuple(
        say("worth-measuring", f"Measure {HOW[name]} ({share:.0%} of the doubt hangs on it).", also=("mesh",))
        for name, share in found[:MOST]
        if share >= WORTH
    )
