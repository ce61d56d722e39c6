"""Level 5 and 6: used gears, cutting method, reverse rotation, and what happens if."""

from __future__ import annotations

from random import Random

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.advice.shims import carrier_change, pinion_shim_change
from contactread.axle import FLANKS, ROLES
from contactread.practice.acting import Act, Outcome
from contactread.practice.ask_setup import SEEN, chosen
from contactread.practice.case import Case, share
from contactread.practice.chart import LEAST_SHIFT, WORDS, Shift, against, chart_verdict, shifts
from contactread.practice.fleet import FLEET, NEW_SETS, REVERSE_SETS, USED_SETS
from contactread.practice.question import FlankPicture, Option, Question, choice, show_pair
from contactread.practice.wording import about, backlash_line, computed, shim_place, shim_rule, the_axle
from contactread.units import show_clearance

MOVES: dict[str, Act | None] = {
    "Move the pinion toward the ring gear.": Act(pinion=-1),
    "Move the pinion away from the ring gear.": Act(pinion=1),
    "Move the ring gear toward the pinion.": Act(ring=-1),
    "Move the ring gear away from the pinion.": Act(ring=1),
}
_LEAVE = "Leave it: it is good for used gears."
_ENDS = ("toe", "heel")
_DISAGREE = (
    "Publications differ on the length; this goes by the cutting method (A22) and the set's own mechanics."
)


def ask_used(rng: Random, question_id: str) -> Question | None:
    """Used gears: on the tooth is good; off it, backlash only."""
    stay = rng.random() < 0.5
    case = Case(rng.choice(USED_SETS), rng.choice((-1, 1)) * rng.uniform(0.12, 0.4))
    least, most = case.limits
    part = rng.uniform(0.2, 0.8) if stay else rng.choice((rng.uniform(0, 0.2), rng.uniform(0.8, 1)))
    if not case.touches:
        return None
    case = case.with_backlash(least + part * (most - least))
    verdict = chart_verdict(case) if case.touches else None
    if verdict is None or verdict.fault or stay != (verdict.rule == "used-acceptable"):
        return None
    # A pinion move is no answer here: these gears are worn to each other where they ran (A14).
    acts: dict[str, Act | None] = {text: act for text, act in MOVES.items() if act and act.ring}
    acts[_LEAVE] = Act()
    made = None if stay and case.off() < 0.06 else chosen(case, verdict, acts, rng)
    if made is None:
        return None
    answer, margin, says = made
    wear = say("used-wear-mark")
    seen, means, moves = about(case, verdict)
    gaps = "; ".join(f"{role} {share(min(case.patch(role).clear))}" for role in ROLES)
    return Question(
        question_id, "used", "These gears ran together before. Which ring-gear move, if any, do you make?",
        (*the_axle(case), backlash_line(case)), (show_pair(case, SEEN),), answer,
        (
            computed(f"{seen.text} Bare up to the nearest edge: {gaps}."),
            say(means.rule, f"{means.text} {wear.text}", also=wear.sources),
            moves,
        ),
        margin, says, case=case,
        convention=say("target-choice", "Used gears aren't set to the new-gear target: only backlash is "
                                        "used to bring them back onto the tooth (A14).", also=("A14",)),
        terms=("used_set", "backlash"),
    )  # fmt: skip


