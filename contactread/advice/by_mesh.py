"""Advice with amounts: what the mesh model of this axle, corrected by its own moves, says to do next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from contactread.advice.answer import Expectation, Move, Statement, Verdict
from contactread.advice.faults import Fault, fault
from contactread.advice.misfit import HARDLY_A_CHANCE, misfit, of_another_axle
from contactread.advice.mixups import find_mixup
from contactread.advice.moves import pinion_move, ring_move
from contactread.advice.plan import ACCEPT_CHANCE, WORTH_A_PINION, WORTH_A_RING_GEAR, Plan, plan
from contactread.advice.rough import between, rough_move
from contactread.advice.rules import say
from contactread.advice.spoken import describe_expectation, percent
from contactread.advice.standing import Standing
from contactread.advice.surer import surer
from contactread.advice.zones import UNLIMITED, Zones, clear_of_both
from contactread.axle import FLANKS, Axle
from contactread.belief import Belief, EarlierTry
from contactread.belief.targets import Target
from contactread.pattern.measures import Setup
from contactread.units import show_clearance

NEARLY_SURE = 0.9
# From this chance on that all is right, a second look comes before a move: it costs photos only. Below it the
# person gets the move at once: "photograph again" on a set-up that is plainly off is no answer.
LOOK_AGAIN_CHANCE = 0.3
# One look is an all-clear from this chance on: of those between it and nine in ten a second look, which costs
# photos only, shows the wrong ones (calibration.setup_loop: all wrong all-clears came at the first look).
FIRST_LOOK_CHANCE = 0.95
# After the second look, what stands on the edge of its zone is left alone from this chance on.
ACCEPT_AGAIN_CHANCE = 0.9
# What earlier tries make likely must show in the photos at hand, too: below this chance by them alone, it is
# no all-clear (half of the wrong ones in calibration.setup_loop, of gears half guessed).
SEEN_CHANCE = 0.3
# This and the five below are our suppositions, chosen by what calibration.setup_loop then shows.
# The same, where each measure taken alone may be inside its zone: several on their edges are no plain fault,
# unless a pattern is seen to run off root or top and the move adds so much to the chance that all is right.
LOOK_AGAIN_EACH, PLAIN_GAIN = 0.25, 0.75
# After the second look: an axle that no move has opened yet stays shut where each measure taken alone, and
# all together, lie in their zones with these chances. Once it is open a further move costs less: then only
# what is right with STAY_CHANCE stays, and where a move earns too little.
SHUT_EACH, SHUT_CHANCE = 0.4, 0.3
STAY_CHANCE = 0.7
_NO_LIMITS = (
    "No limits for backlash are given, so 6 to 10 thousandths are taken, which is common practice. "
    "Stop where backlash reaches a limit of the axle's manual, and enter the limits in the axle file."
)


class MeshAdvice:
    """The mesh model's part of one piece of advice.

    again: a second look may still be asked for, none having been taken since the last move. seen: chance that
    both patterns are right by what was read since then alone.
    """

    def __init__(
        self,
        setup: Setup,
        axle: Axle,
        history: Sequence[EarlierTry],
        target: Target,
        again: bool,
        seen: float,
    ) -> None:
        self.axle = axle
        self._target = target
        self._tries = [*history, EarlierTry(setup)]
        self.again = again
        self._seen = seen >= SEEN_CHANCE
        self._last_move_checked = bool(history) and history[-1].checked
        self.now = Standing(setup, axle, history, target)
        self.belief: Belief = self.now.belief
        self.zones: Zones = self.now.zones
        self.plan: Plan = self._best_move(setup)
        if self.plan.stays and self.verdict.startswith("move"):
            self.plan = self._best_move(setup, must_move=True)

    def _best_move(self, setup: Setup, *, must_move: bool = False) -> Plan:
        aim = clear_of_both(self.zones, setup, self.belief) if self.now.off else None
        may = not self._target.name.startswith("used")
        return plan(self.belief, self.zones, self.axle, pinion_may_move=may, must_move=must_move, aim=aim)

    @property
    def rough(self) -> bool:
        """Whether teeth or diameter are guessed, too, so that every amount is a rough one."""
        return bool(self.axle.gears.supposed)

    @property
    def _look_again(self) -> bool:
        """Whether a second look comes before a move: it may show that none is needed, or no move planned on
        this one betters anything.
        """
        chance = self.plan.now.chance
        plain = bool(self.now.off) and not self.now.as_tall and self._gain >= PLAIN_GAIN
        perhaps = not plain and bool(np.all(self.now.alone >= LOOK_AGAIN_EACH))
        return perhaps or chance >= LOOK_AGAIN_CHANCE or (chance >= HARDLY_A_CHANCE and self._gain <= 0)

    @property
    def _no_better(self) -> bool:
        """Whether no move earns what its work is worth: all stands about as well as any would set it, or
        inside its zones as far as two looks at an axle still shut can tell.
        """
        if self.now.as_tall:
            return self._gain < WORTH_A_RING_GEAR
        if self.now.off:
            return self.plan.now.chance >= ACCEPT_CHANCE and not self._earns
        if self.now.opened:
            return self.now.likely_right >= STAY_CHANCE and not self._earns
        return self.now.likely_right >= SHUT_CHANCE and bool(np.all(self.now.alone >= SHUT_EACH))

    @property
    def _earns(self) -> bool:
        """Whether the planned move adds what its work is worth."""
        return self._gain >= (WORTH_A_PINION if self.plan.pinion_mm else WORTH_A_RING_GEAR)

    @property
    def _gain(self) -> float:
        """What the planned move adds to the chance that all is right."""
        return self.plan.after.chance - self.expected_now.chance

    @property
    def expected_now(self) -> Expectation:
        """As the gears stand. Its chance, as told in words too, goes by the dial's places as they are
        likely to be; a verdict also by each as read.
        """
        return replace(self.plan.now, chance=max(self.plan.now.chance, self.now.likely_right))

    @property
    def verdict(self) -> Verdict:
        """What to do, by chances alone."""
        chance = self.plan.now.chance
        if not self.now.ever_read:
            return "measure_first"
        sure = not self.now.off and chance >= (FIRST_LOOK_CHANCE if self.again else ACCEPT_AGAIN_CHANCE)
        if sure and self._seen and not self.now.place_outside:
            return "acceptable" if self.now.dial_read else "measure_first"
        if sure and self.again and not self._seen:
            return "read_again"
        if self.now.one_place_decides:
            return "measure_first"
        if sure and self._seen:
            return "read_again" if self.again else "no_better_place"
        if not (self.now.dial_read or self.now.off) and self.now.patterns_right >= ACCEPT_CHANCE:
            return "measure_first"
        if self.again and self._look_again:
            return "read_again"
        if self._no_better:
            return "no_better_place"
        if self.plan.pinion_mm and self.plan.ring_mm:
            return "move_both"
        return "move_pinion" if self.plan.pinion_mm else "move_ring_gear"

    @property
    def reason(self) -> str:
        """Why there is no move, in one short sentence; empty where the verdict says it all."""
        if self.verdict == "measure_first":
            if self.now.one_place_decides:
                return "Both patterns look right; so few places can't tell whether backlash is."
            if self.now.ever_read:
                return "Both patterns look right; backlash must be read as it stands now."
            return "Without it no shim can be chosen: a pattern can't show backlash."
        if self.verdict == "read_again" and self.now.as_tall:
            return f"The contact runs off at the {self.now.edges}: look once more."
        looks_right = self.plan.now.chance >= ACCEPT_CHANCE and not self.now.place_outside
        if self.verdict == "read_again" and looks_right and self._seen:
            return f"All looks right with {percent(self.plan.now.chance)}: look once more to be sure of it."
        if self.verdict == "read_again" and looks_right:
            return "Earlier tries say that all is right; this reading alone doesn't show it."
        if self.verdict == "read_again":
            if self.now.patterns_right >= NEARLY_SURE:
                return "Both patterns look right; photograph and read backlash once more before a move."
            chance = percent(self.expected_now.chance)
            if self.now.off:
                seems = f"It seems to run off at the {self.now.edges}, not surely"
                return f"{seems} (all is right with {chance}): look once more before a move."
            return f"Nothing is plainly off (all is right with {chance}): look once more before a move."
        if self.verdict == "no_better_place" and self.now.off and not self.now.as_tall:
            return f"It runs off at the {self.now.edges}, and no move would better that."
        if self.verdict == "no_better_place" and not self.now.as_tall:
            now, after = (
                percent(self.now.likely_right),
                percent(max(self.plan.after.chance, self.now.likely_right)),
            )
            if not self._seen and self.plan.now.chance >= ACCEPT_CHANCE:
                return f"By all tries it is right with {now}, but its last photos don't show it."
            if self.now.place_outside and self.plan.now.chance >= ACCEPT_CHANCE:
                return (
                    f"By all tries it is right with {now}, but a place of the dial lies outside the limits."
                )
            shut = "" if self.now.opened else "As read more than once, all lies in its zone or on its edge. "
            return f"{shut}All is right with {now}; {self._planned} would make that {after}."
        if self.verdict == "no_better_place":
            return f"It is centred, but about as tall as the tooth: it runs off at the {self.now.edges}."
        return ""

    @property
    def _planned(self) -> str:
        """The best move in a few words, for who would rather make it."""
        told = [
            f"{move.member.replace('_', ' ')} {show_clearance(abs(move.travel_mm))} {move.direction}"
            for move in self.moves()
            if move.travel_mm is not None
        ]
        return " and ".join(told) or "the best move"

    def inspections(self) -> tuple[str, ...]:
        """What to look at where no move is made."""
        if self.verdict != "no_better_place":
            return ()
        if self.now.as_tall:
            return (
                "In a thinner coat it may show shorter; else ask the gears' maker whether that is meant.",
            )
        if self.now.place_outside and self.plan.now.chance >= ACCEPT_CHANCE:
            return ("Read backlash once more where it lies outside, before you seal it.",)
        surer = "make that move, or " if self._earns else ""
        return (f"To be surer, {surer}roll and photograph it once more before you seal it.",)

    def why(self) -> Statement:
        """Why a move is planned though no rule of the chart names a fault: what may lie outside its zone."""
        posterior, zones = self.belief.posterior, self.zones
        mean, _ = posterior.expected((0.0, 0.0))
        doubtful = []
        names = [
            f"the {self.axle.role(flank)} pattern {way}"
            for flank in FLANKS
            for way in ("along the length", "in height")
        ]
        for index, name in enumerate(names):
            low, high = np.full(5, -UNLIMITED), np.full(5, UNLIMITED)
            low[index], high[index] = zones.low[index], zones.high[index]
            if self.now.stands(low, high) < NEARLY_SURE:
                doubtful.append(
                    f"{name} is at about {mean[index]:.0%}, wanted in {low[index]:.0%} to {high[index]:.0%}"
                )
        if not zones.low[4] <= mean[4] <= zones.high[4]:
            zone = "what its places leave of its zone" if self.now.at_several_places else "its zone"
            doubtful.append(f"backlash should be about {show_clearance(float(mean[4]))}, outside {zone}")
        named = f" With what runs off an edge counted in, {'; '.join(doubtful)}." if doubtful else ""
        text = f"As it stands, the chance that all is right is {percent(self.expected_now.chance)}.{named}"
        return say("pattern-in-zone", text, also=("mesh",))

    def moves(self) -> list[Move]:
        """The planned moves in the order of work: pinion shim, then ring gear (depth, backlash again).

        The last one tells what is expected once all are made.
        """
        moves = []
        travel = self.plan.pinion_mm, self.plan.ring_mm
        if travel[0]:
            moves.append(pinion_move(travel[0], self.axle, self.plan.after_pinion))
        if travel[1]:
            moves.append(ring_move(travel[1], self.axle, self.plan.after))
        if self.rough:
            reach = between(self.belief, self.zones, travel)
            moves = [rough_move(move, reach[move.member == "ring_gear"]) for move in moves]
        if moves:
            last = moves[-1]
            rule = last.how[0].rule
            limited = self.axle.limits.backlash_mm is not None
            told = [say(rule, describe_expectation(self.plan.after, limited), also=("mesh",))]
            if not limited:
                told.append(say("backlash-no-limits", _NO_LIMITS))
            moves[-1] = replace(last, how=(*last.how, *told))
        return moves

    def mixup(self) -> tuple[Fault, float] | None:
        """The mix-up in the last move that explains the readings better, and how sure that is (0..1)."""
        if self._last_move_checked:
            return None
        posterior = self.belief.posterior
        found = find_mixup(posterior.candidates, posterior.prior, self.belief.observations)
        return None if found is None else (fault(found.rule), found.odds / (1 + found.odds))

    def misfit(self) -> list[Fault]:
        """What to suspect where even the best move leaves something outside its zone, beyond doubt: first
        that the axle file tells the wrong cutting, where that explains more.
        """
        moving = self.verdict.startswith("move")
        return misfit(self.belief, self.axle, self._tries, self._target, self.plan, self.zones, moving)

    def of_another_axle(self) -> bool:
        """Whether the readings speak for gears of another axle than that of the file."""
        return of_another_axle(self.belief, self.axle, self._tries, self._target)

    def surer(self) -> tuple[Statement, ...]:
        """What would narrow the doubt about the planned move most."""
        return surer(self.belief, (self.plan.pinion_mm, self.plan.ring_mm), by_hand=self.rough)
