"""Level 1: the ends of the tooth, and which side drives."""

from __future__ import annotations

from random import Random

from contactread.axle import FlankName
from contactread.patch import Edge
from contactread.practice.case import ROLES, Case
from contactread.practice.fleet import FLEET
from contactread.practice.question import (
    Choice,
    GearPicture,
    Option,
    Question,
    ToothPicture,
)
from contactread.practice.wording import define

_BY_DEFINITION = "The letters stand at different places of the tooth, so only one can be right."
_EDGES: tuple[Edge, ...] = ("toe", "heel", "root", "top")
_WHAT = {
    "toe": "the toe",
    "heel": "the heel",
    "root": "the root",
    "top": "the top edge",
}


def ask_ends(rng: Random, question_id: str) -> Question | None:
    """Four letters round a tooth side; one edge is asked for."""
    case = Case(rng.choice(list(FLEET)), rng.uniform(-0.15, 0.15), rng.uniform(-0.1, 0.1))
    asked = rng.choice(_EDGES)
    letters = list("ABCD")
    rng.shuffle(letters)
    by_edge = dict(zip(_EDGES, letters, strict=True))
    picture = ToothPicture(
        tuple(by_edge.items()),
        case.drawn(rng.choice(ROLES)),
        rng.random() < 0.5,
        1.0 if case.axle.gears.cutting == "face_hobbed" else 0.72,
    )
    options = tuple(Option(letter.lower(), f"Letter {letter}") for letter in "ABCD")
    return Question(
        question_id,
        "ends",
        f"Which letter marks {_WHAT[asked]} of this ring-gear tooth?",
        (),
        (picture,),
        Choice(options, by_edge[asked].lower()),
        (define(asked),),
        1.0,
        _BY_DEFINITION,
        terms=("ring_gear", *_EDGES),
    )


def ask_sides(rng: Random, question_id: str) -> Question | None:
    """A tooth seen from above: which side drives, which coasts, which is hollow."""
    case = Case(rng.choice(list(FLEET)))
    axle = case.axle
    flanks: tuple[FlankName, ...] = ("convex", "concave")
    letters = ("A", "B") if rng.random() < 0.5 else ("B", "A")
    by_flank = dict(zip(flanks, letters, strict=True))
    asked = rng.choice(("drive", "coast", "convex", "concave"))
    flank = next(f for f in flanks if asked in (f, axle.role(f)))
    hand = axle.gears.hand
    assert hand is not None
    picture = GearPicture(tuple(by_flank.items()), rng.randrange(0, 360, 3), hand)
    given = [f"{axle.name} (invented)."]
    rotation = "normal" if axle.rotation == "normal" else "reverse"
    given.append(f"It is an axle of {rotation} rotation.")
    options = (Option("a", "Side A"), Option("b", "Side B"))
    why = [define(asked)]
    if asked in ("drive", "coast"):
        why.append(define(flank))
        if axle.rotation == "reverse":
            why.append(define("reverse_rotation"))
    return Question(
        question_id,
        "sides",
        f"Which letter marks the {asked} side of this ring-gear tooth?",
        tuple(given),
        (picture,),
        Choice(options, by_flank[flank].lower()),
        tuple(why),
        1.0,
        "A tooth has one hollow and one bulging side, and the rotation is given.",
        case=None,
        terms=("convex", "concave", "drive", "coast", "reverse_rotation"),
    )
