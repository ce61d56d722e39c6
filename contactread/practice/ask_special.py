"""Level 5: used gears, cutting method, reverse rotation, and what no shim cures."""

from __future__ import annotations

from functools import partial
from math import cos, pi
from random import Random

from contactread.advice.answer import Statement
from contactread.advice.faults import SCATTER_LIMIT
from contactread.advice.rules import inspections, say
from contactread.axle import FlankName, Role
from contactread.practice.ask_wrong import (
    MARGIN,
    NEW_SETS,
    shallow_or_deep,
    weigh,
)
from contactread.practice.case import FLANKS, ROLES, Case, backlash_middle, flank_of, limits_of, right
from contactread.practice.chart import chart_verdict, foretold
from contactread.practice.fleet import FLEET
from contactread.practice.foresee import Bore
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

USED_SETS = tuple(name for name, axle in FLEET.items() if axle.gears.condition == "used")
REVERSE_SETS = tuple(name for name, axle in FLEET.items() if axle.rotation == "reverse")
CLEAR = 0.03
LEAST_SHIFT = 0.02  # of the tooth: what an eye can see in a pattern
_PINION_IN = "Move the pinion toward the ring gear."
_PINION_OUT = "Move the pinion away from the ring gear."
_RING_IN = "Move the ring gear toward the pinion."
_RING_OUT = "Move the ring gear away from the pinion."
_LEAVE = "Leave it: it is good for used gears."
INSPECT = "No shim cures this: inspect first."
_MOVES = {_PINION_IN: (-1, 0), _PINION_OUT: (1, 0), _RING_IN: (0, -1), _RING_OUT: (0, 1)}
TEETH = 6


def ask_used(rng: Random, question_id: str) -> Question | None:
    """Used gears: on the tooth is good; off it, backlash only."""
    stay = rng.random() < 0.5
    pinion = rng.choice((-1, 1)) * rng.uniform(0.12, 0.4)
    case = Case(rng.choice(USED_SETS), pinion)
    if not case.touches:
        return None
    least, most = limits_of(case.axle)
    part = rng.uniform(0.2, 0.8) if stay else rng.choice((rng.uniform(0, 0.2), rng.uniform(0.8, 1)))
    case = case.with_backlash(least + part * (most - least))
    verdict = chart_verdict(case) if case.touches else None
    if verdict is None or verdict.fault or stay != (verdict.rule == "used-acceptable"):
        return None
    if stay:
        margin, says = _clear(case)
        text = _LEAVE
        if margin < CLEAR or case.off() < 0.06:
            return None
    else:
        if verdict.way is None:
            return None
        text = _RING_IN if verdict.way == "toward" else _RING_OUT
        sign = -1 if verdict.way == "toward" else 1
        back, other = _back_on(case, sign), _back_on(case, -sign)
        if back is None or other is not None:
            return None
        margin = _clear(back)[0]
        says = (
            f"Moved that way within the limits, both patches come back on the tooth, clear of every edge by "
            f"{share(margin)}. The other way they do not."
        )
        if margin < 0.01:
            return None
    options = {t: Option("", t, partial(_moved, case, *by)) for t, by in _MOVES.items()} | {
        _LEAVE: Option("", _LEAVE, lambda: case)
    }
    best = options.pop(text)
    return Question(
        question_id,
        "used",
        "These gears ran together before. What do you do?",
        (*the_axle(case), backlash_line(case)),
        (show_pair(case, "What was rolled"),),
        choice(best, list(options.values()), rng.shuffle),
        (say("used-acceptable" if text == _LEAVE else "used-backlash-only"), say("used-wear-mark")),
        margin,
        says,
        case=case,
        convention=say(
            "target-choice",
            "This question goes by A14: used gears aren't set to the new-gear target, and only backlash is "
            "used to bring them back onto the tooth.",
            also=("A14",),
        ),
        terms=("used_set", "backlash"),
    )


def ask_cutting(rng: Random, question_id: str) -> Question | None:
    """The same pinion move in face-milled and face-hobbed sets: where do the patches go lengthwise?"""
    case = Case(rng.choice(NEW_SETS), rng.uniform(-0.08, 0.08), rng.uniform(-0.05, 0.05))
    axle = case.axle
    way, sign = rng.choice((("toward", -1), ("away from", 1)))
    mm = rng.choice((0.15, 0.20, 0.25))
    after = case.moved(pinion_mm=sign * mm)
    if not after.touches:
        return None
    shift = {f: after.foreseen.flank(f).centre[0] - case.foreseen.flank(f).centre[0] for f in FLANKS}
    margin = min(abs(s) for s in shift.values())
    if margin < LEAST_SHIFT:
        return None
    words = {f: "heel" if s > 0 else "toe" for f, s in shift.items()}
    rule = f"effect-pinion-{'toward' if sign < 0 else 'away'}"
    against = _against_cutting_rule(case, rule, words)
    text = {(d, c): f"Drive toward the {d}, coast toward the {c}." for d in _ENDS for c in _ENDS}
    drive, coast = (words[flank_of(axle, role)] for role in ROLES)
    wrong = [Option("", t) for key, t in text.items() if key != (drive, coast)]
    return Question(
        question_id,
        "cutting",
        f"The pinion is moved {way} the ring gear by {show_clearance(mm)}; the ring gear stays. "
        "Which way does each patch go along the length?",
        tuple(the_axle(case, cutting=True)),
        (show_pair(case, "Before the move"),),
        choice(Option("", text[drive, coast], lambda: after), wrong, rng.shuffle),
        (say(rule), say("cutting-unknown")),
        margin,
        f"Each patch moves by {share(margin)} of the length or more.",
        case=case,
        convention=say(
            "opposite-drive-heel",
            "Publications differ here: A5 and A22 against A7 and A8. This question goes by the cutting "
            "method (A22) and by this gear set's own mechanics.",
        ),
        against_chart=against,
        terms=("face_milled", "face_hobbed"),
    )


