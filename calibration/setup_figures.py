"""Figures of worked-off mis-set-ups, each beside its bar."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration.setup_conditions import Bar

CALIBRATED = 0.05  # how far a fifth of the chances may miss what came true


@dataclass(frozen=True)
class Outcome:
    """How one mis-set-up went. reshims: moves made; pinion_moves: those that moved the pinion. accepted: the
    worker ended the work. right: it was really right then. started_right: it was right before any move.
    cleared_first: the very first answer accepted it. wrong_first: the first depth move went the wrong way
    although depth was clearly off. readings: photo pairs taken. alarms: good moves called a mix-up.

    forecasts: (chance said, whether it came true) of each move made, where a pattern ran off root or top its
    clearing of them included. acceptances: the same, of accepting.
    stands: the same, of each reading that runs off no root or top: that all was right as it stood. beyond:
    where it was accepted outside, by how much: of the length, of the height, of backlash in mm.
    left: the worker ended it as the best that shims can do; left_rightly: and all was in its zone, a contact
    that runs off root or top within a tenth of the height from the middle; clearable: though shims could have
    cleared root and top.
    ran_off: what was accepted truly ran off root or top. end: the last verdict.
    seconds: of the slowest single advice, the gear set being known.
    """

    reshims: int = 0
    accepted: bool = False
    right: bool = False
    wrong_first: bool = False
    readings: int = 0
    alarms: int = 0
    pinion_moves: int = 0
    started_right: bool = False
    cleared_first: bool = False
    forecasts: tuple[tuple[float, bool], ...] = ()
    acceptances: tuple[tuple[float, bool], ...] = ()
    stands: tuple[tuple[float, bool], ...] = ()
    beyond: tuple[float, float, float] = (0.0, 0.0, 0.0)
    left: bool = False
    left_rightly: bool = False
    clearable: bool = False
    ran_off: bool = False
    end: str = ""
    seconds: float = 0.0


def figures(name: str, outcomes: Sequence[Outcome], bar: Bar | None = None) -> tuple[list[str], bool]:
    """The lines to print, and whether every bar is met."""
    bar = bar or Bar()
    count = len(outcomes)
    reshims = np.array([o.reshims for o in outcomes])
    accepted = [o for o in outcomes if o.accepted]
    outside = sum(not o.right for o in accepted) / max(len(accepted), 1)
    unfinished = sum(not (o.accepted or o.left_rightly) for o in outcomes) / count
    median, most = float(np.median(reshims)), float(np.percentile(reshims, 95, method="inverted_cdf"))
    inside = [o for o in outcomes if o.started_right]
    moved = sum(o.reshims > 0 for o in inside) / max(len(inside), 1)
    checks = [
        ("re-shims, median", median, bar.median, "g"),
        ("re-shims, 95 %", most, bar.most, "g"),
        ("accepted though outside", outside, bar.accepted_outside, ".1%"),
        ("unfinished", unfinished, bar.unfinished, ".1%"),
        (f"moved of {len(inside)} that started inside", moved, bar.moved_inside if inside else None, ".1%"),
    ]
    lines, met = [f"{name}: {count} starts"], True
    for what, value, wanted, form in checks:
        verdict = ""
        if wanted is not None:
            kept = value <= wanted
            met &= kept
            verdict = f"   bar {wanted:{form}}: {'met' if kept else 'MISSED'}"
        lines.append(f"  {what:<40} {value:{form}}{verdict}")
    false_clear = sum(o.cleared_first and not o.started_right for o in outcomes)
    needless = sum(o.pinion_moves > 0 for o in inside)
    ends = sorted({o.end for o in outcomes if not o.accepted})
    told = ", ".join(f"{end} {sum(o.end == end and not o.accepted for o in outcomes)}" for end in ends)
    along, up, play = np.max([o.beyond for o in outcomes], axis=0)
    lines += [
        f"  {'furthest outside that was accepted':<40} length {along:.1%}, height {up:.1%}, {play:.3f} mm",
        f"  {'left as the best that shims can do':<40} {sum(o.left for o in outcomes)}, in their zones "
        f"{sum(o.left and o.right for o in outcomes)}, rightly "
        f"{sum(o.left_rightly for o in outcomes)}; {sum(o.clearable for o in outcomes)} clearable",
        f"  {'false all-clear at the first answer':<40} {false_clear}",
        f"  {'accepted though off root or top':<40} {sum(o.ran_off for o in outcomes)}",
        f"  {'needless pinion moves':<40} {needless} of {len(inside)}",
        f"  {'first depth move the wrong way':<40} {sum(o.wrong_first for o in outcomes) / count:.1%}",
        f"  {'re-shims, mean; photo pairs, mean':<40} {reshims.mean():.2f}; "
        f"{np.mean([o.readings for o in outcomes]):.2f}",
        f"  {'good moves called a mix-up':<40} {sum(o.alarms > 0 for o in outcomes) / count:.1%}",
        f"  {'slowest advice, gear set known, 95 %':<40} "
        f"{1000 * np.percentile([o.seconds for o in outcomes], 95):.0f} ms",
        f"  {'not accepted, by the last answer':<40} {told or 'none'}",
    ]
    for what, pairs in (
        ("chance of a move", [f for o in outcomes for f in o.forecasts]),
        ("chance of accepting", [f for o in outcomes for f in o.acceptances]),
        ("chance as it stands, above 5 %", [f for o in outcomes for f in o.stands if f[0] > 0.05]),
    ):
        lines += _fifths(what, pairs)
    return lines, met


def _fifths(what: str, pairs: Sequence[tuple[float, bool]]) -> list[str]:
    """Said against true in each fifth of the chances said, in the order of what was said."""
    if len(pairs) < 10:
        return []
    lines = []
    for number, fifth in enumerate(
        np.array_split(np.array(sorted(pairs, key=lambda pair: pair[0]), float), 5), 1
    ):
        said, true = fifth.mean(axis=0)
        doubt = float(np.sqrt(max(true * (1 - true), 1 / len(fifth)) / len(fifth)))
        far = abs(said - true) - CALIBRATED
        verdict = (
            "met" if far <= 0 else "beyond doubt MISSED" if far > 2 * doubt else "MISSED, perhaps chance"
        )
        lines.append(
            f"  {what}, fifth {number} of 5 ({len(fifth)})".ljust(42)
            + f" said {said:.2f}, true {true:.2f} ± {doubt:.2f}   bar 0.05: {verdict}"
        )
    return lines
