"""What acting on an answer leads to. One function for the weighing of answers, their marks and their words:
so no feedback can contradict its mark."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from random import Random

from contactread.practice.case import Case, ending, height_per_travel, share
from contactread.practice.question import Choice, Option, choice
from contactread.units import show_clearance

# A patch that leaves its wanted place lies this far from where it belongs, and is plainly seen to.
ENOUGH = 0.19
SET_AGAIN = "backlash set again"  # with the ring gear; to how much, the outcome says
MOST_SAID = 2  # shortfalls that are told, the largest first


@dataclass(frozen=True)
class Act:
    """A move of the pinion, of the ring gear, or of both, ring gear first: -1 toward the other gear, 1 away,
    0 left alone. settles: whether backlash is set again after a pinion move, as a mechanic would.
    """

    pinion: int = 0
    ring: int = 0
    settles: bool = True


LEFT = Act()


@dataclass(frozen=True)
class Outcome:
    """case: the set afterwards; None where a patch is lost. done: what was moved, in words with figures."""

    case: Case | None
    done: str

    @property
    def good(self) -> bool:
        return self.case is not None and ending(self.case).good

    @property
    def clarity(self) -> float:
        """See `Ending.clarity`."""
        return 9.0 if self.case is None else ending(self.case).clarity

    def ends(self) -> str:
        """How it ends, with its figures."""
        if self.case is None:
            return "One side loses its contact altogether."
        backlash = f"backlash {show_clearance(self.case.backlash_mm)}"
        if self.case.backlash_mm <= 0:
            return "No backlash is left: the teeth bind."
        if self.good:
            if self.case.target.name == "used":
                return f"Both patches are on the tooth; {backlash}, in limits."
            off = share(self.case.off())
            where = f"Both patches lie where they should, {off} of the tooth from the best place"
            return f"{where}; {backlash}, in limits."
        words = "; ".join(ending(self.case).lacks[:MOST_SAID])
        return f"{words[0].upper()}{words[1:]} ({backlash})."


def act_on(case: Case, act: Act) -> Outcome:
    """The set after a mechanic acted on an answer, as far as that answer asks him to.

    The pinion goes as far as a wrong depth asks that shows in the pattern (the hidden one, where it is
    larger); then backlash is set again: to what it was, or to the middle of its limits where it was out of
    them. The ring gear goes as far as the middle of the limits asks; with backlash in limits, as far as the
    patterns ask and the limits allow (as far as the limits allow, where the patterns ask for nothing).
    """
    here, done = case, []
    if act.ring:
        after = _ring_moved(here, act.ring)
        done.append(_said("ring gear", after.ring_mm - here.ring_mm))
        here = after
    if act.pinion and here.touches:
        wanted = here.backlash_mm if here.within_limits() else here.middle
        mm = act.pinion * max(abs(here.pinion_mm), ENOUGH / height_per_travel(here.axle_id))
        done.append(_said("pinion", mm))
        here = here.moved(pinion_mm=mm)
        if act.settles and here.touches:
            here = here.with_backlash(wanted)
            done.append(SET_AGAIN)
    return Outcome(here if here.touches else None, ", then ".join(done) or "all left as it is")


def after_shim(case: Case, pinion_mm: float = 0.0, ring_mm: float = 0.0) -> Outcome:
    """The set after a move of so much; after the pinion, backlash is set to what it was."""
    after = case.moved(pinion_mm, ring_mm)
    done = _said("pinion", pinion_mm) if pinion_mm else _said("ring gear", ring_mm)
    if pinion_mm and after.touches:
        after = after.with_backlash(case.backlash_mm)
        done += f", then {SET_AGAIN}"
    return Outcome(after if after.touches else None, done)


def _ring_moved(case: Case, sign: int) -> Case:
    if not case.within_limits():
        needed = abs(case.with_backlash(case.middle).ring_mm - case.ring_mm)
        return case.moved(ring_mm=sign * max(needed, 0.05))
    limit = case.limits[0] if sign < 0 else case.limits[1]
    room = case.with_backlash(limit + 0.1 * (case.middle - limit)).ring_mm - case.ring_mm
    if ending(case).good:  # nothing asks for it: it goes all the way
        return case.moved(ring_mm=room if sign * room > 0 else 0.0)
    tries = [case.moved(ring_mm=max(sign * room, 0.0) * sign * part) for part in (1 / 3, 2 / 3, 1.0)]
    return next((c for c in tries if c.touches and ending(c).good), tries[-1])


def _said(member: str, mm: float) -> str:
    if abs(mm) < 0.005:
        return f"{member} left, for the limits leave it no way"
    return f"{member} {show_clearance(abs(mm))} {'toward' if mm < 0 else 'away from'} the other gear"


def weighed(
    case: Case, acts: Mapping[str, Act | None], best: str, rng: Random, most: float = 0.5
) -> tuple[Choice, float, str] | None:
    """The choice between acts by their texts, how plainly it is decided, and that in words.

    None as an act: nothing to foresee, and not right unless it is the best. Every answer is right whose
    outcome is good. None where the best isn't, where more than `most` of them are, or where one ends so near
    the border that a careful reader could think otherwise.
    """
    outcomes = {text: act_on(case, act) for text, act in acts.items() if act is not None}
    right = {text for text, outcome in outcomes.items() if outcome.good} | ({best} - set(outcomes))
    if best not in right or len(right) > most * len(acts):
        return None
    plain = min(outcome.clarity for outcome in outcomes.values())
    if plain < 1:
        return None
    nearest = min((o for t, o in outcomes.items() if t not in right), key=lambda o: o.clarity)
    says = f"The nearest wrong answer: {nearest.done}. {nearest.ends()}"
    options = {
        t: Option("", t, None if act is None else partial(act_on, case, act)) for t, act in acts.items()
    }
    first = options.pop(best)
    return choice(first, list(options.values()), rng.shuffle, right), plain, says
