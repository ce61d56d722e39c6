"""Sentences that several kinds of question share."""

from __future__ import annotations

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.facts import facts
from contactread.practice.case import ROLES, Case, limits_of
from contactread.practice.question import percent, share
from contactread.units import show_clearance


def define(term: str) -> Statement:
    """A glossary entry as a reason; its rule reads ``glossary.<term>``."""
    entry = facts("glossary")[term]
    name = entry["term"][0].upper() + entry["term"][1:]
    return Statement(f"{name}: {entry['means']}", f"glossary.{term}", tuple(entry["sources"]))


def the_axle(case: Case, *, shim: bool = False, cutting: bool = False) -> list[str]:
    """What the apprentice is told about the axle."""
    axle = case.axle
    gears = axle.gears
    condition = "used gears" if gears.condition == "used" else "new gears"
    lines = [f"{axle.name} (invented), {gears.pinion_teeth}/{gears.ring_teeth} teeth, {condition}."]
    if cutting:
        lines.append(f"The set is {gears.cutting.replace('_', '-')}.")
    if axle.rotation == "reverse":
        lines.append("Reverse rotation: the concave flank drives, the convex flank coasts.")
    if shim:
        lines.append(shim_place(case))
    return lines


def shim_place(case: Case) -> str:
    if case.axle.pinion_shim.place == "behind_head":
        return "The pinion shim sits behind the pinion head."
    return "The pinion shim sits under the pinion's bearing cage."


def shim_rule(case: Case) -> Statement:
    place = case.axle.pinion_shim.place
    return say("shim-behind-head" if place == "behind_head" else "shim-under-cage")


def backlash_line(case: Case) -> str:
    """The measured backlash and the limits, without saying which side of them it lies."""
    least, most = limits_of(case.axle)
    return (
        f"Backlash, mean of four places: {show_clearance(case.backlash_mm)}. "
        f"This axle's limits: {show_clearance(least)} to {show_clearance(most)}."
    )


def target_choice(case: Case) -> Statement:
    """Which wanted place the question goes by; publications differ."""
    target = case.target
    zone = target.drive
    text = (
        f"Target of this question: {target.heading[0].lower()}{target.heading[1:]}. A patch is right when "
        f"its centre lies at {percent(zone.u[0])} to {percent(zone.u[1])} of the length and "
        f"{percent(zone.v[0])} to {percent(zone.v[1])} of the height. Other publications want other places."
    )
    return say("target-choice", text, also=target.sources)


def where(case: Case) -> str:
    """Both centres in numbers."""
    parts = []
    for role in ROLES:
        u, v = case.patch(role).centre
        parts.append(f"{role} at {percent(u)} of the length and {percent(v)} of the height")
    return "; ".join(parts)


def margin_words(best: float, second: float) -> str:
    """By how much the best answer is best."""
    if second == float("inf"):
        return (
            f"The best answer brings both patches to within {share(best)} of the tooth of where they "
            "belong. No other answer ends with backlash in limits."
        )
    return (
        f"The best answer brings both patches to within {share(best)} of the tooth of where they belong. "
        f"The next best leaves them {share(second)} away."
    )