def ask_reverse(rng: Random, question_id: str) -> Question | None:
    """Reverse rotation: which flank drives, and where its patch lies."""
    case = Case(rng.choice(REVERSE_SETS), rng.uniform(-0.5, 0.5), rng.uniform(-0.4, 0.4))
    if not case.touches:
        return None
    seen = case.foreseen
    apart = seen.convex.centre[0] - seen.concave.centre[0]
    if abs(apart) < 0.10:
        return None
    asked = rng.choice(ROLES)
    flank = flank_of(case.axle, asked)
    nearer = "toe" if (apart > 0) == (flank == "concave") else "heel"
    texts = {(f, e): f"The {f} flank; its patch is the one nearer the {e}." for f in FLANKS for e in _ENDS}
    best = Option("", texts.pop((flank, nearer)))
    pair = show_pair(case, "What was rolled: the two flanks")
    nameless = type(pair)(pair.heading, tuple(sorted(pair.sides, key=lambda s: s[1])))
    return Question(
        question_id,
        "reverse",
        f"Which flank is the {asked} side of this axle, and which of the two patches is that?",
        (f"{case.axle.name} (invented).", "This axle is of reverse rotation."),
        (nameless,),
        choice(best, [Option("", t) for t in texts.values()], rng.shuffle),
        (say("reverse-rotation"),),
        abs(apart),
        f"The two patches lie {percent(abs(apart))} of the length apart.",
        terms=("reverse_rotation", "convex", "concave"),
    )


def ask_faults(rng: Random, question_id: str) -> Question | None:
    """A fault that no shim cures, or a plain wrong depth that one does."""
    kind = rng.choice(("bore", "runout", "depth"))
    if kind == "depth":
        return _ask_plain_depth(rng, question_id)
    return _ask_bore(rng, question_id) if kind == "bore" else _ask_runout(rng, question_id)


_ENDS = ("toe", "heel")


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
    options = [Option("", text, partial(_moved, case, *by)) for text, by in _MOVES.items()]
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
    if min(readings) < 0.01 or max(readings) - min(readings) < 2 * limit or spread < SCATTER_LIMIT[0] + CLEAR:
        return None
    picture = RoundPicture(
        f"The {role} side of {TEETH} teeth, evenly spaced round the ring gear",
        role,
        flank_of(middle.axle, role),
        patches,
    )
    listed = ", ".join(show_clearance(mm) for mm in readings)
    options = [Option("", text) for text in _MOVES]
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
    text = _PINION_IN if case.pinion_mm > 0 else _PINION_OUT
    sign = -1 if case.pinion_mm > 0 else 1
    best = case.best_by_pinion(sign)
    others = [case.best_by_pinion(-sign), case.best_by_ring(-1), case.best_by_ring(1), case.off()]
    margin = min(others) - best
    if margin < MARGIN:
        return None
    rule = chart_verdict(case).rule
    assert rule is not None
    options = [Option("", t, partial(_moved, case, *by)) for t, by in _MOVES.items() if t != text]
    return Question(
        question_id,
        "faults",
        "What do you do?",
        (*the_axle(case), backlash_line(case), "All teeth look alike."),
        (show_pair(case, "What was rolled"),),
        choice(
            Option("", text, partial(_moved, case, *_MOVES[text])),
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


def _moved(case: Case, pinion: int, ring: int) -> Case | None:
    """The set after a plain move of 0.15 mm one way; a pinion move sets backlash again."""
    if pinion:
        moved = case.moved(pinion_mm=pinion * max(0.15, abs(case.pinion_mm)))
        if moved.touches:
            moved = moved.with_backlash(
                min(max(case.backlash_mm, limits_of(case.axle)[0]), limits_of(case.axle)[1])
            )
    else:
        moved = case.moved(ring_mm=ring * 0.15)
    return moved if moved.touches else None


def _clear(case: Case) -> tuple[float, str]:
    """How clear both patches are of every edge, by their 5 and 95 % points; 0 where one runs off."""
    gaps: list[float] = []
    for role in ROLES:
        patch = case.patch(role)
        if patch.runs_off:
            return 0.0, ""
        gaps += [patch.length[0], 1 - patch.length[1], patch.height[0], 1 - patch.height[1]]
    return min(gaps), f"Both patches are clear of every edge by {share(min(gaps))} of the tooth or more."


def _back_on(case: Case, sign: int) -> Case | None:
    """The set with both patches back on the tooth by a ring-gear move that way, in limits; or None."""
    for step in range(1, 9):
        moved = case.moved(ring_mm=sign * 0.05 * step)
        if not moved.touches or not moved.within_limits():
            continue
        if not any(moved.patch(role).runs_off for role in ROLES):
            return moved
    return None


def _against_cutting_rule(case: Case, rule: str, words: dict[FlankName, str]) -> Statement | None:
    printed = foretold(rule, case)
    differ = [f for f in FLANKS if printed.get((f, "length"), words[f]) != words[f]]
    if not differ:
        return None
    flanks = " and ".join(differ)
    return Statement(
        f"The common chart for {case.axle.gears.cutting.replace('_', '-')} sets says otherwise for the "
        f"{flanks} flank. In this gear set the mechanics decide: cutter radius, offset "
        "and spiral angle matter too.",
        rule,
        (*say(rule).sources, "mesh"),
    )