def ask_cutting(rng: Random, question_id: str) -> Question | None:
    """The same pinion move in face-milled and face-hobbed sets: where do the patches go lengthwise?"""
    case = Case(rng.choice(NEW_SETS), rng.uniform(-0.08, 0.08), rng.uniform(-0.05, 0.05))
    sign, mm = rng.choice((-1, 1)), rng.choice((0.15, 0.20, 0.25))
    after = case.moved(pinion_mm=sign * mm)
    if not (case.touches and after.touches):
        return None
    moved = {key: by for key, by in shifts(case, after).items() if key[1] == "length"}
    margin = min(abs(by) for by in moved.values())
    if margin < LEAST_SHIFT:
        return None
    rule = say(f"effect-pinion-{'toward' if sign < 0 else 'away'}")
    text = {(d, c): f"Drive toward the {d}, coast toward the {c}." for d in _ENDS for c in _ENDS}
    drive, coast = (_ENDS[moved[role, "length"] > 0] for role in ROLES)
    best = text.pop((drive, coast))
    done = f"pinion {show_clearance(mm)} {'toward' if sign < 0 else 'away from'} the ring gear"
    return Question(
        question_id, "cutting", f"Done: {done}; the ring gear stays. Which way does each patch go along "
                                "the length?",
        tuple(the_axle(case, cutting=True)), (show_pair(case, "Before the move"),),
        choice(Option("", best, lambda: Outcome(after, done)), [Option("", t) for t in text.values()],
               rng.shuffle),
        _foreseen(case, after, done, rule, shim=False), margin,
        f"Each patch moves by {share(margin)} of the length or more.",
        case=case, convention=say("opposite-drive-heel", _DISAGREE),
        against_chart=against(case, rule.rule, moved), terms=("face_milled", "face_hobbed"),
    )  # fmt: skip


def ask_reverse(rng: Random, question_id: str) -> Question | None:
    """Reverse rotation: which flank drives, and where its patch lies."""
    case = Case(rng.choice(REVERSE_SETS), rng.uniform(-0.5, 0.5), rng.uniform(-0.4, 0.4))
    if not case.touches:
        return None
    u = {case.flank(role): case.patch(role).centre[0] for role in ROLES}
    apart = u["convex"] - u["concave"]
    if abs(apart) < 0.10:
        return None
    asked = rng.choice(ROLES)
    flank = case.flank(asked)
    nearer = "toe" if (apart > 0) == (flank == "concave") else "heel"
    texts = {(f, e): f"The {f} flank; its patch is the one nearer the {e}." for f in FLANKS for e in _ENDS}
    best = texts.pop((flank, nearer))
    # The chart must not tell the roles, for they are what is asked.
    drawn = tuple((f"{f.capitalize()} flank", case.drawn(case.axle.role(f))) for f in sorted(FLANKS))
    rule = say("reverse-rotation")
    return Question(
        question_id, "reverse", f"Which flank is the {asked} side of this axle, and which patch is that?",
        (f"{case.axle.name} (invented).", "This axle is of reverse rotation."), (FlankPicture(SEEN, drawn),),
        choice(Option("", best), [Option("", t) for t in texts.values()], rng.shuffle),
        (
            computed(f"Centres along the length: convex flank {u['convex']:.0%}, concave flank "
                     f"{u['concave']:.0%}."),
            rule,
            computed(f"So the {asked} side is the {flank} flank, and its patch, at {u[flank]:.0%}, is "
                     f"nearer the {nearer} than the other."),
        ),
        abs(apart), f"The two patches lie {abs(apart):.0%} of the length apart.",
        terms=("reverse_rotation", "convex", "concave"),
    )  # fmt: skip


def ask_what_if(rng: Random, question_id: str) -> Question | None:
    """A shim changes: where do both patches go, and the backlash?"""
    case = Case(rng.choice(list(FLEET)), rng.uniform(-0.15, 0.15), rng.uniform(-0.1, 0.1))
    travel, by_pinion = rng.choice((-1, 1)) * rng.choice((0.15, 0.20, 0.25)), rng.random() < 0.5
    after = case.moved(pinion_mm=travel) if by_pinion else case.moved(ring_mm=travel)
    if not (case.touches and after.touches) or min(case.backlash_mm, after.backlash_mm) < 0.02:
        return None
    moved = shifts(case, after)
    # Only what can be seen is asked about: each named shift is clear, smaller ones are left out.
    named = {key: by for key, by in moved.items() if abs(by) >= LEAST_SHIFT}
    unclear = [by for by in moved.values() if LEAST_SHIFT / 2 < abs(by) < LEAST_SHIFT]
    if unclear or len({role for role, _ in named}) < 2:
        return None
    margin, backlash = min(abs(by) for by in named.values()), after.backlash_mm - case.backlash_mm
    best = _in_words(named, backlash)
    wrong: dict[str, Option] = {}
    for turned in _others(named, rng):
        text = _in_words({key: by * (-1 if key in turned else 1) for key, by in named.items()},
                         backlash * (-1 if "backlash" in turned else 1))  # fmt: skip
        if text != best:
            wrong.setdefault(text, Option("", text))
    rule = say(f"effect-{'pinion' if by_pinion else 'gear'}-{'toward' if travel < 0 else 'away'}")
    done = _what_is_done(case, by_pinion, travel)
    return Question(
        question_id, "what-if", f"{done} Nothing else is changed. What will you see?",
        (*the_axle(case, cutting=True), *((shim_place(case),) if by_pinion else ())),
        (show_pair(case, "Before the change"),),
        choice(Option("", best, lambda: Outcome(after, done[:-1])), list(wrong.values())[:3], rng.shuffle),
        _foreseen(case, after, done[:-1], rule, shim=by_pinion), margin,
        f"Every shift that the answers name is {share(margin)} of the tooth or more; backlash changes by "
        f"{show_clearance(abs(backlash))}.",
        case=case, convention=say(rule.rule, _DISAGREE, also=("A22", "A5", "A7", "mesh")),
        against_chart=against(case, rule.rule, moved), terms=("face_milled", "face_hobbed", "backlash"),
    )  # fmt: skip


