"""What goes with every answer: what to measure or do next, and what it leaves open."""

from __future__ import annotations

from contactread.advice.answer import Statement, Verdict
from contactread.advice.backlash import Backlash
from contactread.advice.rules import say
from contactread.axle import Axle
from contactread.belief.tries import PLACES


def next_steps(verdict: Verdict, backlash: Backlash | None, axle: Axle) -> list[Statement]:
    """What to measure or do next, in the order of work."""
    steps = []
    if verdict in ("move_pinion", "move_ring_gear", "move_both"):
        steps.append(say("preload-first"))
        steps.append(say("remember-what-moved"))
    if backlash is None or backlash.count < PLACES:
        steps.append(say("backlash-unmeasured"))
    if axle.limits.backlash_mm is None:
        steps.append(say("backlash-no-limits"))
    if verdict == "read_again":
        steps.insert(0, say("unsure-reading"))
    return steps


def cannot_know(axle: Axle) -> str:
    """What is left open where the axle file gives no limits of backlash; else empty."""
    if axle.limits.backlash_mm is None:
        return "Judged by common practice, 6 to 10 thou of backlash, not by your manual's limits."
    return ""
