"""Level 5: what no shim cures."""

from __future__ import annotations

from functools import partial
from math import cos, pi
from random import Random

from contactread.advice.answer import Statement
from contactread.advice.faults import SCATTER_LIMIT
from contactread.advice.rules import inspections, say
from contactread.axle import Role
from contactread.practice.ask_wrong import (
    MARGIN,
    NEW_SETS,
    shallow_or_deep,
    weigh,
)
from contactread.practice.case import ROLES, Case, backlash_middle, flank_of, right
from contactread.practice.chart import chart_verdict
from contactread.practice.fleet import FLEET
from contactread.practice.foresee import Bore
from contactread.practice.plain_moves import MOVES, PINION_IN, PINION_OUT, after_move
from contactread.practice.question import (
    Option,
    Picture,
    Question,
    RoundPicture,
    choice,
    percent,
    share,
    show_pair,
)
from contactread.practice.wording import backlash_line, margin_words, target_choice, the_axle
from contactread.units import show_clearance

INSPECT = "No shim cures this: inspect first."
TEETH = 6
_CLEARLY = 0.03  # of the length, that a wandering patch exceeds the limit of scatter by


def ask_faults(rng: Random, question_id: str) -> Question | None:
    """A fault that no shim cures, or a plain wrong depth that one does."""
    kind = rng.choice(("bore", "runout", "depth"))
    if kind == "depth":
        return _ask_plain_depth(rng, question_id)
    return _ask_bore(rng, question_id) if kind == "bore" else _ask_runout(rng, question_id)


def _ask_bore(rng: Random, question_id: str) -> Question | None:
    bore: Bore = ("offset", rng.choice((-1, 1)) * rng.uniform(0.25, 0.55))
    case = Case(rng.choice(NEW_SETS), 0.0, 0.0, bore)
    # Somebody has already put the heights right with the pinion shim.
    for _ in range(3):
        if not case.touches:
            return None
        slope = 0.5  # height per mm of pinion travel, near enough to converge
        heights = sum(case.patch(r).centre[1] - _wanted_height(case, r) for r in ROLES) / 2
        case = case.moved(pinion_mm=-heights / slope)
    if not case.touches:
        return None
    case = case.with_backlash(backlash_middle(case.axle) + rng.uniform(-0.02, 0.02))
    verdict = chart_verdict(case) if case.touches else None
    if verdict is None or verdict.fault is None:
        return None
    reach = weigh(case)
    best = min(reach.values())
    if best < 2 * MARGIN:
        return None
    options = [Option("", text, partial(after_move, case, *by)) for text, by in MOVES.items()]
    return _fault_question(
        question_id,
        case,
        (show_pair(case, "What was rolled"),),
        options,
        rng,
        verdict.fault,
        best,
        f"The best shim move still leaves the patches {share(best)} of the tooth from where they belong.",
        [backlash_line(case)],
    )


def _ask_runout(rng: Random, question_id: str) -> Question | None:
    axle_id = rng.choice(NEW_SETS)
    swing = rng.uniform(0.14, 0.22)
    middle = Case(axle_id, rng.uniform(-0.05, 0.05)).with_backlash(backlash_middle(FLEET[axle_id]))
    phase = rng.uniform(0, 2 * pi)

    def at(share: float) -> Case:
        return middle.moved(ring_mm=swing * cos(2 * pi * share + phase))

    teeth = [at(k / TEETH) for k in range(TEETH)]
    if not all(c.touches for c in teeth):
        return None
    role = middle.axle.role("convex")  # the flank whose patch answers a ring-gear move most
    patches = tuple(c.drawn(role) for c in teeth)
    spread = max(p.centre[0] for p in patches) - min(p.centre[0] for p in patches)
    readings = [at(k / 4).backlash_mm for k in range(4)]
    limit = middle.axle.limits.backlash_spread_mm
    assert limit is not None
    if (
        min(readings) < 0.01
        or max(readings) - min(readings) < 2 * limit
        or spread < SCATTER_LIMIT[0] + _CLEARLY
    ):
        return None
    picture = RoundPicture(
        f"The {role} side of {TEETH} teeth, evenly spaced round the ring gear",
        role,
        flank_of(middle.axle, role),
        patches,
    )
    listed = ", ".join(show_clearance(mm) for mm in readings)
    options = [Option("", text) for text in MOVES]
    return _fault_question(
        question_id,
        middle,
        (picture,),
        options,
        rng,
        "wave",
        spread,
        f"The patch wanders by {percent(spread)} of the length round the gear. A shim moves all teeth alike, "
        "so this stays whatever shim is fitted.",
        [
            f"Backlash at four places: {listed}.",
            f"Backlash may differ round this gear by {show_clearance(limit)} at most.",
        ],
        also="backlash-spread",
    )


def _ask_plain_depth(rng: Random, question_id: str) -> Question | None:
    case = shallow_or_deep(rng)
    if case is None:
        return None
    text = PINION_IN if case.pinion_mm > 0 else PINION_OUT
    sign = -1 if case.pinion_mm > 0 else 1
    best = case.best_by_pinion(sign)
    others = [case.best_by_pinion(-sign), case.best_by_ring(-1), case.best_by_ring(1), case.off()]
    margin = min(others) - best
    if margin < MARGIN:
        return None
    rule = chart_verdict(case).rule
    assert rule is not None
    options = [Option("", t, partial(after_move, case, *by)) for t, by in MOVES.items() if t != text]
    return Question(
        question_id,
        "faults",
        "What do you do?",
        (*the_axle(case), backlash_line(case), "All teeth look alike."),
        (show_pair(case, "What was rolled"),),
        choice(
            Option("", text, partial(after_move, case, *MOVES[text])),
            [*options, Option("", INSPECT)],
            rng.shuffle,
        ),
        (say(rule),),
        margin,
        margin_words(best, min(others)),
        case=case,
        convention=target_choice(case),
        terms=("runout", "spread"),
    )


def _fault_question(
    question_id: str,
    case: Case,
    pictures: tuple[Picture, ...],
    options: list[Option],
    rng: Random,
    rule: str,
    margin: float,
    says: str,
    measured: list[str],
    also: str | None = None,
) -> Question:
    look = "; ".join(inspections(rule))
    why = [say(rule), Statement(f"Inspect: {look}.", rule, say(rule).sources)]
    if also:
        why.insert(1, say(also))
    alike = [] if also else ["All teeth look alike."]
    return Question(
        question_id,
        "faults",
        "What do you do?",
        (*the_axle(case), *measured, *alike),
        pictures,
        choice(Option("", INSPECT), options, rng.shuffle),
        tuple(why),
        margin,
        says,
        case=case,
        convention=target_choice(case),
        terms=("runout", "spread"),
    )


def _wanted_height(case: Case, role: Role) -> float:
    return right(case.axle_id).flank(flank_of(case.axle, role)).centre[1]