def _foreseen(case: Case, after: Case, done: str, rule: Statement, shim: bool) -> tuple[Statement, ...]:
    """Where the patches lie, the rule of the move, and what it did to this very set."""
    words = []
    for (role, what), by in shifts(case, after).items():
        way = WORDS[what][by > 0]
        words.append(f"{role} {share(abs(by))} {'to the ' if what == 'length' else ''}{way}")
    backlash = after.backlash_mm - case.backlash_mm
    hand = shim_rule(case) if shim else None
    return (
        computed("Before: "
                 f"{', '.join(f'{r} at {case.patch(r).centre[0]:.0%} of the length' for r in ROLES)}; "
                 f"backlash {show_clearance(case.backlash_mm)}."),
        rule if hand is None else say(rule.rule, f"{rule.text} {hand.text}", also=hand.sources),
        say(rule.rule, f"After ({done[0].lower()}{done[1:]}): {', '.join(words)}; backlash "
                       f"{'grows' if backlash > 0 else 'shrinks'} by {show_clearance(abs(backlash))}.",
            also=("mesh",)),
    )  # fmt: skip


def _in_words(named: dict[Shift, float], backlash: float) -> str:
    parts = []
    for role in ROLES:
        words = [
            ("to the " if what == "length" else "") + WORDS[what][by > 0]
            for (of, what), by in named.items()
            if of == role
        ]
        parts.append(f"{role} {' and '.join(words)}")
    text = f"{parts[0]}; {parts[1]}; backlash {'grows' if backlash > 0 else 'shrinks'}."
    return text[0].upper() + text[1:]


def _others(named: dict[Shift, float], rng: Random) -> list[set[object]]:
    """Which shifts to turn round for the wrong answers."""
    lengths, heights = ([key for key in named if key[1] == what] for what in ("length", "height"))
    ways: list[set[object]] = [{"backlash", *named}, set(heights), {"backlash"}, {"backlash", *heights}]
    ways.append(set(lengths))
    ways += [{key} for key in lengths]
    rng.shuffle(ways)
    return [way for way in ways if way]


def _what_is_done(case: Case, by_pinion: bool, travel: float) -> str:
    axle, mm = case.axle, show_clearance(abs(travel))
    if by_pinion:
        change = pinion_shim_change(travel, axle.pinion_shim)
        assert change is not None and change.change_mm is not None
        return f"The pinion shim is made {'thicker' if change.change_mm > 0 else 'thinner'} by {mm}."
    way = "toward" if travel < 0 else "away from"
    if axle.carrier.kind == "side_shims":
        ring_side, _ = carrier_change(travel, axle.carrier)
        assert ring_side.change_mm is not None
        words = ("thicker", "thinner") if ring_side.change_mm > 0 else ("thinner", "thicker")
        return (f"The ring-gear side shim is made {words[0]} and the opposite one {words[1]}, both by "
                f"{mm}, which moves the ring gear {way} the pinion.")  # fmt: skip
    return f"The adjusters move the ring gear {way} the pinion by {mm}."
