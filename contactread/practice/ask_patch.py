"""Level 2: where the patch lies, and which edges it runs off."""

from __future__ import annotations

from random import Random

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.axle import Role
from contactread.patch import EDGES, Patch
from contactread.practice.case import ROLES, Case, flank_of
from contactread.practice.fleet import FLEET
from contactread.practice.question import Option, PatternPicture, Question, choice, percent, share
from contactread.practice.wording import define, the_axle

# Where "middle" begins and ends. Common practice: no publication draws the line; each question prints it.
NEAR, FAR = 0.40, 0.60
MARGIN = 0.03
CLEAR = 0.05
_ALONG = ("toward the toe", "in the middle of the length", "toward the heel")
_UP = ("low", "at mid-height", "high")


def ask_place(rng: Random, question_id: str) -> Question | None:
    """One patch: toe, middle or heel; low, middle or high."""
    case, role = _somewhere(rng), rng.choice(ROLES)
    if not case.touches:
        return None
    patch = case.drawn(role)
    margin = min(abs(x - border) for x in patch.centre for border in (NEAR, FAR))
    if margin < MARGIN:
        return None
    along, up = (_third(x) for x in patch.centre)
    # The wrong answers that are easiest to mistake for the right one: other end, other height, both.
    others = [(a, b) for a in range(3) for b in range(3) if (a, b) != (along, up)]
    rng.shuffle(others)
    others.sort(key=lambda o: (o[0] != along) + (o[1] != up))
    wrong = [Option("", _place(a, b)) for a, b in (*others[:3], (2 - along, 2 - up)) if (a, b) != (along, up)]
    unique = list({o.text: o for o in wrong}.values())
    u, v = patch.centre
    why = (
        Statement(
            f"The centre of this patch lies at {percent(u)} of the length from the toe and {percent(v)} "
            "of the height from the root.",
            "glossary.pattern",
            ("mesh",),
        ),
        define("toe"),
        define("root"),
    )
    return Question(
        question_id,
        "place",
        "Where does the middle of the patch lie?",
        tuple(the_axle(case)),
        (_one_side(case, role, patch),),
        choice(Option("", _place(along, up)), unique, rng.shuffle),
        why,
        margin,
        f"The centre lies {share(margin)} of the tooth or more from every border between two answers.",
        convention=Statement(
            f"Middle means a centre at {percent(NEAR)} to {percent(FAR)} of the length or of the height. "
            "Publications draw no line; this one is ours.",
            "pattern-in-zone",
            ("practice",),
        ),
        terms=("pattern", "compound", "toe", "heel", "root", "top"),
    )


def ask_edges(rng: Random, question_id: str) -> Question | None:
    """One patch: which edge it runs off, if any."""
    case, role = _somewhere(rng), rng.choice(ROLES)
    if not case.touches:
        return None
    patch = case.drawn(role)
    off = patch.runs_off
    if len(off) > 1 or (not off and rng.random() < 0.6):
        return None
    clear = min(gap for gap in patch.clear if gap > 0)
    if clear < CLEAR:
        return None
    texts: dict[str, str] = {
        edge: f"It runs off at the {'top edge' if edge == 'top' else edge}." for edge in EDGES
    }
    texts["none"] = "It stays clear of every edge."
    right = next(iter(off), "none")
    wrong = [Option("", text) for edge, text in texts.items() if edge != right]
    return Question(
        question_id,
        "edges",
        "Does this patch run off the tooth, and where?",
        tuple(the_axle(case)),
        (_one_side(case, role, patch),),
        choice(Option("", texts[right]), wrong, rng.shuffle),
        (
            Statement(
                "A patch that runs off an edge carries the load on that edge. "
                "Wanted is a clear margin all round.",
                "hard-edge",
                say("hard-edge").sources,
            ),
        ),
        clear,
        f"Every other edge is clear by {share(clear)} of the tooth or more.",
        terms=("pattern", "toe", "heel", "root", "top"),
    )


def _somewhere(rng: Random) -> Case:
    """A set as it may come from the bench: pinion and ring gear anywhere."""
    return Case(rng.choice(list(FLEET)), rng.uniform(-0.55, 0.55), rng.uniform(-0.45, 0.45))


def _third(x: float) -> int:
    return 0 if x < NEAR else 2 if x > FAR else 1


def _place(along: int, up: int) -> str:
    text = f"{_UP[up]}, {_ALONG[along]}"
    return text[0].upper() + text[1:] + "."


def _one_side(case: Case, role: Role, patch: Patch) -> PatternPicture:
    return PatternPicture("What was rolled", ((role, flank_of(case.axle, role), patch),))
