"""What a question is made of: what is shown, what is asked, the best answer and by how much it is best."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from contactread.advice.answer import Statement
from contactread.axle import FlankName, Hand, Interval, Role
from contactread.patch import Edge, Patch, Point
from contactread.practice.case import ROLES, Case, flank_of


@dataclass(frozen=True)
class PatternPicture:
    """Flank charts side by side. sides: (role, flank, patch) of each; heading: what they show.

    roles_told: False where the role is what is asked.
    """

    heading: str
    sides: tuple[tuple[Role, FlankName, Patch], ...]
    roles_told: bool = True

    def title_of(self, role: Role, flank: FlankName) -> str:
        """The words above one chart."""
        if self.roles_told:
            return f"{role.capitalize()} side, {flank} flank"
        return f"{flank.capitalize()} flank"


@dataclass(frozen=True)
class ToothPicture:
    """One tooth side with a letter at each edge. toe_left: whether the toe is drawn on the left.

    toe_height: height of the toe end against the heel end (1 for uniform depth).
    """

    letters: tuple[tuple[Edge, str], ...]
    patch: Patch
    toe_left: bool
    toe_height: float


@dataclass(frozen=True)
class GearPicture:
    """One tooth of the ring gear seen from above its face, with a letter on each side.

    clock_deg: where on the gear, clockwise from the top. hand: of the ring gear.
    """

    letters: tuple[tuple[FlankName, str], ...]
    clock_deg: float
    hand: Hand


@dataclass(frozen=True)
class RoundPicture:
    """The same side of several teeth spaced evenly round the ring gear."""

    heading: str
    role: Role
    flank: FlankName
    patches: tuple[Patch, ...]


@dataclass(frozen=True)
class PhotoPicture:
    """A photograph. says: what it shows. size_px: width and height; outline_px: of the tooth that is asked
    about. Both empty where the whole photograph is meant.
    """

    path: Path
    says: str
    size_px: tuple[int, int] | None = None
    outline_px: tuple[Point, ...] = ()


Picture = PatternPicture | ToothPicture | GearPicture | RoundPicture | PhotoPicture


@dataclass(frozen=True)
class Option:
    """One answer to choose. leads_to: gives the set after acting on it; None where the patches are lost."""

    key: str
    text: str
    leads_to: Callable[[], Case | None] | None = field(default=None, compare=False)


@dataclass(frozen=True)
class Choice:
    """Choose one. right: key of the best option."""

    options: tuple[Option, ...]
    right: str

    def option(self, key: str) -> Option:
        return next(o for o in self.options if o.key == key)


@dataclass(frozen=True)
class Amount:
    """Give a change of a shim. right_mm: thicker is positive. tolerance_mm: still counted as right.

    part: which shim. start, travel_of: the set as it stands, and the set after a change of so many mm.
    """

    part: str
    right_mm: float
    tolerance_mm: float
    travel_of: Callable[[float], Case] = field(compare=False)


@dataclass(frozen=True)
class MarkPatch:
    """Say where the patch begins and ends. length, height: the truth, as 5 and 95 % points.

    tolerance: root mean square miss of the four borders that still counts as right, in fractions. role,
    flank: of the tooth side that is shown. size_mm: its length and mean height.
    """

    length: Interval
    height: Interval
    tolerance: float
    role: Role
    flank: FlankName
    size_mm: tuple[float, float]


Answer = Choice | Amount | MarkPatch


@dataclass(frozen=True)
class Question:
    """One question.

    id: topic and seed; the same id gives the same question. given: facts about the axle and what was
    measured. convention: which of several contradicting sources it goes by. margin: by how much the best
    answer is best, in fractions of the tooth; margin_says: the same in words. why: rules with sources.
    against_chart: where this gear set answers otherwise than the common chart says. terms: glossary words
    it uses.
    """

    id: str
    topic: str
    prompt: str
    given: tuple[str, ...]
    pictures: tuple[Picture, ...]
    answer: Answer
    why: tuple[Statement, ...]
    margin: float
    margin_says: str
    case: Case | None = None
    convention: Statement | None = None
    against_chart: Statement | None = None
    terms: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Everything a page needs to ask the question; never the answer."""
        asked: dict[str, Any]
        if isinstance(self.answer, Choice):
            asked = {"kind": "choice", "options": {o.key: o.text for o in self.answer.options}}
        elif isinstance(self.answer, Amount):
            asked = {"kind": "amount", "part": self.answer.part, "example": AMOUNT_FORMS}
        else:
            asked = {"kind": "patch", "example": PATCH_FORM}
        return {
            "id": self.id,
            "topic": self.topic,
            "prompt": self.prompt,
            "given": list(self.given),
            "convention": None if self.convention is None else self.convention.to_json(),
            "answer": asked,
            "terms": list(self.terms),
        }

    def fingerprint(self) -> tuple[Any, ...]:
        """What tells two questions apart for the person who is asked."""
        options = [o.text for o in self.answer.options] if isinstance(self.answer, Choice) else ()
        return self.topic, self.prompt, self.given, self.pictures, tuple(options)


AMOUNT_FORMS = '"thicker 0.10 mm" or "thinner 4 thou"'
PATCH_FORM = '"20-55 30-70": from and to along the length, then up the height, in percent'
KEYS = "abcdefgh"


def choice(right: Option, wrong: list[Option], shuffled: Callable[[list[Option]], None]) -> Choice:
    """The options in a shuffled order with keys a, b, c, ..."""
    options = [right, *wrong]
    shuffled(options)
    keyed = tuple(replace(o, key=key) for o, key in zip(options, KEYS, strict=False))
    return Choice(keyed, next(k.key for k in keyed if k.text == right.text))


def show_pair(case: Case, heading: str) -> PatternPicture:
    """Both sides of a case, drive first."""
    axle = case.axle
    return PatternPicture(heading, tuple((role, flank_of(axle, role), case.drawn(role)) for role in ROLES))


def percent(value: float) -> str:
    """A place on the tooth."""
    return f"{value:.0%}"


def share(value: float) -> str:
    """A distance as a share of the tooth; small ones to a tenth of a percent."""
    return f"{value:.0%}" if value >= 0.1 else f"{value:.1%}"
