"""What the two patterns show: each centre against its zone, with the reading's own uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from contactread.advice.answer import Statement
from contactread.advice.rules import contradiction, say
from contactread.axle import Axle, Interval
from contactread.belief.targets import Target, Zone
from contactread.belief.tries import sigma_of
from contactread.patch import Edge
from contactread.pattern.measures import Setup, Side

Height = Literal["high", "right", "low", "unsure"]
Length = Literal["toe", "right", "heel", "unsure"]
Chances = tuple[float, float, float]
_HEIGHTS: tuple[Height, ...] = ("low", "right", "high", "unsure")
_LENGTHS: tuple[Length, ...] = ("toe", "right", "heel", "unsure")

SURE = 0.8  # chance above which a place is named outright


@dataclass(frozen=True)
class Findings:
    """Where both patches sit against their zones, and how likely each lies inside.

    heights, lengths: for drive and coast, the chances of lying below, inside and above the zone. chance: that
    both patches are inside their zones, from the reading alone. coarse: the reading is less certain than the
    zone is wide.
    """

    drive_height: Height
    coast_height: Height
    drive_length: Length
    coast_length: Length
    heights: tuple[Chances, Chances]
    lengths: tuple[Chances, Chances]
    chance: float
    coarse: bool


def find(setup: Setup, target: Target) -> Findings:
    """Compare both centres with their zones. A patch that runs off an edge lies beyond its centre's word:
    it is called high, low, toe or heel for that edge alone where the centre itself would be unsure.
    """
    heights: list[Height] = []
    lengths: list[Length] = []
    up: list[Chances] = []
    along: list[Chances] = []
    chance, coarse = 1.0, False
    for side in (setup.drive, setup.coast):
        zone = target.zone(side.role)
        sigma = sigma_of(side)
        height = _place(side.centre[1], sigma[1], zone.v)
        length = _place(side.centre[0], sigma[0], zone.u)
        heights.append(_HEIGHTS[_named(height, side, "root", "top")])
        lengths.append(_LENGTHS[_named(length, side, "toe", "heel")])
        up.append(height)
        along.append(length)
        if zone.judged:
            chance *= height[1] * length[1]
            coarse |= 2 * sigma[1] > zone.v[1] - zone.v[0] or 2 * sigma[0] > zone.u[1] - zone.u[0]
    return Findings(
        heights[0], heights[1], lengths[0], lengths[1], (up[0], up[1]), (along[0], along[1]), chance, coarse
    )


def describe(side: Side, zone: Zone) -> str:
    """Where one patch sits, in plain words and in numbers."""
    u, v = side.centre
    along = _cut_off(_along(u, zone), side, "toe", "heel", ("nearer the toe", "nearer the heel"))
    up = _cut_off(_up(v, zone), side, "root", "top", ("lower", "higher"))
    text = f"{side.role.capitalize()} pattern ({side.flank} flank): {along}, {up}"
    text += f"; centre at {u:.0%} of the length from the toe and {v:.0%} of the height from the root"
    if side.runs_off:
        edges = " and ".join(sorted(side.runs_off))
        text += f"; runs off at the {edges}"
    return text + "."


def read_outside(setup: Setup, target: Target) -> str:
    """Which patterns were read outside their zones, in words; empty where none was."""
    told = []
    for side in (setup.drive, setup.coast):
        zone = target.zone(side.role)
        words = [_along(side.centre[0], zone), _up(side.centre[1], zone)]
        wrong = [word for word in words if not word.startswith("right")]
        if zone.judged and wrong:
            told.append(f"the {side.role} pattern reads {' and '.join(wrong)}")
    text = ", ".join(told)
    return text[:1].upper() + text[1:]


def _cut_off(words: str, side: Side, low: Edge, high: Edge, beyond: tuple[str, str]) -> str:
    """The words, with where the whole patch would lie if one of its two ends runs off the tooth."""
    if (low in side.runs_off) == (high in side.runs_off):
        return words
    return f"{words} as far as it shows, in truth {beyond[0] if low in side.runs_off else beyond[1]}"


def diagnose(findings: Findings, sides: tuple[Side, Side], axle: Axle | None) -> list[Statement]:
    """The rules of the chart that apply to these findings, heights first."""
    statements = [say(rule) for rule in height_rules(findings)]
    statements += [say(rule) for rule in length_rules(findings)]
    statements += [say("hard-edge", _hard_edge_words(s)) for s in sides if s.hard_edges]
    if axle is not None and axle.gears.cutting != "face_milled" and length_rules(findings):
        statements.append(say("cutting-unknown"))
    return statements


def _hard_edge_words(side: Side) -> str:
    edges = " and ".join(sorted(side.hard_edges))
    return f"The {side.role} pattern has a narrow hard line at the {edges}. {say('hard-edge').text}"


def contradictions(statements: list[Statement]) -> list[Statement]:
    """What publications say against the rules that were used."""
    against = (contradiction(rule) for rule in dict.fromkeys(s.rule for s in statements))
    return [statement for statement in against if statement is not None]


def height_rules(findings: Findings) -> list[str]:
    """Ids of the height rules that apply."""
    heights = {findings.drive_height, findings.coast_height}
    if heights == {"high", "low"}:
        return ["heights-contradict"]
    if heights == {"high"}:
        return ["both-high"]
    if heights == {"low"}:
        return ["both-low"]
    if "high" in heights:
        return ["one-high"]
    if "low" in heights:
        return ["one-low"]
    return []


def length_rules(findings: Findings) -> list[str]:
    """Ids of the length rules that apply."""
    pair = findings.drive_length, findings.coast_length
    rules = {
        ("toe", "toe"): "both-toe",
        ("heel", "heel"): "both-heel",
        ("heel", "toe"): "opposite-drive-heel",
        ("toe", "heel"): "opposite-drive-toe",
    }
    if pair in rules:
        return [rules[pair]]
    if pair[0] in ("toe", "heel"):
        return [f"drive-{pair[0]}"]
    return []


def _place(value: float, sigma: float, zone: Interval) -> Chances:
    """Chances that the true value lies below, inside and above the zone."""
    below = 0.5 * (1 + math.erf((zone[0] - value) / sigma / math.sqrt(2)))
    above = 0.5 * (1 + math.erf((value - zone[1]) / sigma / math.sqrt(2)))
    return below, max(1 - below - above, 0.0), above


def _named(chances: Chances, side: Side, low: Edge, high: Edge) -> int:
    """Which of _HEIGHTS or _LENGTHS, by the chances of the place and by the one of two edges that the side
    runs off."""
    for which, edge, other in ((0, low, high), (2, high, low)):
        alone = edge in side.runs_off and other not in side.runs_off
        if chances[which] > (1 - SURE if alone else SURE):
            return which
    return 1 if chances[1] > SURE else 3


def _along(u: float, zone: Zone) -> str:
    if u < zone.u[0]:
        return "too near the toe"
    if u > zone.u[1]:
        return "too near the heel"
    return "right along the length"


def _up(v: float, zone: Zone) -> str:
    if v > zone.v[1]:
        return "high on the tooth"
    if v < zone.v[0]:
        return "low on the tooth"
    return "right in height"
