"""Level 5: used gears, cutting method, reverse rotation."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from random import Random

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.axle import FlankName
from contactread.practice.ask_wrong import (
    NEW_SETS,
)
from contactread.practice.case import FLANKS, ROLES, Case, flank_of, limits_of
from contactread.practice.chart import chart_verdict, foretold
from contactread.practice.fleet import FLEET
from contactread.practice.plain_moves import MOVES, RING_IN, RING_OUT, after_move
from contactread.practice.question import (
    Option,
    Question,
    choice,
    percent,
    share,
    show_pair,
)
from contactread.practice.wording import backlash_line, the_axle
from contactread.units import show_clearance

USED_SETS = tuple(name for name, axle in FLEET.items() if axle.gears.condition == "used")
REVERSE_SETS = tuple(name for name, axle in FLEET.items() if axle.rotation == "reverse")
CLEAR = 0.03
LEAST_SHIFT = 0.02  # of the tooth: what an eye can see in a pattern
_LEAVE = "Leave it: it is good for used gears."
_ENDS = ("toe", "heel")


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
        text = RING_IN if verdict.way == "toward" else RING_OUT
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
    options = {t: Option("", t, partial(after_move, case, *by)) for t, by in MOVES.items()} | {
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
    nameless = replace(pair, sides=tuple(sorted(pair.sides, key=lambda s: s[1])), roles_told=False)
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


def _clear(case: Case) -> tuple[float, str]:
    """How clear both patches are of every edge; 0 where one runs off."""
    least = min(min(case.patch(role).clear) for role in ROLES)
    return least, f"Both patches are clear of every edge by {share(least)} of the tooth or more."


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
