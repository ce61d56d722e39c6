"""What no shim can cure: scatter from tooth to tooth, a once-per-turn wave, patches that cross."""

from __future__ import annotations

from dataclasses import dataclass

from contactread.advice.answer import Statement
from contactread.advice.findings import Findings
from contactread.advice.rules import inspections, say
from contactread.belief.tries import sigma_of
from contactread.pattern.measures import Setup, Side

# Limits in flank fractions (u, v). No publication gives them; they are working choices, well above what
# paint and the reading scatter on a sound gear (see calibration) and small enough to show a bent flange.
SCATTER_LIMIT = (0.07, 0.12)
WAVE_LIMIT = (0.05, 0.09)
CROSSED_APART = 0.30  # of the length, between the centres of drive and coast
STEEP_TILT_DEG = 45.0


@dataclass(frozen=True)
class Fault:
    """A finding that no shim cures, and what to inspect."""

    statement: Statement
    inspect: tuple[str, ...]


def find_faults(
    setup: Setup, findings: Findings, *, by_chart: bool, backlash_off: bool = False
) -> list[Fault]:
    """The faults that the reading itself shows.

    by_chart: no mesh model is at hand, or no gear set of it explains the patches, so crossed ones are judged
    by the chart. Else the mesh knows better: with a small cutter radius the ring gear alone shifts drive and
    coast to opposite ends. backlash_off: it lies outside its limits, and has to be right before a pattern is
    judged (A16).
    """
    rules = []
    if any(_over(_clean(s.spread, s), SCATTER_LIMIT) for s in (setup.drive, setup.coast)):
        rules.append("scatter")
    if any(s.wave is not None and _over(s.wave, WAVE_LIMIT) for s in (setup.drive, setup.coast)):
        rules.append("wave")
    contradict = {findings.drive_height, findings.coast_height} == {"high", "low"}
    if contradict and (by_chart or not backlash_off):
        rules.append("heights-contradict")
    elif by_chart and _crossed(setup, findings):
        rules.append("crossed")
    return [fault(rule) for rule in rules]


def fault(rule: str, text: str | None = None) -> Fault:
    """The fault that this rule of the chart names."""
    return Fault(say(rule, text), inspections(rule))


def _crossed(setup: Setup, findings: Findings) -> bool:
    """Drive at one end, coast at the other, while both heights are right: depth can't be the reason, for
    a pinion move would take the heights with it.
    """
    drive, coast = setup.drive, setup.coast
    opposite = {findings.drive_length, findings.coast_length} == {"toe", "heel"}
    heights_right = findings.drive_height == findings.coast_height == "right"
    apart = abs(drive.centre[0] - coast.centre[0]) > CROSSED_APART
    off_both_ends = bool(drive.runs_off & {"toe", "heel"}) and bool(coast.runs_off & {"toe", "heel"})
    if opposite and heights_right and (apart or off_both_ends):
        return True
    return all(abs(s.tilt_deg) > STEEP_TILT_DEG and {"top", "root"} <= s.runs_off for s in (drive, coast))


def _clean(spread: tuple[float, float], side: Side) -> tuple[float, float]:
    """The spread less what the reading of a single tooth itself scatters."""
    sigma = sigma_of(side)
    return max(spread[0] ** 2 - sigma[0] ** 2, 0) ** 0.5, max(spread[1] ** 2 - sigma[1] ** 2, 0) ** 0.5


def _over(value: tuple[float, float], limit: tuple[float, float]) -> bool:
    return value[0] > limit[0] or value[1] > limit[1]
