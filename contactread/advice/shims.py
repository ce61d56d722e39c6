"""From a move of pinion or ring gear to what the hand changes: shims or adjuster notches."""

from __future__ import annotations

from contactread.advice.answer import ShimChange
from contactread.axle import Carrier, PinionShim


def round_to_step(mm: float, step_mm: float) -> float:
    """The nearest travel that the shop's shims can make."""
    return round(mm / step_mm) * step_mm


def pinion_shim_change(pinion_mm: float, shim: PinionShim) -> ShimChange | None:
    """The change of the pinion shim that makes the pinion move P (positive: away from the ring gear).

    None where the shim's place isn't known: the sign hangs on it (sources A1, A5, A7, A9).
    """
    if shim.place is None:
        return None
    change = -pinion_mm if shim.place == "behind_head" else pinion_mm
    new = None if shim.thickness_mm is None else shim.thickness_mm + change
    return ShimChange("pinion_shim", change, new)


def pinion_travels(shim: PinionShim) -> tuple[float, ...]:
    """Every pinion move P that a pack of the shop's sizes makes; empty where no sizes, no present pack or no
    place is given.
    """
    if not shim.sizes_mm or shim.thickness_mm is None:
        return ()
    travels = (pinion_travel(size - shim.thickness_mm, shim) for size in shim.sizes_mm)
    return tuple(sorted(t for t in travels if t is not None))


def pinion_travel(shim_change_mm: float, shim: PinionShim) -> float | None:
    """The pinion move P that a change of the pinion shim makes; None where its place isn't known."""
    if shim.place is None:
        return None
    return -shim_change_mm if shim.place == "behind_head" else shim_change_mm


def side_shim_travel(ring_side_mm: float, opposite_mm: float, carrier: Carrier) -> float:
    """The ring-gear move G that these changes of both side shims make (thicker is positive).

    Half the difference of what both sides changed: packs that keep their total move the gear by the change
    of one; what both have in common changes the preload.
    """
    behind = (ring_side_mm - opposite_mm) / 2
    return -behind if carrier.ring_side_thicker_moves == "toward" else behind


def notch_travel(ring_side: float, opposite: float, carrier: Carrier) -> float | None:
    """The ring-gear move G that these turns of both adjusters make (notches; further in is positive).

    None where they turned and the travel of a notch isn't known. The adjuster behind the ring gear pushes it
    toward the pinion, the other one pushes it away.
    """
    toward = (ring_side - opposite) / 2
    if abs(toward) < 1e-9:
        return 0.0
    return None if carrier.notch_mm is None else -toward * carrier.notch_mm


def carrier_change(ring_mm: float, carrier: Carrier) -> tuple[ShimChange, ...]:
    """What makes the ring-gear move G (positive: away from the pinion).

    Side shims change by equal and opposite amounts, so that their total and the preload stay (B16).
    Adjusters turn by notches; without the travel of a notch nothing can be counted.
    """
    if carrier.kind == "adjusters":
        if not carrier.notch_mm:
            return ()
        return (ShimChange("adjusters", notches=ring_mm / carrier.notch_mm),)
    ring_side = -ring_mm if carrier.ring_side_thicker_moves == "toward" else ring_mm
    return (
        ShimChange("ring_side_shim", ring_side, _plus(carrier.ring_side_mm, ring_side)),
        ShimChange("opposite_shim", -ring_side, _plus(carrier.opposite_side_mm, -ring_side)),
    )


def carrier_step(carrier: Carrier) -> float:
    """The finest ring-gear travel the shop can make, mm; half a notch for adjusters."""
    if carrier.kind == "adjusters" and carrier.notch_mm:
        return carrier.notch_mm / 2
    return carrier.step_mm


def _plus(present_mm: float | None, change_mm: float) -> float | None:
    return None if present_mm is None else present_mm + change_mm
