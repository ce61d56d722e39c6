"""The two sliders of "what if": how far they go and in which steps."""

from __future__ import annotations

from typing import Any

from contactread.advice.shims import carrier_step
from contactread.axle import Axle

# Our choices: a usual correction and half as much again; finer than any shim is sold.
REACH_MM = 0.30
_FINEST_MM = 0.01


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
