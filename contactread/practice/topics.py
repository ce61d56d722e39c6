"""The ground that practice covers: topics in six levels, each with a lesson and a maker of questions."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from contactread.practice.ask_amount import ask_amount, ask_side_shims
from contactread.practice.ask_faults import ask_faults
from contactread.practice.ask_patch import ask_edges, ask_place
from contactread.practice.ask_setup import ask_backlash, ask_both, ask_depth, ask_shim
from contactread.practice.ask_special import ask_cutting, ask_reverse, ask_used, ask_what_if
from contactread.practice.ask_tooth import ask_ends, ask_sides
from contactread.practice.question import Question

Maker = Callable[[Random, str], Question | None]

LEVELS = {
    1: "The tooth",
    2: "Reading the patch",
    3: "What is wrong",
    4: "Which shim, which way, how much",
    5: "Special sets, and what no shim cures",
    6: "Photographs and foresight",
}
_MAKERS: dict[str, Maker] = {
    "ends": ask_ends,
    "sides": ask_sides,
    "place": ask_place,
    "edges": ask_edges,
    "depth": ask_depth,
    "backlash": ask_backlash,
    "both": ask_both,
    "shim": ask_shim,
    "amount": ask_amount,
    "side-shims": ask_side_shims,
    "used": ask_used,
    "cutting": ask_cutting,
    "reverse": ask_reverse,
    "faults": ask_faults,
    "what-if": ask_what_if,
}


@dataclass(frozen=True)
class Topic:
    """One piece of the ground.

    level: key of LEVELS. lesson: what is read before its first question. terms: glossary words explained
    with it. guess: chance that somebody who knows nothing is right. make: draws a question, or None where
    the draw doesn't keep its margin; topics without it take theirs from photographs or the shop book.
    """

    id: str
    level: int
    heading: str
    lesson: str
    terms: tuple[str, ...]
    make: Maker | None
    guess: float


def _topics() -> dict[str, Topic]:
    text = Path(__file__).with_name("lessons.toml").read_text(encoding="utf-8")
    return {
        name: Topic(
            name, e["level"], e["heading"], e["lesson"], tuple(e["terms"]), _MAKERS.get(name), e["guess"]
        )
        for name, e in tomllib.loads(text).items()
    }


TOPICS: dict[str, Topic] = _topics()
GENERATED = tuple(name for name, topic in TOPICS.items() if topic.make is not None)
