"""Moves put into words: direction, travel, and the shims or notches that make it."""

from __future__ import annotations

from typing import Literal

from contactread.advice.answer import Expectation, Move, ShimChange, Statement
from contactread.advice.rules import say
from contactread.advice.shims import carrier_change, pinion_shim_change
from contactread.axle import Axle, Carrier, PinionShim
from contactread.units import show_clearance

Direction = Literal["toward", "away"]


def pinion_direction_only(direction: Direction) -> Move:
    """A pinion move of unknown size."""
    return Move("pinion", direction, None, (), (_pinion_heading(direction, None), *_both_places(direction)))


def ring_direction_only(direction: Direction) -> Move:
    """A ring-gear move of unknown size."""
    return Move("ring_gear", direction, None, (), (_ring_heading(direction, None), say("ring-gear-only")))


def pinion_move(pinion_mm: float, axle: Axle, expected: Expectation | None = None) -> Move:
    """The pinion move P with the shim that makes it. Raises ValueError for a move of nothing."""
    direction = direction_of(pinion_mm)
    change = pinion_shim_change(pinion_mm, axle.pinion_shim)
    how: list[Statement] = [_pinion_heading(direction, abs(pinion_mm))]
    if change is None:
        how += [*_both_places(direction), say("shim-place-unknown")]
    else:
        rule = "shim-behind-head" if axle.pinion_shim.place == "behind_head" else "shim-under-cage"
        how.append(say(rule, _pinion_shim_words(change, axle.pinion_shim)))
    how.append(say("depth-then-backlash-again"))
    return Move("pinion", direction, pinion_mm, () if change is None else (change,), tuple(how), expected)


def ring_move(ring_mm: float, axle: Axle, expected: Expectation | None = None) -> Move:
    """The ring-gear move G with the side shims or notches that make it. Raises ValueError for nothing."""
    direction = direction_of(ring_mm)
    changes = carrier_change(ring_mm, axle.carrier)
    how = [_ring_heading(direction, abs(ring_mm))]
    if axle.carrier.kind == "adjusters":
        how.append(say("adjuster-notches", _notch_words(changes, direction, axle.carrier)))
    else:
        how.append(say("side-shims-equal", _side_shim_words(changes)))
    return Move("ring_gear", direction, ring_mm, changes, tuple(how), expected)


def direction_of(travel_mm: float) -> Direction:
    """Positive travel is away, for both members. Raises ValueError for 0."""
    if travel_mm == 0:
        raise ValueError("a move of nothing has no direction")
    return "away" if travel_mm > 0 else "toward"


def _pinion_heading(direction: Direction, mm: float | None) -> Statement:
    amount = "" if mm is None else f" by {show_clearance(mm)}"
    effect = "lower" if direction == "toward" else "higher"
    rule = f"effect-pinion-{direction}"
    way = "toward" if direction == "toward" else "away from"
    return say(rule, f"Move the pinion {way} the ring gear{amount}. Both patterns go {effect} on the tooth.")


def _ring_heading(direction: Direction, mm: float | None) -> Statement:
    amount = "" if mm is None else f" by {show_clearance(mm)}"
    way = "toward" if direction == "toward" else "away from"
    effect = "falls" if direction == "toward" else "grows"
    rule = f"effect-gear-{direction}"
    return say(rule, f"Move the ring gear {way} the pinion{amount}. Backlash {effect}.")


def _both_places(direction: Direction) -> tuple[Statement, Statement]:
    head, cage = ("thicker", "thinner") if direction == "toward" else ("thinner", "thicker")
    return (
        say("shim-behind-head", f"Shim behind the pinion head or its bearing cup: fit a {head} shim."),
        say("shim-under-cage", f"Shim under the pinion cage: fit a {cage} pack."),
    )


def _pinion_shim_words(change: ShimChange, shim: PinionShim) -> str:
    where = "behind the pinion head" if shim.place == "behind_head" else "under the pinion cage"
    assert change.change_mm is not None
    word = "thicker" if change.change_mm > 0 else "thinner"
    text = f"Fit a pinion shim {where} that is {word} by {show_clearance(abs(change.change_mm))}"
    return text + _new_thickness(change, "the present shim's thickness isn't in the axle file")


def _side_shim_words(changes: tuple[ShimChange, ...]) -> str:
    ring_side, opposite = changes
    assert ring_side.change_mm is not None and opposite.change_mm is not None
    names = {True: "thicker", False: "thinner"}
    amount = show_clearance(abs(ring_side.change_mm))
    text = (
        f"Ring-gear side shim {names[ring_side.change_mm > 0]} and opposite side shim "
        f"{names[opposite.change_mm > 0]}, both by {amount}, so that the preload stays"
    )
    if ring_side.fit and opposite.fit:
        text += f": {ring_side.fit}, and {opposite.fit}"
    return text + "."


def _notch_words(changes: tuple[ShimChange, ...], direction: Direction, carrier: Carrier) -> str:
    side = "the adjuster on the tooth side" if direction == "toward" else "the adjuster behind the ring gear"
    text = f"Back off {side} and follow with the other by the same amount"
    if changes and changes[0].notches is not None and carrier.notch_mm:
        count = abs(changes[0].notches)
        text += f": {count:g} notch{'es' if count != 1 else ''} ({show_clearance(carrier.notch_mm)} a notch)"
        return text + ". Then set the side-bearing preload as your manual says."
    return text + ", one notch at a time. Measure backlash after each. The axle file has no travel per notch."


def _new_thickness(change: ShimChange, missing: str) -> str:
    return f": {change.fit}." if change.fit else f" ({missing})."
