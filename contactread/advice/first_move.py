"""Which way to move by the chart alone: directions from the rules, no amounts."""

from __future__ import annotations

from dataclasses import dataclass

from contactread.advice.answer import Move
from contactread.advice.backlash import Backlash
from contactread.advice.findings import Findings, height_rules, length_rules
from contactread.advice.moves import Direction, pinion_direction_only, ring_direction_only
from contactread.facts import facts
from contactread.pattern.measures import Setup, Side


@dataclass(frozen=True)
class Directions:
    """The way each member should go; None where it should stay. rule: which chart rule asked for it."""

    pinion: Direction | None = None
    ring_gear: Direction | None = None
    pinion_rule: str | None = None
    ring_rule: str | None = None


def chart_directions(findings: Findings, backlash: Backlash | None) -> Directions:
    """Backlash outside its limits comes first and alone; then height; then length, where backlash lets it."""
    if backlash is not None and backlash.verdict in ("below", "above"):
        large = backlash.verdict == "above"
        return Directions(
            ring_gear="toward" if large else "away",
            ring_rule="backlash-too-large" if large else "backlash-too-small",
        )
    for rule in height_rules(findings):
        action = facts("rules")[rule]["action"]
        if action.startswith("pinion_"):
            return Directions(pinion=action.removeprefix("pinion_"), pinion_rule=rule)
    for rule in length_rules(findings):
        action = facts("rules")[rule]["action"]
        if action.startswith("gear_"):
            return Directions(ring_gear=action.removeprefix("gear_"), ring_rule=rule)
    return Directions()


def chart_moves(findings: Findings, backlash: Backlash | None) -> list[Move]:
    """The same as a move without an amount; none where the chart names no fault."""
    asked = chart_directions(findings, backlash)
    if asked.pinion is not None:
        return [pinion_direction_only(asked.pinion)]
    return [] if asked.ring_gear is None else [ring_direction_only(asked.ring_gear)]


def used_acceptable(setup: Setup) -> bool:
    """Used gears (A14): on the tooth, running off no edge, clear of the toe; its place doesn't matter."""
    return not (setup.drive.runs_off or setup.coast.runs_off)


def used_direction(setup: Setup) -> Direction | None:
    """Used gears (A14): the backlash move that brings the patch back onto the tooth; None where edges
    contradict each other. Off the toe or the root: ring gear away. Off the heel or the top: toward.
    """
    votes = sum(_vote(side) for side in (setup.drive, setup.coast))
    if votes == 0:
        return None
    return "away" if votes > 0 else "toward"


def _vote(side: Side) -> int:
    ends = ("toe" in side.runs_off) - ("heel" in side.runs_off)
    heights = ("root" in side.runs_off) - ("top" in side.runs_off)
    return 2 * ends + heights
