"""What a question is made of: what is shown, what is asked, which answers are right and how plainly."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from contactread.advice.answer import Statement
from contactread.axle import ROLES, FlankName, Hand, Interval, Role
from contactread.patch import Edge, Patch, Point
from contactread.practice.case import Case

if TYPE_CHECKING:
    from contactread.practice.acting import Outcome


@dataclass(frozen=True)
class FlankPicture:
    """Flanks side by side. flanks: what stands above each, and its patch. heading: what they show."""

    heading: str
    flanks: tuple[tuple[str, Patch], ...]


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
class PhotoPicture:
    """A photograph. says: what it shows. size_px: width and height; outline_px: of the tooth that is asked
    about. Both empty where the whole photograph is meant.
    """

    path: Path
    says: str
    size_px: tuple[int, int] | None = None
    outline_px: tuple[Point, ...] = ()


Picture = FlankPicture | ToothPicture | GearPicture | PhotoPicture


@dataclass(frozen=True)
class Option:
    """One answer to choose. leads_to: gives what acting on it leads to; None where nothing is foreseen."""

    key: str
    text: str
    leads_to: Callable[[], Outcome] | None = field(default=None, compare=False)


@dataclass(frozen=True)
class Choice:
    """Choose one. best: key of the one that the shop would choose. right: keys of all that are right."""

    options: tuple[Option, ...]
    best: str
    right: frozenset[str]

    def option(self, key: str) -> Option:
        return next(o for o in self.options if o.key == key)


@dataclass(frozen=True)
class Amount:
    """Give a change of a shim. best_mm: what the shop would choose, thicker positive. part: which shim.
    leads_to: what a change of so many mm leads to; it is right where that is good.
    """

    part: str
    best_mm: float
    leads_to: Callable[[float], Outcome] = field(compare=False)


@dataclass(frozen=True)
class MarkPatch:
    """Say where the patch lies. patch: the truth; its length and height are its borders as the eye sees them.

    tolerance: root mean square miss of the four borders, or distance of the centre, that still counts as
    right, in fractions. role, flank: of the side that is shown. size_mm: its length and mean height.
    """

    patch: Patch
    tolerance: float
    role: Role
    flank: FlankName
    size_mm: Interval


Answer = Choice | Amount | MarkPatch


@dataclass(frozen=True)
class Question:
    """One question.

    id: topic and seed; the same id gives the same question. given: facts about the axle and what was
    measured. about: three statements on this very picture: where the patch is, what that means, what moves
    it. margin: by how much the right answers are right (fractions of the tooth, or `Ending.clarity`);
    margin_says: the same in words. convention: which of several contradicting sources it goes by.
    against_chart: where this gear set answers otherwise than the common chart says. terms: glossary words
    it uses.
    """

    id: str
    topic: str
    prompt: str
    given: tuple[str, ...]
    pictures: tuple[Picture, ...]
    answer: Answer
    about: tuple[Statement, ...]
    margin: float
    margin_says: str
    case: Case | None = None
    convention: Statement | None = None
    against_chart: Statement | None = None
    terms: tuple[str, ...] = ()

    @property
    def guess(self) -> float:
        """Chance that somebody who knows nothing is right. An amount: one way of two, and half of the sizes
        that a shop would try. A marked patch: less than one in twenty (four borders, or a place).
        """
        if isinstance(self.answer, Choice):
            return len(self.answer.right) / len(self.answer.options)
        return 0.25 if isinstance(self.answer, Amount) else 0.05

    @property
    def statements(self) -> tuple[Statement, ...]:
        """All that the question rests on."""
        return tuple(s for s in (*self.about, self.convention, self.against_chart) if s is not None)

    def to_json(self) -> dict[str, Any]:
        """Everything a page needs to ask the question; never the answer."""
        asked: dict[str, Any] = {"kind": "patch", "example": PATCH_FORM}
        if isinstance(self.answer, Choice):
            asked = {"kind": "choice", "options": {o.key: o.text for o in self.answer.options}}
        elif isinstance(self.answer, Amount):
            asked = {"kind": "amount", "part": self.answer.part, "example": AMOUNT_FORMS}
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


def choice(
    best: Option,
    others: list[Option],
    shuffled: Callable[[list[Option]], None],
    right: Collection[str] | None = None,
) -> Choice:
    """The options in a shuffled order with keys a, b, c. right: texts of the right ones; None: the best."""
    options = [best, *others]
    shuffled(options)
    keyed = tuple(replace(o, key=key) for o, key in zip(options, "abcdefgh", strict=False))
    texts = {best.text} if right is None else right
    return Choice(
        keyed,
        next(o.key for o in keyed if o.text == best.text),
        frozenset(o.key for o in keyed if o.text in texts),
    )


def show_pair(case: Case, heading: str) -> FlankPicture:
    """Both sides of a case, drive first."""
    titles = [f"{role.capitalize()} side, {case.flank(role)} flank" for role in ROLES]
    return FlankPicture(
        heading, tuple((title, case.drawn(role)) for title, role in zip(titles, ROLES, strict=True))
    )
