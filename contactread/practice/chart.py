"""What the rule chart of `shared/rules.toml` says about a case, to hold every question against it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

from contactread.advice.answer import Statement
from contactread.advice.backlash import judge_backlash
from contactread.advice.faults import find_faults
from contactread.advice.findings import Findings, find
from contactread.advice.first_move import chart_directions, used_acceptable, used_direction
from contactread.advice.rules import say
from contactread.axle import ROLES, Role
from contactread.belief.tries import SIGMA_FLOOR
from contactread.facts import facts
from contactread.patch import Patch
from contactread.pattern.measures import Setup, Side
from contactread.practice.acting import LEFT, Act
from contactread.practice.case import Case

LEAST_SHIFT = 0.02  # of the tooth: what an eye can see in a pattern
Shift = tuple[Role, Literal["length", "height"]]
_WAYS = {"toward": -1, "away": 1}
WORDS = {"length": ("toe", "heel"), "height": ("lower", "higher")}


@dataclass(frozen=True)
class Verdict:
    """The chart's word: a fault that no shim cures, or what to do; rule: which of its rules says so."""

    fault: str | None = None
    act: Act = LEFT
    rule: str | None = None


def chart_verdict(case: Case) -> Verdict:
    """What the chart says about the patterns and the backlash of a case, read without error."""
    setup, findings = as_setup(case), findings_of(case)
    faults = find_faults(setup, findings, by_chart=True)
    if faults:
        return Verdict(fault=faults[0].statement.rule)
    if case.target.name == "used":
        if used_acceptable(setup):
            return Verdict(rule="used-acceptable")
        return Verdict(act=Act(ring=_WAYS.get(used_direction(setup) or "", 0)), rule="used-backlash-only")
    directions = chart_directions(findings, judge_backlash(setup.backlash_mm, case.axle.limits))
    if directions.pinion:
        return Verdict(act=Act(pinion=_WAYS[directions.pinion]), rule=directions.pinion_rule)
    if directions.ring_gear:
        return Verdict(act=Act(ring=_WAYS[directions.ring_gear]), rule=directions.ring_rule)
    return Verdict()


def findings_of(case: Case) -> Findings:
    """Where both patches sit against their zones, read without error."""
    return find(as_setup(case), case.target)


def as_setup(case: Case) -> Setup:
    """A case as if its patterns had been read from photos as surely as can be."""
    drive, coast = (_side(case, role) for role in ROLES)
    return Setup(drive, coast, (case.backlash_mm,))


def _side(case: Case, role: Role) -> Side:
    patch = case.patch(role)
    same = {f.name: getattr(patch, f.name) for f in fields(Patch)}
    return Side(**same, flank=case.flank(role), role=role, sigma=SIGMA_FLOOR, compound="yellow")


def shifts(case: Case, after: Case) -> dict[Shift, float]:
    """How far each patch moves along the length (positive to the heel) and up the height."""
    moved: dict[Shift, float] = {}
    for role in ROLES:
        before, then = case.patch(role).centre, after.patch(role).centre
        moved[role, "length"], moved[role, "height"] = then[0] - before[0], then[1] - before[1]
    return moved


def against(case: Case, rule: str, moved: dict[Shift, float]) -> Statement | None:
    """Where shifts that an eye can see go against the words that an effect rule prints for this set."""
    entry = facts("rules")[rule]
    printed = dict(entry["effect"]) | entry.get(f"effect_{case.axle.gears.cutting}", {})
    differ = []
    for (role, what), shift in moved.items():
        word = WORDS[what][shift > 0]
        if abs(shift) >= LEAST_SHIFT and printed.get(f"{case.flank(role)}_{what}", word) != word:
            differ.append(f"the {role} patch goes {'to the ' if what == 'length' else ''}{word}")
    if not differ:
        return None
    text = (
        f"The common chart says otherwise: here {' and '.join(differ)}. In this gear set the mechanics "
        "decide: cutter radius, offset and spiral angle matter too."
    )
    return say(rule, text, also=("mesh",))
