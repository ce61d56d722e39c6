"""What the shop book holds, as frozen records. Times are UTC text; lengths mm; torques N·m."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

from contactread.axle import Axle, Role

Condition = Literal["new", "used"]
Outcome = Literal["done", "stopped"]


@dataclass(frozen=True)
class SignOff:
    """How a job was closed. left_open: what the sheet still missed. confirmed: check-list, code to words."""

    outcome: Outcome
    signed_by: str
    signed_at: str
    final_try: int | None
    reason: str
    left_open: tuple[str, ...]
    confirmed: dict[str, str]


@dataclass(frozen=True)
class Reopening:
    """A sign-off that was taken back. signed: the sign-off as it was."""

    reopened_by: str
    reopened_at: str
    reason: str
    signed: SignOff


@dataclass(frozen=True)
class Correction:
    """A value that was replaced, moved or struck out. attempt: number of the try, None for the job itself.
    new: None where it isn't known or nothing stands there now. after_sign_off: the job was signed before."""

    attempt: int | None
    field: str
    old: str
    new: str | None
    reason: str
    corrected_by: str
    corrected_at: str
    after_sign_off: bool


@dataclass(frozen=True)
class Job:
    """One axle taken in hand. axle_text is the axle file; kind groups jobs on the same kind of axle.
    struck: why the job doesn't count any more, None where it does."""

    id: int
    vehicle: str
    kind: str
    axle_text: str
    gear_set: str
    condition: Condition
    opened_by: str
    opened_at: str
    notes: str
    sign_off: SignOff | None
    uid: str = ""
    customer: str = ""
    mileage: str = ""
    shop: str = ""
    struck: str | None = None
    reopened: tuple[Reopening, ...] = ()

    @property
    def axle(self) -> Axle:
        """The axle that the job's file describes, with the job's own word on new or used gears."""
        from contactread.axle_file import parse_axle

        axle = parse_axle(self.axle_text, kept=True)
        return replace(axle, gears=replace(axle.gears, condition=self.condition))


@dataclass(frozen=True)
class Fastener:
    """A torque that the axle's manual asks for, as the user entered it, N·m."""

    name: str
    least_nm: float
    most_nm: float
    tightened_nm: float | None


@dataclass(frozen=True)
class RecordedReading:
    """What was read from a photo, or why not. centre: of the pattern (u, v), None for a refusal. json: the
    reading as `measured.kept_once` makes it, or the refusal."""

    status: Literal["read", "refused"]
    refusal: str | None
    read_at: str
    program: str
    side: Role | None
    confidence: float | None
    centre: tuple[float, float] | None
    json: dict[str, Any]

    @property
    def other(self) -> RecordedReading | None:
        """What the same photo shows of the other flank, None where that was not measured."""
        found = self.json.get("other")
        if not found or "measured" not in found:
            return None
        u, v = found["measured"]["side"]["centre"]
        return replace(self, side=found["side"], confidence=found["confidence"], centre=(u, v), json=found)


@dataclass(frozen=True)
class RecordedPhoto:
    """A photo in the book; its newest reading, None where it was never read. struck: why it doesn't count
    any more, None where it does."""

    id: int
    sha256: str
    name: str
    suffix: str
    bytes: int
    added_by: str
    added_at: str
    reading: RecordedReading | None
    struck: str | None = None


@dataclass(frozen=True)
class RecordedAdvice:
    """Advice given on a try, kept as given. json: the whole advice; words: as it was shown; axle_version: 1,
    2, ... of the job's axle file that it went by."""

    given_at: str
    program: str
    verdict: str
    pinion_shim_change_mm: float | None
    ring_move_mm: float | None
    json: dict[str, Any]
    words: str = ""
    axle_version: int = 1


@dataclass(frozen=True)
class Try:
    """One assembly of the axle that was measured or rolled. Fields as in the table `try`. advice: the newest;
    earlier_advice: what was given before it, oldest first. struck: why the try doesn't count, None where it
    does."""

    id: int
    job_id: int
    number: int
    made_by: str
    made_at: str
    pinion_shim_mm: float | None
    ring_side_shim_mm: float | None
    opposite_side_shim_mm: float | None
    ring_side_notches: float | None
    opposite_side_notches: float | None
    ring_runout_mm: float | None
    pinion_torque_nm: float | None
    bearings: Condition | None
    total_torque_nm: float | None
    side_preload_mm: float | None
    compound: str | None
    drag: str | None
    notes: str
    backlash_mm: tuple[float, ...]
    fasteners: tuple[Fastener, ...]
    photos: tuple[RecordedPhoto, ...]
    advice: RecordedAdvice | None
    earlier_advice: tuple[RecordedAdvice, ...] = ()
    uid: str = ""
    struck: str | None = None

    def reading_of(self, role: Role) -> RecordedReading | None:
        """The surest reading of the drive or the coast side, of photos that show the other side better only
        where there is no other; None where there is none."""
        counted = [p.reading for p in self.photos if p.reading and p.struck is None]
        mine = [reading for reading in counted if reading.side == role]
        mine = mine or [o for reading in counted if (o := reading.other) is not None and o.side == role]
        return max(mine, key=lambda r: r.confidence or 0.0, default=None)
