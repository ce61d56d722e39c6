"""The answer as it is spoken: a headline with its amount, then what goes with it, in a few short lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from contactread.units import show_clearance

if TYPE_CHECKING:
    from contactread.advice.answer import Advice, Expectation, Move, ShimChange

# Rules that say why photos or axle file may be of another axle.
OTHER_AXLE = ("two-compounds", "perhaps-other-teeth", "perhaps-other-axle")
SMALL_CHANCE = 0.7  # below it, what would raise the chance is told with it


def spoken(advice: Advice) -> tuple[str, ...]:
    """The lines of the answer, the first of them the headline. Nothing in them is left to be looked up."""
    lines = _moves(advice) if advice.moves else _stay(advice)
    if advice.moves:
        lines += [s.text for s in advice.diagnosis if s.rule in OTHER_AXLE]
    rough = bool(advice.moves) and advice.moves[-1].between_mm is not None
    if advice.surer and not rough and advice.chance is not None and advice.chance < SMALL_CHANCE:
        first = advice.surer[0].text.split(":")[0].rstrip(".")
        lines[-1] += f" Surer: {first[:1].lower()}{first[1:]}."
    return tuple(lines)


def _moves(advice: Advice) -> list[str]:
    lines: list[str] = []
    for move in advice.moves:
        told = _pinion(move) if move.member == "pinion" else _ring(move)
        lines += told if not lines else ["Then " + told[0][:1].lower() + told[0][1:], *told[1:]]
    expected = advice.moves[-1].expected
    if expected is None:
        return [*lines, advice.reason]
    if advice.moves[-1].member == "pinion" and expected.backlash_mm is not None:
        lines.append(f"The ring gear stays; the dial should then read {_dial(expected)}.")
    if advice.moves[-1].between_mm is not None:
        chance = f"Chance all is right then: {percent(expected.chance)}, {advice.cannot_know}."
        return [*lines, chance, *_know_better(advice)]
    lines.append(f"Chance that all is right then: {percent(expected.chance)}.")
    return lines


def _know_better(advice: Advice) -> list[str]:
    """What would narrow a rough guess most."""
    asked = [statement.text.split(":")[0].split(" (")[0] for statement in advice.surer]
    told = "; ".join(words[:1].lower() + words[1:] for words in asked)
    return [f"To know better: {told}."] if told else []


def _rough_pinion(move: Move) -> list[str]:
    assert move.travel_mm is not None
    about = show_clearance(abs(move.travel_mm))
    if move.shims:
        change = move.shims[0]
        fit = "" if change.new_mm is None else f": {change.fit.replace('fit ', 'fit about ', 1)}"
        return [f"Pinion shim about {about} {_word(change).upper()}{fit}.", f"It may want {move.span}."]
    way = "TOWARD" if move.direction == "toward" else "AWAY from"
    head, cage = ("Thicker", "thinner") if move.direction == "toward" else ("Thinner", "thicker")
    return [
        f"Pinion about {about} {way} the ring gear.",
        f"It may want {move.span}.",
        f"{head} shim behind the pinion's head, or {cage} under its cage.",
    ]


def _pinion(move: Move) -> list[str]:
    way = "TOWARD the ring gear (deeper)" if move.direction == "toward" else "AWAY from the ring gear"
    if move.between_mm is not None:
        return _rough_pinion(move)
    if move.shims:
        change = move.shims[0]
        assert change.change_mm is not None
        text = f"Pinion shim {show_clearance(abs(change.change_mm))} {_word(change).upper()}"
        return [f"{text}: {change.fit}." if change.fit else f"{text}."]
    amount = "" if move.travel_mm is None else f"{show_clearance(abs(move.travel_mm))} "
    head, cage = ("thicker", "thinner") if move.direction == "toward" else ("thinner", "thicker")
    return [
        f"Pinion {amount}{way}.",
        f"That is a {head} shim behind the pinion's head, or a {cage} one under its cage.",
    ]


def _ring(move: Move) -> list[str]:
    way = "TOWARD the pinion" if move.direction == "toward" else "AWAY from the pinion"
    if move.travel_mm is None:
        effect = "falls" if move.direction == "toward" else "grows"
        return [f"Ring gear {way}: backlash {effect}."]
    travel = show_clearance(abs(move.travel_mm))
    stop = f" until the dial reads {_dial(move.expected)}" if _known(move.expected) else f" by {travel}"
    if move.between_mm is not None and _known(move.expected):
        return [f"Ring gear {way}{stop}."]  # the dial is no guess; how far it is to go is
    if len(move.shims) == 2:
        return [f"Ring gear {way}{stop}.", _side_shims(*move.shims)]
    notches = ""
    if move.shims and move.shims[0].notches is not None:
        count = abs(move.shims[0].notches)
        notches = f", {count:g} notch{'es' if count != 1 else ''} of both adjusters"
    return [f"Ring gear {way}{stop}.", f"That is about {travel} of travel{notches}."]


def _side_shims(ring_side: ShimChange, opposite: ShimChange) -> str:
    assert ring_side.change_mm is not None
    parts = []
    for name, change in (("ring-gear side", ring_side), ("other side", opposite)):
        fit = f", {change.fit}" if change.fit else ""
        parts.append(f"{name} {_word(change).upper()}{fit}")
    return f"Side shims {show_clearance(abs(ring_side.change_mm))}: {'; '.join(parts)}."


def _stay(advice: Advice) -> list[str]:
    reason = advice.reason or (_first_sentence(advice.diagnosis[-1].text) if advice.diagnosis else "")
    if advice.verdict == "acceptable":
        backlash = any(s.rule == "backlash-within" for s in advice.diagnosis)
        right = "both patterns and the backlash are" if backlash else "both patterns are"
        chance = [] if advice.chance is None else [f"Chance that this is so: {percent(advice.chance)}."]
        if any(s.rule == "backlash-unmeasured" for s in advice.next_steps):
            lines = [
                "Leave the shims, but measure backlash at four places before you seal it.",
                f"Here {right} where they should be; runout hides from a single place.",
            ]
        else:
            lines = [f"Leave it: {right} where they should be."]
        if advice.reason:
            lines.append(advice.reason)
        return [*lines, *([advice.cannot_know] if advice.cannot_know else []), *chance]
    if advice.verdict == "measure_first":
        return [
            "Measure backlash first, at four places round the ring gear.",
            advice.reason or "Both patterns look right, and no pattern can show backlash.",
        ]
    if advice.verdict == "read_again":
        return [
            "Photograph again: this reading can't choose a shim.",
            advice.reason or "Roll a fresh pattern; nearer, sharper, more painted teeth.",
        ]
    if advice.verdict == "check_last_move":
        return ["Check the last move first: the gears didn't do what it must do.", reason]
    if advice.verdict == "no_better_place":
        head = "Leave the shims as they are; that is no all-clear."
        return [head, reason, *advice.inspections[:1]]
    lines = ["Not a shim problem: inspect before you change a shim.", reason]
    if advice.inspections:
        lines.append("Look at: " + "; ".join(advice.inspections[:3]).rstrip(".") + ".")
    return lines


def describe_expectation(expected: Expectation, limited: bool) -> str:
    """Where both patterns and the backlash are expected, in words and numbers.

    limited: whether the axle file gives limits for backlash; without them the chance is of the patterns.
    """
    parts = [
        _centre_words("drive", expected.drive, expected.drive_sigma),
        _centre_words("coast", expected.coast, expected.coast_sigma),
    ]
    if expected.backlash_mm is not None and expected.backlash_sigma_mm is not None:
        parts.append(
            f"backlash {show_clearance(expected.backlash_mm)}, give or take "
            f"{show_clearance(expected.backlash_sigma_mm)}"
        )
    right = "all is right" if limited else "both patterns are right"
    return f"Expected then: {'; '.join(parts)}. Chance that {right}: {percent(expected.chance)}."


def _centre_words(role: str, centre: tuple[float, float], sigma: tuple[float, float]) -> str:
    return (
        f"{role} pattern at {centre[0]:.0%} of the length and {centre[1]:.0%} of the height "
        f"(give or take {sigma[0]:.0%} and {sigma[1]:.0%})"
    )


def percent(chance: float) -> str:
    """Never all or nothing: what is computed here can be wrong in ways that no chance knows of."""
    return "over 99%" if chance > 0.99 else "under 1%" if chance < 0.01 else f"{chance:.0%}"


def _known(expected: Expectation | None) -> bool:
    return expected is not None and expected.backlash_mm is not None


def _dial(expected: Expectation | None) -> str:
    assert expected is not None and expected.backlash_mm is not None
    return show_clearance(max(expected.backlash_mm, 0.0))


def _word(change: ShimChange) -> str:
    assert change.change_mm is not None
    return "thicker" if change.change_mm > 0 else "thinner"


def _first_sentence(text: str) -> str:
    return text.split(". ")[0].rstrip(".") + "."
