"""What advice is made of: statements that name their rule, moves, what each move is expected to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from contactread.advice.spoken import spoken
from contactread.axle import Interval, Role
from contactread.patch import Point
from contactread.units import MM_PER_THOU, show_length, show_span

Verdict = Literal[
    "acceptable",
    "move_pinion",
    "move_ring_gear",
    "move_both",
    "measure_first",
    "read_again",
    "check_last_move",
    "no_better_place",
    "not_a_shim_problem",
]


@dataclass(frozen=True)
class Statement:
    """One sentence of advice and what it rests on.

    rule: its id in `shared/rules.toml`. sources: ids in `shared/sources.toml`; "practice" is common
    practice without a source, "mesh" is computed for this gear set.
    """

    text: str
    rule: str
    sources: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """As `--json` shows it."""
        return {"text": self.text, "rule": self.rule, "sources": list(self.sources)}


@dataclass(frozen=True)
class Expectation:
    """What is expected once a move is made.

    drive, coast: centres (u, v). drive_sigma, coast_sigma: their standard uncertainty, from the reading
    and from what isn't known of this gear set. backlash_mm, backlash_sigma_mm: None where no backlash
    was measured. chance: that both patterns and the backlash then lie where they should, 0..1.
    """

    drive: Point
    drive_sigma: Point
    coast: Point
    coast_sigma: Point
    backlash_mm: float | None
    backlash_sigma_mm: float | None
    chance: float

    def centre(self, role: Role) -> Point:
        """Where the pattern of this side is expected."""
        return self.drive if role == "drive" else self.coast

    def to_json(self) -> dict[str, Any]:
        """As `--json` shows it."""
        backlash = None
        if self.backlash_mm is not None:
            backlash = {**_length(self.backlash_mm), "sigma_mm": self.backlash_sigma_mm}
        return {
            "drive": {"centroid": list(self.drive), "sigma": list(self.drive_sigma)},
            "coast": {"centroid": list(self.coast), "sigma": list(self.coast_sigma)},
            "backlash": backlash,
            "chance": self.chance,
        }


@dataclass(frozen=True)
class ShimChange:
    """One part that the hand changes.

    part: "pinion_shim", "ring_side_shim", "opposite_shim" or "adjusters". change_mm: thicker is positive
    (None for adjusters). new_mm: thickness to fit, None where the present one isn't known.
    notches: of both adjusters, ring gear away from the pinion is positive (None for shims).
    """

    part: Literal["pinion_shim", "ring_side_shim", "opposite_shim", "adjusters"]
    change_mm: float | None = None
    new_mm: float | None = None
    notches: float | None = None

    @property
    def fit(self) -> str:
        """What to fit, in words; empty where that isn't known."""
        if self.new_mm is None:
            return ""
        if self.new_mm <= 0:
            return "but the shim told to be in the axle is no thicker than that: measure it"
        return f"fit {show_length(self.new_mm)}"

    def to_json(self) -> dict[str, Any]:
        """As `--json` shows it."""
        return {
            "part": self.part,
            "change": None if self.change_mm is None else _length(self.change_mm),
            "new": None if self.new_mm is None else _length(self.new_mm),
            "notches": self.notches,
        }


