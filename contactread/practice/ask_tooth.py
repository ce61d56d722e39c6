"""Level 1: the ends of the tooth, and which side drives."""

from __future__ import annotations

from random import Random

from contactread.axle import FLANKS, ROLES, FlankName
from contactread.patch import Edge
from contactread.practice.case import Case
from contactread.practice.fleet import FLEET
from contactread.practice.question import Choice, GearPicture, Option, Question, ToothPicture
from contactread.practice.wording import computed, define

_EDGES: tuple[Edge, ...] = ("toe", "heel", "root", "top")
_NAMES = {"toe": "the toe", "heel": "the heel", "root": "the root", "top": "the top edge"}


def ask_ends(rng: Random, question_id: str) -> Question | None:
    """Four letters round a tooth side; one edge is asked for."""
    case = Case(rng.choice(list(FLEET)), rng.uniform(-0.15, 0.15), rng.uniform(-0.1, 0.1))
    asked = rng.choice(_EDGES)
    letters = list("ABCD")
    rng.shuffle(letters)
    by_edge = dict(zip(_EDGES, letters, strict=True))
    toe_left = rng.random() < 0.5
    patch = case.drawn(rng.choice(ROLES))
    depth = 1.0 if case.axle.gears.cutting == "face_hobbed" else 0.72
    options = tuple(Option(letter.lower(), f"Letter {letter}") for letter in "ABCD")
    best = by_edge[asked].lower()
    centre_side, body = ("left" if toe_left else "right"), by_edge["root"]
    u, v = patch.centre
    return Question(
        question_id,
        "ends",
        f"Which letter marks {_NAMES[asked]} of this ring-gear tooth?",
        (),
        (ToothPicture(tuple(by_edge.items()), patch, toe_left, depth),),
        Choice(options, best, frozenset(best)),
        (
            computed(f"Here the gear's centre is to the {centre_side} and its body beside {body}: "
                     f"{', '.join(f'{by_edge[e]} {_NAMES[e]}' for e in _EDGES)}."),
            define(asked),
            computed(f"Its patch: centre {u:.0%} of the way from {by_edge['toe']} to {by_edge['heel']}, "
                     f"{v:.0%} from {by_edge['root']} to {by_edge['top']}."),
        ),
        1.0,
        "The letters stand at different places of the tooth, so only one can be right.",
        terms=("ring_gear", *_EDGES),
    )  # fmt: skip


def ask_sides(rng: Random, question_id: str) -> Question | None:
    """A tooth seen from above: which side drives, which coasts, which is hollow, and which flank that is."""
    axle = FLEET[rng.choice(list(FLEET))]
    letters = ("A", "B") if rng.random() < 0.5 else ("B", "A")
    by_flank: dict[FlankName, str] = dict(zip(FLANKS, letters, strict=True))
    asked = rng.choice(("drive", "coast"))
    flank = next(f for f in FLANKS if axle.role(f) == asked)
    assert axle.gears.hand is not None
    bulges = {"convex": "the convex flank: it bulges", "concave": "the concave flank: it is hollow"}
    answers = [(f, word) for f in FLANKS for word in FLANKS]
    rng.shuffle(answers)
    options = tuple(
        Option("abcd"[k], f"Side {by_flank[f]}, {bulges[word]}.") for k, (f, word) in enumerate(answers)
    )
    best = "abcd"[answers.index((flank, flank))]
    turns = "reverse" if axle.rotation == "reverse" else "normal"
    return Question(
        question_id,
        "sides",
        f"Which letter marks the {asked} side of this ring-gear tooth, and which flank is that?",
        (f"{axle.name} (invented), of {turns} rotation.",),
        (GearPicture(tuple(by_flank.items()), rng.randrange(0, 360, 3), axle.gears.hand),),
        Choice(options, best, frozenset(best)),
        (
            computed(f"Here side {by_flank['convex']} bulges (convex) and side {by_flank['concave']} is "
                     "hollow (concave)."),
            define("reverse_rotation" if turns == "reverse" else asked),
            computed(f"This axle is of {turns} rotation, so the {flank} flank is the {asked} side: "
                     f"side {by_flank[flank]}."),
        ),
        1.0,
        "A tooth has one hollow and one bulging side, and the rotation is given.",
        terms=(*FLANKS, "drive", "coast", "reverse_rotation"),
    )  # fmt: skip
