"""Level 5: what no shim cures."""

from __future__ import annotations

from math import cos, pi
from random import Random

from contactread.advice.answer import Statement
from contactread.advice.faults import SCATTER_LIMIT
from contactread.advice.rules import inspections, say
from contactread.axle import ROLES
from contactread.practice.acting import weighed
from contactread.practice.ask_setup import SEEN, shallow_or_deep, what_to_do
from contactread.practice.ask_special import MOVES
from contactread.practice.case import Case
from contactread.practice.chart import chart_verdict
from contactread.practice.fleet import NEW_SETS
from contactread.practice.question import Choice, FlankPicture, Option, Picture, Question, choice, show_pair
from contactread.practice.wording import about, backlash_line, computed, the_axle, wanted
from contactread.units import show_clearance

INSPECT = "No shim cures this: inspect first."
TEETH = 6
_CLEARLY = 0.03  # of the length, that a wandering patch exceeds the limit of scatter by
_ALIKE = "All teeth look alike."


def ask_faults(rng: Random, question_id: str) -> Question | None:
    """A fault that no shim cures, or a plain wrong depth that one does."""
    kind = rng.choice((_bore, _runout, _plain_depth))
    return kind(rng, question_id)


def _bore(rng: Random, question_id: str) -> Question | None:
    case = Case(rng.choice(NEW_SETS), offset_mm=rng.choice((-1, 1)) * rng.uniform(0.25, 0.55))
    # Somebody has already put the heights right with the pinion shim.
    for _ in range(3):
        if not case.touches:
            return None
        belongs = Case(case.axle_id)
        heights = sum(case.patch(r).centre[1] - belongs.patch(r).centre[1] for r in ROLES) / 2
        case = case.moved(pinion_mm=-heights / 0.5)  # height per mm of pinion travel, near enough to converge
    if not case.touches:
        return None
    case = case.with_backlash(case.middle + rng.uniform(-0.02, 0.02))
    verdict = chart_verdict(case) if case.touches else None
    if verdict is None or verdict.fault is None or _curable(case):
        return None
    made = weighed(case, MOVES | {INSPECT: None}, INSPECT, rng)
    if made is None or len(made[0].right) > 1:
        return None
    answer, margin, says = made
    seen, _, _ = about(case, verdict)
    return _faulty(question_id, case, (show_pair(case, SEEN),), answer, verdict.fault, seen, margin, says,
                   [backlash_line(case), _ALIKE])  # fmt: skip


def _curable(case: Case) -> bool:
    """Whether any shim move could yet bring the patches to where they belong: within 0.08 of the tooth."""
    for step in range(-4, 5):
        moved = case.moved(pinion_mm=0.1 * step)
        for share in (0.05, 0.5, 0.95) if moved.touches else ():
            there = moved.with_backlash(case.limits[0] + share * (case.limits[1] - case.limits[0]), rounds=1)
            if there.touches and there.off() < 0.08:
                return True
    return False


def _runout(rng: Random, question_id: str) -> Question | None:
    swing, phase = rng.uniform(0.14, 0.22), rng.uniform(0, 2 * pi)
    middle = Case(rng.choice(NEW_SETS), rng.uniform(-0.05, 0.05))
    middle = middle.with_backlash(middle.middle)
    ring = [swing * cos(2 * pi * k / 12 + phase) for k in range(12)]
    places = [middle.moved(ring_mm=mm) for mm in ring]
    teeth, dial = places[::2], places[::3]
    if not all(c.touches for c in places):
        return None
    role = middle.axle.role("convex")  # the flank whose patch answers a ring-gear move most
    patches = [c.drawn(role) for c in teeth]
    centres = [patch.centre[0] for patch in patches]
    spread, readings = max(centres) - min(centres), [c.backlash_mm for c in dial]
    limit = middle.axle.limits.backlash_spread_mm
    assert limit is not None
    if (
        min(readings) < 0.01
        or max(readings) - min(readings) < 2 * limit
        or spread < SCATTER_LIMIT[0] + _CLEARLY
    ):
        return None
    heading = f"The {role} side of {TEETH} teeth, evenly spaced round the ring gear"
    picture = FlankPicture(heading, tuple((f"Tooth {k}", patch) for k, patch in enumerate(patches, 1)))
    answer = choice(Option("", INSPECT), [Option("", text) for text in MOVES], rng.shuffle)
    listed = ", ".join(show_clearance(mm) for mm in readings)
    return _faulty(
        question_id, middle, (picture,), answer, "wave",
        computed(f"Centres of the {TEETH} teeth along the length: {', '.join(f'{u:.0%}' for u in centres)}; "
                 f"backlash differs by {show_clearance(max(readings) - min(readings))}."),
        spread, f"The patch wanders by {spread:.0%} of the length round the gear. A shim moves all "
                "teeth alike, so this stays whatever shim is fitted.",
        [f"Backlash at four places: {listed}; it may differ by {show_clearance(limit)}."],
    )  # fmt: skip


def _plain_depth(rng: Random, question_id: str) -> Question | None:
    case = shallow_or_deep(rng)
    if case is None:
        return None
    acts = MOVES | {INSPECT: None}
    return what_to_do(question_id, "faults", "What do you do?", case, acts, rng, ("runout", "spread"), _ALIKE)


def _faulty(
    question_id: str, case: Case, pictures: tuple[Picture, ...], answer: Choice, rule: str, seen: Statement,
    margin: float, says: str, measured: list[str],
) -> Question:  # fmt: skip
    fault = say(rule)
    cure = say(rule, f"What cures it: no shim. Inspect: {'; '.join(inspections(rule))}.")
    return Question(
        question_id, "faults", "What do you do?", (*the_axle(case), *measured), pictures, answer,
        (seen, fault, cure),
        margin, says, case=case, convention=wanted(case), terms=("runout", "spread"),
    )  # fmt: skip
