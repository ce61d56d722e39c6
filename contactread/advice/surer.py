"""What would make an answer surer: numbers that the axle file leaves out, by what measuring them earns."""

from __future__ import annotations

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.belief import Belief

# How each is found with a rule and by counting: common practice.
HOW = {
    "ratio": "Count the teeth of both gears",
    "ring_diameter_mm": "Measure the ring gear: a rule across its outer ends is its diameter",
    "cutting": "Measure a tooth's height at heel and toe: the same at both is face hobbed",
    "offset_mm": "Measure the offset: a rule from axis to axis",
    "face_width_mm": "Measure the face width: a rule along a tooth",
    "spiral_deg": "Measure the spiral angle: a protractor at mid-tooth",
    "cutter_radius_mm": "Measure the tooth's curve: its radius is the cutter's",
    "pressure_angle_deg": "Ask for the pressure angle: the gear maker knows it",
}
# What a person with rule and gears at hand finds without asking anybody.
BY_HAND = ("ratio", "ring_diameter_mm", "cutting", "offset_mm", "face_width_mm")
WORTH = 0.05  # share of the doubt below which measuring earns nothing
MOST = 2  # measurements that are asked for at once: our choice


def surer(belief: Belief, move_mm: tuple[float, float], *, by_hand: bool) -> tuple[Statement, ...]:
    """The facts that would narrow the doubt about this move most, best first; empty where none would.
    by_hand: only of those BY_HAND.
    """
    found = [each for each in belief.worth_knowing(move_mm) if not by_hand or each[0] in BY_HAND]
    return tuple(
        say("worth-measuring", f"{HOW[name]} ({share:.0%} of the doubt).", also=("mesh",))
        for name, share in found[:MOST]
        if share >= WORTH
    )
