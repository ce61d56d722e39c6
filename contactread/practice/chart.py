"""What the rule chart of `shared/rules.toml` says about a case, to hold every question against it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

from contactread.advice.backlash import judge_backlash
from contactread.advice.faults import find_faults
from contactread.advice.findings import Findings, find
from contactread.advice.first_move import chart_directions, used_acceptable, used_direction
from contactread.axle import Role
from contactread.belief.tries import SIGMA_FLOOR
from contactread.facts import facts
from contactread.patch import Patch
from contactread.pattern.measures import Setup, Side
from contactread.practice.case import Case, Member, flank_of

Way = Literal["toward", "away"]


@dataclass(frozen=True)
class Verdict:
    """The chart's word: a fault that no shim cures, or which member to move which way, or neither."""

    fault: str | None = None
    member: Member | None = None
    way: Way | None = None
    rule: str | None = None


def chart_verdict(case: Case) -> Verdict:
    """What the chart says about the patterns and the backlash of a case, read without error."""
    setup = as_setup(case)
    findings = find(setup, case.target)
    faults = find_faults(setup, findings, by_chart=True)
    if faults:
        return Verdict(fault=faults[0].statement.rule)
    backlash = judge_backlash(setup.backlash_mm, case.axle.limits)
    if case.target.name.startswith("used"):
        if used_acceptable(setup):
            return Verdict(rule="used-acceptable")
        return Verdict(member="ring_gear", way=used_direction(setup), rule="used-backlash-only")
    directions = chart_directions(findings, backlash)
    if directions.pinion:
        return Verdict(member="pinion", way=directions.pinion, rule=directions.pinion_rule)
    if directions.ring_gear:
        return Verdict(member="ring_gear", way=directions.ring_gear, rule=directions.ring_rule)
    return Verdict()


def findings_of(case: Case) -> Findings:
    """Where both patches sit against their zones, read without error."""
    return find(as_setup(case), case.target)


def as_setup(case: Case) -> Setup:
    """A case as if its patterns had been read from photos as surely as can be."""
    return Setup(_side(case, "drive"), _side(case, "coast"), (case.backlash_mm,))


def foretold(rule: str, case: Case) -> dict[tuple[str, Literal["length", "height"]], str]:
    """The shifts that an effect rule prints for this set: (flank, "length" or "height") to its word."""
    entry = facts("rules")[rule]
    printed = dict(entry["effect"]) | entry.get(f"effect_{case.axle.gears.cutting}", {})
    words: dict[tuple[str, Literal["length", "height"]], str] = {}
    for name, word in printed.items():
        flank, _, what = name.partition("_")
        if what in ("length", "height"):
            words[flank, what] = word
    return words


def _side(case: Case, role: Role) -> Side:
    patch = case.patch(role)
    return Side(
        **{f.name: getattr(patch, f.name) for f in fields(Patch)},
        flank=flank_of(case.axle, role),
        role=role,
        sigma=SIGMA_FLOOR,
        compound="yellow",
    )
