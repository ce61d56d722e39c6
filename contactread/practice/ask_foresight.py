"""Level 6: what happens if."""

from __future__ import annotations

from random import Random

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.advice.shims import carrier_change, pinion_shim_change
from contactread.practice.ask_special import LEAST_SHIFT
from contactread.practice.case import ROLES, Case, flank_of
from contactread.practice.chart import foretold
from contactread.practice.fleet import FLEET
from contactread.practice.question import Option, Question, choice, share, show_pair
from contactread.practice.wording import shim_place, shim_rule, the_axle
from contactread.units import show_clearance


def ask_what_if(rng: Random, question_id: str) -> Question | None:
    """A shim changes: where do both patches go, and the backlash?"""
    case = Case(rng.choice(list(FLEET)), rng.uniform(-0.15, 0.15), rng.uniform(-0.1, 0.1))
    sign = rng.choice((-1, 1))
    mm = rng.choice((0.15, 0.20, 0.25))
    by_pinion = rng.random() < 0.5
    after = case.moved(pinion_mm=sign * mm) if by_pinion else case.moved(ring_mm=sign * mm)
    if not (case.touches and after.touches) or min(case.backlash_mm, after.backlash_mm) < 0.02:
        return None
    shifts = _shifts(case, after)
    # Only what can be seen is asked about: each named shift is clear, smaller ones are left out.
    named = {key: value for key, value in shifts.items() if abs(value) >= LEAST_SHIFT}
    unclear = [value for value in shifts.values() if LEAST_SHIFT / 2 < abs(value) < LEAST_SHIFT]
    if unclear or len({role for role, _ in named}) < 2:
        return None
    margin = min(abs(value) for value in named.values())
    backlash = after.backlash_mm - case.backlash_mm
    best = _in_words(named, backlash)
    wrong: dict[str, Option] = {}
    for flipped in _others(named, rng):
        other = {key: value * (-1 if key in flipped else 1) for key, value in named.items()}
        text = _in_words(other, backlash * (-1 if "backlash" in flipped else 1))
        wrong.setdefault(text, Option("", text))
    rule = f"effect-{'pinion' if by_pinion else 'gear'}-{'toward' if sign < 0 else 'away'}"
    against = _against(case, rule, shifts)
    why = [say(rule)]
    if by_pinion:
        why.append(shim_rule(case))
    return Question(
        question_id,
        "what-if",
        f"{_what_is_done(case, by_pinion, sign * mm)} Nothing else is changed. What will you see?",
        (*the_axle(case, cutting=True), *((shim_place(case),) if by_pinion else ())),
        (show_pair(case, "Before the change"),),
        choice(Option("", best, lambda: after), list(wrong.values())[:3], rng.shuffle),
        tuple(why),
        margin,
        f"Every shift that the answers name is {share(margin)} of the tooth or more. "
        f"Backlash changes by {show_clearance(abs(backlash))}.",
        case=case,
        convention=Statement(
            "Publications differ on the way along the length. This question goes by this gear set's own "
            "mechanics, told by its cutting method (A22).",
            rule,
            ("A22", "A5", "A7", "mesh"),
        ),
        against_chart=against,
        terms=("face_milled", "face_hobbed", "backlash"),
    )


Key = tuple[str, str]


def _shifts(case: Case, after: Case) -> dict[Key, float]:
    """How far each patch moves along the length and up the height."""
    shifts: dict[Key, float] = {}
    for role in ROLES:
        before, then = case.patch(role), after.patch(role)
        shifts[role, "length"] = then.centre[0] - before.centre[0]
        shifts[role, "height"] = then.centre[1] - before.centre[1]
    return shifts


def _in_words(named: dict[Key, float], backlash: float) -> str:
    parts = []
    for role in ROLES:
        words = []
        for what, (less, more) in (
            ("length", ("to the toe", "to the heel")),
            ("height", ("lower", "higher")),
        ):
            if (role, what) in named:
                words.append(more if named[role, what] > 0 else less)
        parts.append(f"{role} {' and '.join(words)}")
    text = f"{parts[0]}; {parts[1]}; backlash {'grows' if backlash > 0 else 'shrinks'}."
    return text[0].upper() + text[1:]


def _others(named: dict[Key, float], rng: Random) -> list[set[object]]:
    """Which shifts to turn round for the wrong answers."""
    lengths = [key for key in named if key[1] == "length"]
    heights = [key for key in named if key[1] == "height"]
    ways: list[set[object]] = [{"backlash", *named}, set(heights) or {"backlash"}, {"backlash"}]
    ways += [{key} for key in lengths]
    ways.append(set(lengths) or {"backlash", *heights})
    rng.shuffle(ways)
    return [way for way in ways if way]


def _what_is_done(case: Case, by_pinion: bool, travel: float) -> str:
    axle = case.axle
    if by_pinion:
        change = pinion_shim_change(travel, axle.pinion_shim)
        assert change is not None and change.change_mm is not None
        word = "thicker" if change.change_mm > 0 else "thinner"
        return f"The pinion shim is made {word} by {show_clearance(abs(travel))}."
    if axle.carrier.kind == "side_shims":
        ring_side, _ = carrier_change(travel, axle.carrier)
        assert ring_side.change_mm is not None
        words = ("thicker", "thinner") if ring_side.change_mm > 0 else ("thinner", "thicker")
        return (
            f"The ring-gear side shim is made {words[0]} and the opposite one {words[1]}, both by "
            f"{show_clearance(abs(travel))}. Thicker on the ring-gear side moves the ring gear toward the "
            "pinion."
        )
    way = "toward" if travel < 0 else "away from"
    return f"The adjusters move the ring gear {way} the pinion by {show_clearance(abs(travel))}."


def _against(case: Case, rule: str, shifts: dict[Key, float]) -> Statement | None:
    """Where the shifts that can be seen go against the chart's own words for this kind of set."""
    printed = foretold(rule, case)
    differ = []
    for role in ROLES:
        flank = flank_of(case.axle, role)
        for what, less, more in (("length", "toe", "heel"), ("height", "lower", "higher")):
            shift = shifts[role, what]
            word = more if shift > 0 else less
            told = printed.get((flank, "length" if what == "length" else "height"), word)
            if abs(shift) >= LEAST_SHIFT and told != word:
                differ.append(f"the {role} patch goes {'to the ' if what == 'length' else ''}{word}")
    if not differ:
        return None
    return Statement(
        f"The common chart says otherwise: here {' and '.join(differ)}. In this gear set the mechanics "
        "decide: cutter radius, offset and spiral angle matter too.",
        rule,
        (*say(rule).sources, "mesh"),
    )
