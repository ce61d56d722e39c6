"""Level 2: where the patch lies, and which edges it runs off."""

from __future__ import annotations

from random import Random

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.axle import ROLES
from contactread.patch import EDGES, Patch
from contactread.practice.case import Case, height_per_travel, share
from contactread.practice.fleet import FLEET
from contactread.practice.question import FlankPicture, Option, Question, choice
from contactread.practice.wording import computed, the_axle
from contactread.units import show_clearance

# Where "middle" begins and ends. Common practice: no publication draws the line; each question prints it.
NEAR, FAR = 0.40, 0.60
MARGIN = 0.03
CLEAR = 0.05
_ALONG = ("toward the toe", "in the middle of the length", "toward the heel")
_UP = ("low", "at mid-height", "high")


def ask_place(rng: Random, question_id: str) -> Question | None:
    """One patch: toe, middle or heel; low, middle or high."""
    made = _somewhere(rng)
    if made is None:
        return None
    case, title, patch = made
    margin = min(abs(x - border) for x in patch.centre for border in (NEAR, FAR))
    if margin < MARGIN:
        return None
    along, up = (0 if x < NEAR else 2 if x > FAR else 1 for x in patch.centre)
    # The wrong answers that are easiest to mistake for the right one: other end, other height, both.
    others = [(a, b) for a in range(3) for b in range(3) if (a, b) != (along, up)]
    rng.shuffle(others)
    others.sort(key=lambda o: (o[0] != along) + (o[1] != up))
    wrong = dict.fromkeys(
        _place(a, b) for a, b in (*others[:3], (2 - along, 2 - up)) if (a, b) != (along, up)
    )
    u, v = patch.centre
    return Question(
        question_id,
        "place",
        "Where does the middle of the patch lie?",
        tuple(the_axle(case)),
        (FlankPicture("What was rolled", ((title, patch),)),),
        choice(Option("", _place(along, up)), [Option("", text) for text in wrong], rng.shuffle),
        (
            computed(f"Its centre lies at {u:.0%} of the length from the toe and {v:.0%} of the height "
                     "from the root."),
            computed(f"So it is {_UP[up]} and {_ALONG[along]}: the middle is {NEAR:.0%} to {FAR:.0%}."),
            _what_moves_it(case),
        ),
        margin,
        f"The centre lies {share(margin)} of the tooth or more from every border between two answers.",
        convention=Statement(
            f"Middle means a centre at {NEAR:.0%} to {FAR:.0%} (ours; no publication draws the line).",
            "pattern-in-zone",
            ("practice",),
        ),
        terms=("pattern", "compound", "toe", "heel", "root", "top"),
    )  # fmt: skip


def ask_edges(rng: Random, question_id: str) -> Question | None:
    """One patch: which edge it runs off, if any."""
    made = _somewhere(rng)
    if made is None:
        return None
    case, title, patch = made
    off = patch.runs_off
    if len(off) > 1 or (not off and rng.random() < 0.6):
        return None
    clear = min(gap for gap in patch.clear if gap > 0)
    if clear < CLEAR:
        return None
    texts: dict[str, str] = {e: f"It runs off at the {'top edge' if e == 'top' else e}." for e in EDGES}
    texts["none"] = "It stays clear of every edge."
    best = texts.pop(next(iter(off), "none"))
    gaps = ", ".join(f"{edge} {share(gap)}" for edge, gap in zip(EDGES, patch.clear, strict=True) if gap > 0)
    cut = f"The {next(iter(off))} edge cuts it off. " if off else ""
    return Question(
        question_id,
        "edges",
        "Does this patch run off the tooth, and where?",
        tuple(the_axle(case)),
        (FlankPicture("What was rolled", ((title, patch),)),),
        choice(Option("", best), [Option("", text) for text in texts.values()], rng.shuffle),
        (
            computed(f"{cut}Bare up to the edges: {gaps}."),
            say("hard-edge", "A patch that runs off an edge carries the load on that edge. Wanted is a clear "
                             "margin all round."),
            _what_moves_it(case),
        ),
        clear,
        f"Every other edge is clear by {share(clear)} of the tooth or more.",
        terms=("pattern", "toe", "heel", "root", "top"),
    )  # fmt: skip


def _somewhere(rng: Random) -> tuple[Case, str, Patch] | None:
    """One side of a set as it may come from the bench: pinion and ring gear anywhere."""
    case = Case(rng.choice(list(FLEET)), rng.uniform(-0.55, 0.55), rng.uniform(-0.45, 0.45))
    role = rng.choice(ROLES)
    if not case.touches:
        return None
    return case, f"{role.capitalize()} side, {case.flank(role)} flank", case.drawn(role)


def _what_moves_it(case: Case) -> Statement:
    per_tenth = 0.1 * height_per_travel(case.axle_id)
    return say(
        "depth-then-backlash-again",
        f"What moves it: {show_clearance(0.1)} of pinion travel takes patches of this set "
        f"{share(per_tenth)} up or down; the ring gear moves them along.",
        also=("mesh",),
    )


def _place(along: int, up: int) -> str:
    text = f"{_UP[up]}, {_ALONG[along]}"
    return text[0].upper() + text[1:] + "."
