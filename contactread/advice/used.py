"""Advice on used gears, whose patterns are judged by where they are worn, not by a zone."""

from __future__ import annotations

from contactread.advice.answer import Advice, Move, Statement, Verdict
from contactread.advice.backlash import Backlash
from contactread.advice.by_mesh import SEEN_CHANCE, MeshAdvice
from contactread.advice.findings import Findings, read_outside
from contactread.advice.first_move import used_acceptable, used_direction
from contactread.advice.misfit import LITTLE_CHANCE
from contactread.advice.moves import ring_direction_only
from contactread.advice.rules import inspections, say, short_cautions
from contactread.advice.steps import cannot_know, next_steps
from contactread.axle import Axle
from contactread.belief.targets import Target
from contactread.pattern.measures import Setup
from contactread.units import show_clearance

_USED_OPEN = "These readings leave open whether both patterns are where used gears want them."
_UNLIMITED = "the axle file gives no limits for backlash, and it must never be tighter than was recorded"
_WEAR_MARK = "Hold it against the wear mark, and against what was recorded before the axle was opened."


def used_gears(
    setup: Setup,
    axle: Axle,
    diagnosis: list[Statement],
    backlash: Backlash | None,
    mesh: MeshAdvice,
    findings: Findings,
    target: Target,
) -> Advice:
    """Used gears: on the tooth is good enough, clear of the toe and centred in height; off it, backlash only
    (A14). Backlash outside the limits is moved into them; where there are none it is for the user to hold it
    against what was recorded.
    """
    rules = [say("used-acceptable")] if used_acceptable(setup) else [say("used-backlash-only")]
    rules.append(say("used-wear-mark"))
    verdict: Verdict = "acceptable"
    moves: list[Move] = []
    reason = ""
    look_at: tuple[str, ...] = ()
    outside = backlash is not None and backlash.verdict in ("below", "above")
    if backlash is None:
        verdict, reason = "measure_first", "Used gears too: a pattern can't show backlash."
    elif backlash.verdict == "no_limits" and used_acceptable(setup):
        verdict = "no_better_place"
        reason = (
            f"The wear marks are on the tooth. The axle file gives no limits, so backlash of "
            f"{show_clearance(backlash.mean_mm)} is yours to hold against what was recorded."
        )
    elif outside or not used_acceptable(setup):
        direction = used_direction(setup)
        if outside:
            direction = "toward" if backlash.verdict == "above" else "away"
        verdict = "move_ring_gear" if direction else "not_a_shim_problem"
        moves = [ring_direction_only(direction)] if direction else []
        amount = not mesh.rough and mesh.plan.ring_mm and mesh.plan.after.chance >= LITTLE_CHANCE
        limited = backlash.verdict != "no_limits"  # else the plan might end at any backlash, even none
        if moves and limited and amount and mesh.moves()[0].direction == direction:
            moves = mesh.moves()
        elif moves:
            none = "none that is computed makes it likely right" if limited else _UNLIMITED
            reason = f"No amount: {none}. Go in small steps, and read again."
    elif findings.chance < SEEN_CHANCE:
        verdict, look_at = "no_better_place", (_WEAR_MARK,)
        told = read_outside(setup, target)
        reason = f"{told}; used gears aren't wanted so." if told else _USED_OPEN
    return Advice(
        verdict,
        (*diagnosis, *rules),
        tuple(moves),
        inspections=inspections("no-move-fits") if verdict == "not_a_shim_problem" else look_at,
        next_steps=tuple(next_steps(verdict, backlash, axle)),
        cautions=short_cautions(),
        reason=reason,
        cannot_know=cannot_know(axle),
    )
