"""How the gears stand: what the belief makes of them in their zones, before any move is weighed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from contactread.advice.looks import looked_again, moved, off_in_height
from contactread.advice.plan import ACCEPT_CHANCE
from contactread.advice.zones import (
    NEAR_MIDDLE,
    UNLIMITED,
    Zones,
    at_every_place,
    centred_in_height,
    clear_of_edges,
    is_tall,
    zones_for,
)
from contactread.arrays import Floats
from contactread.axle import Axle
from contactread.belief import Belief, EarlierTry, believe
from contactread.belief.believe import BOUND_MM
from contactread.belief.linear import MEASURES
from contactread.belief.targets import Target
from contactread.belief.tries import PLACES
from contactread.pattern.measures import Setup

# A contact as tall as the tooth counts as centred from this chance on.
CENTRED_CHANCE = 0.9
# A backlash that is right with less than this chance, read at one place, needs no other place to be moved.
PLAINLY_OUTSIDE = 0.02


class Standing:
    """How the gears of one set-up stand by all its tries.

    zones: where the measures are wanted, by each place as read and by the edges that a patch runs off. off:
    of root and top, what a pattern runs off. as_tall: the patterns are where they are wanted, and yet run
    off, since the contact is nearly as tall as the tooth. place_outside: a place of the dial lies outside its
    limits as read. ever_read: backlash was read at this try or an earlier one. opened: a shim was moved since
    the first try.
    """

    def __init__(self, setup: Setup, axle: Axle, history: Sequence[EarlierTry], target: Target) -> None:
        self.dial_read = bool(setup.backlash_mm)
        zones = zones_for(target, axle)
        # An all-clear isn't given beside a dial that reads outside, whatever earlier readings say.
        self.place_outside = any(
            not zones.low[4] - 1e-9 <= mm <= zones.high[4] + 1e-9 for mm in setup.backlash_mm
        )
        self._at_few_places = 0 < len(setup.backlash_mm) < PLACES
        self._binds = self.dial_read and float(np.mean(setup.backlash_mm)) < BOUND_MM
        self.at_several_places = len(set(setup.backlash_mm)) > 1
        self.ever_read = self.dial_read or any(t.setup.backlash_mm for t in history)
        self.belief: Belief = believe(axle, setup, history, target)
        self.off = off_in_height(setup)
        wanted = at_every_place(zones_for(target, axle), setup.backlash_mm)
        # What stands is judged by the places as they are likely to be, an all-clear also by each as read.
        self._likely = at_every_place(zones_for(target, axle), setup.backlash_mm, as_read=False)
        self.as_tall = self._is_as_tall(setup, history, wanted)
        if self.as_tall:
            self.zones: Zones = centred_in_height(wanted, setup, self.belief)
            self._likely = centred_in_height(self._likely, setup, self.belief, NEAR_MIDDLE)
        else:
            self.zones = clear_of_edges(wanted, setup, self.belief)
            self._likely = clear_of_edges(self._likely, setup, self.belief)
        self.opened = any(map(moved, history))

    def _is_as_tall(self, setup: Setup, history: Sequence[EarlierTry], wanted: Zones) -> bool:
        """Whether the patterns are where they are wanted, and yet run off root or top since the contact is
        nearly as tall as the tooth.
        """
        tall = any(
            side.runs_off & {"root", "top"} and is_tall(self.belief, side)
            for side in (setup.drive, setup.coast)
        )
        near = [off_in_height(t.setup) for t in history if _near_middle(t.setup)]
        if not self.off or (not tall and self.off.union(*near) != {"root", "top"}):
            return False
        if not _near_middle(looked_again(setup, history)):  # whatever earlier tries make likely
            return False
        now = self.belief.outlooks([(0.0, 0.0)])[0]
        return now.chance(wanted.low, wanted.high) >= CENTRED_CHANCE

    @property
    def one_place_decides(self) -> bool:
        """Whether the patterns are right, and only backlash speaks for a move, read at fewer places than a
        manual asks for and not plainly outside: the other places cost less than any move.
        """
        if self.off or not self._at_few_places or self._binds:
            return False
        low, high = self.zones.low.copy(), self.zones.high.copy()
        low[:4], high[:4] = -UNLIMITED, UNLIMITED
        return self.patterns_right >= ACCEPT_CHANCE and self.stands(low, high) >= PLAINLY_OUTSIDE

    @cached_property
    def patterns_right(self) -> float:
        """Chance that both patterns are right as the gears stand, whatever the backlash."""
        low, high = self.zones.low.copy(), self.zones.high.copy()
        low[4], high[4] = -UNLIMITED, UNLIMITED
        return self.stands(low, high)

    def stands(self, low: Floats, high: Floats) -> float:
        """Chance that all measures (5,) lie between low and high as the gears stand."""
        return float(self.belief.posterior.chances(np.zeros((1, 2)), low, high)[0])

    @cached_property
    def alone(self) -> Floats:
        """Chance (5,) that each measure, taken alone, lies in its zone as the gears stand."""
        chances = np.empty(MEASURES)
        for index in range(MEASURES):
            low, high = np.full(MEASURES, -UNLIMITED), np.full(MEASURES, UNLIMITED)
            low[index], high[index] = self._likely.low[index], self._likely.high[index]
            chances[index] = self.stands(low, high)
        return chances

    @cached_property
    def likely_right(self) -> float:
        """Chance that all is right as the gears stand, backlash by its places as they are likely to be."""
        return self.stands(self._likely.low, self._likely.high)

    @property
    def edges(self) -> str:
        return " and ".join(sorted(self.off))


def _near_middle(setup: Setup) -> bool:
    """Whether both patterns were read near the middle of the height."""
    return all(abs(side.centre[1] - 0.5) <= NEAR_MIDDLE for side in (setup.drive, setup.coast))
