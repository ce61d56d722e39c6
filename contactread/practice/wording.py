"""Sentences that several kinds of question share."""

from __future__ import annotations

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.advice.shims import carrier_change, pinion_shim_change
from contactread.axle import ROLES
from contactread.facts import facts
from contactread.practice.acting import act_on
from contactread.practice.case import Case
from contactread.practice.chart import Verdict
from contactread.units import show_clearance

THICKER_MOVES_IN = "A thicker shim on the ring-gear side moves the ring gear toward the pinion."


def define(term: str) -> Statement:
    """A glossary entry as a reason; its rule reads ``glossary.<term>``."""
    entry = facts("glossary")[term]
    name = entry["term"][0].upper() + entry["term"][1:]
    return Statement(f"{name}: {entry['means']}", f"glossary.{term}", tuple(entry["sources"]))


def computed(text: str) -> Statement:
    """A sentence with figures of this picture."""
    return Statement(text, "glossary.pattern", ("mesh",))


def the_axle(case: Case, *, shim: bool = False, cutting: bool = False) -> list[str]:
    """What the apprentice is told about the axle."""
    axle, gears = case.axle, case.axle.gears
    lines = [
        f"{axle.name} (invented), {gears.pinion_teeth}/{gears.ring_teeth} teeth, {gears.condition} gears."
    ]
    if cutting:
        lines[0] = f"{lines[0][:-1]}, {gears.cutting.replace('_', '-')}."
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


def carrier_line(case: Case) -> str:
    if case.axle.carrier.kind == "adjusters":
        return "The ring gear is moved by threaded adjusters."
    return THICKER_MOVES_IN


def backlash_line(case: Case) -> str:
    """The measured backlash and the limits, without saying which side of them it lies."""
    least, most = case.limits
    limits = f"{show_clearance(least)} to {show_clearance(most)}"
    return f"Backlash {show_clearance(case.backlash_mm)}; limits {limits}."


def wanted(case: Case) -> Statement:
    """Which wanted place the question goes by; publications differ."""
    zone = case.target.drive
    text = (
        f"Wanted: centres at {zone.u[0]:.0%} to {zone.u[1]:.0%} of the length, {zone.v[0]:.0%} to "
        f"{zone.v[1]:.0%} of the height."
    )
    return say("target-choice", text, also=case.target.sources)


def where(case: Case) -> str:
    """Both centres in numbers."""
    (u, v), (s, t) = (case.patch(role).centre for role in ROLES)
    return f"drive {u:.0%} of the length, {v:.0%} of the height; coast {s:.0%} and {t:.0%}"


def about(case: Case, verdict: Verdict) -> tuple[Statement, ...]:
    """The three statements on one set-up: where its patches lie, what that means, what moves them."""
    means = say(verdict.rule or "pattern-in-zone")
    outcome = act_on(case, verdict.act)
    return (
        computed(f"Centres: {where(case)}. Backlash {show_clearance(case.backlash_mm)}."),
        means,
        say(means.rule, f"What moves it: {outcome.done}. {outcome.ends()}", also=("mesh",)),
    )


def shim_words(mm: float) -> str:
    """A change of a shim's thickness."""
    return f"{'thicker' if mm > 0 else 'thinner'} by {show_clearance(abs(mm))}"


def by_hand(case: Case, pinion: int, ring: int) -> str:
    """What the hand changes to move the pinion or the ring gear one way."""
    axle = case.axle
    if pinion:
        change = pinion_shim_change(0.1 * pinion, axle.pinion_shim)
        assert change is not None and change.change_mm is not None
        return f"A {'thicker' if change.change_mm > 0 else 'thinner'} pinion shim; then set backlash again."
    if axle.carrier.kind == "adjusters":
        side = "on the tooth side" if ring < 0 else "behind the ring gear"
        return f"Back off the adjuster {side} and follow with the other by the same amount."
    ring_side, _ = carrier_change(0.1 * ring, axle.carrier)
    assert ring_side.change_mm is not None
    words = ("thicker", "thinner") if ring_side.change_mm > 0 else ("thinner", "thicker")
    return f"Ring-gear side shim {words[0]}, opposite side shim {words[1]}, by the same amount."
