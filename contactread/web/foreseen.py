"""Answers for the page, as plain data: the advice on two photos, and a move foreseen."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from contactread.advice.advise import advise
from contactread.advice.answer import Expectation
from contactread.advice.by_mesh import MeshAdvice
from contactread.advice.findings import describe
from contactread.advice.looks import agreeing
from contactread.advice.plan import expectation
from contactread.advice.roles import refuse_other_hand
from contactread.advice.shims import carrier_change, carrier_step, pinion_shim_change
from contactread.advice.spoken import percent
from contactread.axle import ROLES, Axle, Role
from contactread.belief import EarlierTry
from contactread.belief.targets import target_for
from contactread.errors import AdviceError, ContactreadError
from contactread.patch import Patch, Point
from contactread.pattern.measures import Setup, Side
from contactread.reading import lacking, pair
from contactread.records.measured import joined
from contactread.show.flank_chart import ChartFlank, bare_flank
from contactread.units import show_clearance

# Our choices: a usual correction and half as much again; finer than any shim is sold.
REACH_MM = 0.30
_FINEST_MM = 0.01
_HELD = 4
_answered: OrderedDict[str, MeshAdvice] = OrderedDict()


def answer(
    readings: Sequence[dict[str, Any]], axle: Axle | None, backlash_mm: tuple[float, ...]
) -> dict[str, Any]:
    """Advice on the surest photo of each side: {"advice": its JSON or None, "lacking": why there is none}."""
    seen = joined(readings, axle)
    if (why := lacking(seen, len(readings))) is not None:
        return {"advice": None, "lacking": " ".join(why[1])}
    try:
        advice = advise(pair(seen["drive"], seen["coast"], backlash_mm), axle)
    except AdviceError as error:
        return {"advice": None, "lacking": f"{error.message} {error.next_step}"}
    return {"advice": advice.to_json(), "lacking": ""}


def side_views(sides: dict[Role, Side], axle: Axle | None, advice: dict[str, Any] | None) -> dict[str, Any]:
    """Of each side its words, and its chart with the wanted zone and, where a move is advised, the patch
    foreseen after it."""
    views: dict[str, Any] = {}
    for role, side in sides.items():
        to = centre_after(advice, role)
        then = None if to is None else _shifted(side, to)
        words = describe(side, target_for(axle).zone(role))
        views[role] = {"flank": side.flank, "words": words, "chart": _chart(role, side, axle, then)}
    return views


def what_if(
    readings: Sequence[dict[str, Any]],
    axle: Axle | None,
    backlash_mm: tuple[float, ...],
    pinion_mm: float,
    ring_mm: float,
    history: Sequence[EarlierTry] = (),
) -> dict[str, Any]:
    """Both patterns and the backlash after a move P, G (mm, away positive), beside what is read now.

    history: earlier tries of the same set-up. Raises ContactreadError axle-needed, sides-missing;
    `AdviceError` as `pair`, hand-not-axle.
    """
    if axle is None:
        raise ContactreadError(
            "axle-needed", "Without an axle file no move can be tried here.", "Choose a job on top."
        )
    seen = joined(readings, axle)
    if len(seen) < 2:
        raise ContactreadError(
            "sides-missing", "Both sides are needed to foresee a move.", "Photograph the other side too."
        )
    sides = {role: each.side for role, each in seen.items()}
    setup = pair(seen["drive"], seen["coast"], backlash_mm)
    refuse_other_hand(setup, axle)
    held = _held(setup, axle, agreeing(setup, history))
    forecast = held.belief.forecast(pinion_mm, ring_mm)
    after = expectation(forecast.after, held.zones, axle)
    views = {}
    for role in ROLES:
        patch = forecast.drawn(sides[role].flank, "after")
        words = "no pattern is foreseen here"
        if patch is not None:
            u, v = patch.centre
            words = f"centre {u:.0%} of the length from the toe, {v:.0%} of the height from the root"
        views[role] = {"chart": _chart(role, sides[role], axle, patch), "words": words}
    return {
        "pinion_mm": pinion_mm,
        "ring_mm": ring_mm,
        "moves": move_words(axle, pinion_mm, ring_mm),
        "sides": views,
        "backlash": _backlash_words(after),
        "chance": round(after.chance, 3),
        "chance_words": percent(after.chance),
    }


def sliders(axle: Axle, advice: dict[str, Any] | None) -> dict[str, Any]:
    """Of pinion and ring gear: step and reach in mm, and where the slider stands first: at the advised
    move. Travel away from the other gear is positive.
    """
    advised = {"pinion": 0.0, "ring_gear": 0.0}
    for move in (advice or {}).get("moves", []):
        if move["travel"] is not None:
            advised[move["member"]] = move["travel"]["mm"]
    steps = {"pinion": axle.pinion_shim.step_mm or _FINEST_MM, "ring_gear": carrier_step(axle.carrier)}
    found = {}
    for member, step in steps.items():
        # further than what is advised, so that more can be tried, too
        count = max(round(REACH_MM / step), abs(round(advised[member] / step)) + 4)
        found[member] = {"step": step, "count": count, "at": round(advised[member] / step)}
    return found


def move_words(axle: Axle, pinion_mm: float, ring_mm: float) -> list[str]:
    """What the hand changes for a move, a line for each part."""
    lines = []
    if abs(pinion_mm) > 1e-9:
        shim = pinion_shim_change(pinion_mm, axle.pinion_shim)
        way = "away from" if pinion_mm > 0 else "toward"
        if shim is None or shim.change_mm is None:
            lines.append(f"Pinion {show_clearance(abs(pinion_mm))} {way} the ring gear.")
        else:
            fit = f": {shim.fit}" if shim.fit else ""
            thick = "thicker" if shim.change_mm > 0 else "thinner"
            lines.append(f"Pinion shim {show_clearance(abs(shim.change_mm))} {thick}{fit}.")
    if abs(ring_mm) > 1e-9:
        way = "away from" if ring_mm > 0 else "toward"
        lines.append(f"Ring gear {show_clearance(abs(ring_mm))} {way} the pinion.")
        for part in carrier_change(ring_mm, axle.carrier):
            if part.fit:
                name = "Behind the ring gear" if part.part == "ring_side_shim" else "Opposite side"
                lines.append(f"{name}: {part.fit}.")
            elif part.notches is not None:
                lines.append(f"Adjusters: {abs(part.notches):.1f} notches each.")
    return lines or ["No move."]


def _held(setup: Setup, axle: Axle, history: Sequence[EarlierTry]) -> MeshAdvice:
    """What advice goes by, so that a move foreseen here has the chance that it is advised with."""
    key = repr((setup, axle, history))
    mesh = _answered.get(key)
    if mesh is None:
        mesh = _answered[key] = MeshAdvice(setup, axle, history, target_for(axle), again=True, seen=1.0)
    _answered.move_to_end(key)
    while len(_answered) > _HELD:
        _answered.popitem(last=False)
    return mesh


def centre_after(advice: dict[str, Any] | None, role: Role | None) -> Point | None:
    """Where a side's centre is expected once all advised moves are made."""
    if advice is None or role is None or not advice["moves"]:
        return None
    expected = advice["moves"][-1]["expected"]
    return None if expected is None else (expected[role]["centroid"][0], expected[role]["centroid"][1])


def _chart(role: Role, side: Side, axle: Axle | None, then: Patch | None) -> str:
    zone = target_for(axle).zone(role)
    flank = ChartFlank("", side if then else None, then or side, (zone.u, zone.v))
    said = "now and after the move" if then else "as read"
    return bare_flank(flank, f"{role.capitalize()} side, {side.flank} flank: pattern {said}").svg(alone=False)


def _shifted(side: Side, to: Point) -> Patch:
    """The patch as read, moved to a foreseen centre; what leaves the flank is cut off."""
    du, dv = to[0] - side.centre[0], to[1] - side.centre[1]
    moved = tuple(
        tuple((min(1.0, max(0.0, u + du)), min(1.0, max(0.0, v + dv))) for u, v in outline)
        for outline in side.shape()
    )
    return replace(side, centre=to, outlines=moved)


def _backlash_words(after: Expectation) -> str:
    if after.backlash_mm is None or after.backlash_sigma_mm is None:
        return "Backlash: not measured, so only its change is known."
    doubt = show_clearance(after.backlash_sigma_mm)
    return f"Backlash {show_clearance(after.backlash_mm)}, give or take {doubt}"