@dataclass(frozen=True)
class Move:
    """One move of one member.

    travel_mm: signed as in the whole house, P for the pinion (positive away from the ring-gear axis) and
    G for the ring gear (positive away from the pinion); None where only the direction can be told.
    direction: in words. shims: what the hand changes; empty where the shim's place isn't known.
    how: the sentences that say it. expected: after this move and those listed before it. between_mm: where
    the amount is a rough guess, the travels between which the best one lies with four chances of five.
    """

    member: Literal["pinion", "ring_gear"]
    direction: Literal["toward", "away"]
    travel_mm: float | None
    shims: tuple[ShimChange, ...]
    how: tuple[Statement, ...]
    expected: Expectation | None = None
    between_mm: Interval | None = None

    @property
    def span(self) -> str:
        """The amounts between which a rough guess lies, in words; empty where it is none."""
        if self.between_mm is None:
            return ""
        least, most = sorted(map(abs, self.between_mm))
        return show_span(least, most)

    def to_json(self) -> dict[str, Any]:
        """As `--json` shows it."""
        return {
            "member": self.member,
            "direction": self.direction,
            "travel": None if self.travel_mm is None else _length(self.travel_mm),
            "shims": [s.to_json() for s in self.shims],
            "how": [s.to_json() for s in self.how],
            "expected": None if self.expected is None else self.expected.to_json(),
            "between": None if self.between_mm is None else [_length(mm) for mm in self.between_mm],
        }


@dataclass(frozen=True)
class Advice:
    """The answer to one set-up.

    diagnosis: what the patterns say. moves: in the order of work. now: where the set-up is believed to
    stand, with the chance that it is right as it is. alternatives: where publications contradict each
    other, both sides. inspections: what to look at, in words. next_steps: what to measure or do next.
    cautions: short; `contactread` prints the full ones by a command. confidence: chance, computed, that
    all is right (as it stands, or once the moves are made), or that the suspected mix-up happened; None where
    none was computed. reason: why there is no move, or none with an amount, in one short sentence.
    surer: what would raise the chance most, best first. cannot_know: what this answer leaves open, in one
    short sentence.
    """

    verdict: Verdict
    diagnosis: tuple[Statement, ...]
    moves: tuple[Move, ...] = ()
    now: Expectation | None = None
    alternatives: tuple[Statement, ...] = ()
    inspections: tuple[str, ...] = ()
    next_steps: tuple[Statement, ...] = ()
    cautions: tuple[str, ...] = ()
    confidence: float | None = None
    reason: str = ""
    surer: tuple[Statement, ...] = ()
    cannot_know: str = ""

    @property
    def answer(self) -> tuple[str, ...]:
        """What to do, in a few short lines, amounts in both units; the first is the headline."""
        return spoken(self)

    @property
    def headline(self) -> str:
        """What to do, in one plain sentence with its amount."""
        return spoken(self)[0]

    @property
    def expected(self) -> Expectation | None:
        """What is expected once all moves are made; None where there is no move, or only directions."""
        return self.moves[-1].expected if self.moves else None

    @property
    def chance(self) -> float | None:
        """Chance that all is right once this is done, 0..1; None where none was computed."""
        return self.confidence if self.expected is None else self.expected.chance

    @property
    def pinion_mm(self) -> float | None:
        """The advised pinion travel P: 0 where the pinion stays, None where only its direction is told."""
        return self._travel("pinion")

    @property
    def ring_mm(self) -> float | None:
        """The advised ring-gear travel G: 0 where it stays, None where only its direction is told."""
        return self._travel("ring_gear")

    def _travel(self, member: str) -> float | None:
        return next((m.travel_mm for m in self.moves if m.member == member), 0.0)

    def to_json(self) -> dict[str, Any]:
        """Plain data for ``--json`` and the shop book."""
        return {
            "verdict": self.verdict,
            "headline": self.headline,
            "answer": list(self.answer),
            "confidence": self.confidence,
            "diagnosis": [s.to_json() for s in self.diagnosis],
            "moves": [m.to_json() for m in self.moves],
            "now": None if self.now is None else self.now.to_json(),
            "alternatives": [s.to_json() for s in self.alternatives],
            "inspections": list(self.inspections),
            "next_steps": [s.to_json() for s in self.next_steps],
            "cautions": list(self.cautions),
            "reason": self.reason,
            "surer": [s.to_json() for s in self.surer],
            "cannot_know": self.cannot_know,
        }


def _length(mm: float) -> dict[str, float]:
    return {"mm": round(mm, 4), "thou": round(mm / MM_PER_THOU, 2)}
