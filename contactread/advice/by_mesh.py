"""Advice with amounts: what the mesh model of this axle, corrected by its own moves, says to do next."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from contactread.advice.answer import EarlierTry, Expectation, Move, Statement, Verdict
from contactread.advice.faults import Fault, fault
from contactread.advice.foresee import Foresight, foresee
from contactread.advice.mixups import find_mixup
from contactread.advice.moves import pinion_move, ring_move
from contactread.advice.plan import ACCEPT_CHANCE, Plan, plan
from contactread.advice.rules import say
from contactread.advice.targets import Target
from contactread.axle import Axle
from contactread.pattern.measures import Setup
from contactread.units import show_clearance, show_length

TELL_BENT_ODDS = 20.0
NEARLY_SURE = 0.9


class MeshAdvice:
    """The mesh model's part of one piece of advice."""

    def __init__(self, setup: Setup, axle: Axle, history: Sequence[EarlierTry], target: Target) -> None:
        self.axle = axle
        self.foresight: Foresight = foresee(setup, axle, history, target)
        new_set = not target.name.startswith("used")
        self.plan: Plan = plan(self.foresight.belief, self.foresight.zones, axle, pinion_may_move=new_set)

    @property
    def verdict(self) -> Verdict:
        """What to do, by chances alone."""
        if self.plan.now.chance >= ACCEPT_CHANCE:
            return "acceptable"
        if self.plan.stays:
            return "read_again"
        if self.plan.pinion_mm and self.plan.ring_mm:
            return "move_both"
        return "move_pinion" if self.plan.pinion_mm else "move_ring_gear"

    def moves(self) -> list[Move]:
        """The planned moves in the order of work: pinion shim, then ring gear (depth, backlash again)."""
        moves = []
        if self.plan.pinion_mm:
            moves.append(pinion_move(self.plan.pinion_mm, self.axle, self.plan.after_pinion))
        if self.plan.ring_mm:
            moves.append(ring_move(self.plan.ring_mm, self.axle, self.plan.after))
        return moves

    def expected(self) -> Statement:
        """What the moves are expected to do, in words."""
        return say("remember-what-moved", describe_expectation(self.plan.after), also=("mesh",))

    def faults(self) -> list[Fault]:
        """Mix-ups in the last move, and patterns that no move brings together."""
        found = []
        belief = self.foresight.belief
        mixup = find_mixup(belief.candidates, belief.prior, self.foresight.observations)
        if mixup is not None:
            found.append(fault(mixup.rule))
        elif self._no_move_fits():
            found.append(fault("no-move-fits", self._housing_words()))
        return found

    def _no_move_fits(self) -> bool:
        """Even after the best move something is expected outside its zone, beyond doubt."""
        zones = self.foresight.zones
        moves = self.plan.pinion_mm, self.plan.ring_mm
        mean, sigma = self.foresight.belief.expected(moves)
        outside = np.maximum(zones.low - mean, mean - zones.high)
        return bool(np.any(outside > 2 * sigma))

    def _housing_words(self) -> str:
        text = say("no-move-fits").text
        if self.foresight.bent_odds < TELL_BENT_ODDS:
            return text
        mean, sigma = self.foresight.bent.state()
        return (
            f"{text} An offset error of {show_length(mean[2], signed=True)} (give or take "
            f"{show_clearance(sigma[2])}) and a shaft angle off by {mean[3]:+.2f}° (give or take "
            f"{sigma[3]:.2f}°) would explain it."
        )

    def lengthwise(self) -> Statement:
        """Which way the patterns go along the length in this gear set, where publications contradict."""
        belief = self.foresight.belief
        away = belief.candidates.jacobian[:, [0, 2], 0]
        heel = belief.weight @ (away > 0)
        words = [
            f"the {role} pattern {_way(chance)}"
            for role, chance in zip(("drive", "coast"), heel, strict=True)
        ]
        return say(
            "effect-pinion-away",
            f"For this gear set the mesh says that moving the pinion away takes {' and '.join(words)}.",
            also=("mesh",),
        )


def describe_expectation(expected: Expectation) -> str:
    """Where both patterns and the backlash are expected, in words and numbers."""
    parts = [
        _centre_words("drive", expected.drive, expected.drive_sigma),
        _centre_words("coast", expected.coast, expected.coast_sigma),
    ]
    if expected.backlash_mm is not None and expected.backlash_sigma_mm is not None:
        parts.append(
            f"backlash {show_clearance(expected.backlash_mm)}, give or take "
            f"{show_clearance(expected.backlash_sigma_mm)}"
        )
    return f"Expected then: {'; '.join(parts)}. Chance that all is right: {expected.chance:.0%}."


def _centre_words(role: str, centre: tuple[float, float], sigma: tuple[float, float]) -> str:
    return (
        f"{role} pattern at {centre[0]:.0%} of the length and {centre[1]:.0%} of the height "
        f"(give or take {sigma[0]:.0%} and {sigma[1]:.0%})"
    )


def _way(chance_heel: float) -> str:
    if chance_heel > NEARLY_SURE:
        return "toward the heel"
    if chance_heel < 1 - NEARLY_SURE:
        return "toward the toe"
    return "either way (that hangs on numbers the axle file leaves out)"
