"""What is said about backlash: as measured, against its limits, where no move brings every place inside."""

from __future__ import annotations

from contactread.advice.answer import Statement
from contactread.advice.backlash import Backlash
from contactread.advice.faults import Fault, fault
from contactread.advice.rules import say
from contactread.advice.zones import HARDLY_MM, band_of_mean
from contactread.axle import Interval
from contactread.units import show_clearance

_NO_ROOM = "Backlash swings so far round the ring gear that no move brings all of it inside its limits."
_LEAST_ROOM_MM = 0.001


def about_backlash(backlash: Backlash | None, limited: bool) -> list[Statement]:
    """What was measured against the limits of the axle file (limited) or against common practice."""
    if backlash is None:
        return [say("backlash-unmeasured", "Backlash isn't known yet.")]
    measured = f"Backlash {show_clearance(backlash.mean_mm)}"
    if backlash.count > 1:
        measured += f" in the mean of {backlash.count} places, spread {show_clearance(backlash.spread_mm)}"
    if backlash.verdict == "no_limits":
        return [say("backlash-no-limits", f"{measured}. The axle file gives no limits to hold it against.")]
    zone = "the limits of this axle" if limited else "6 to 10 thousandths (common practice)"
    if backlash.verdict == "within":
        return [say("backlash-within" if limited else "backlash-no-limits", f"{measured}: within {zone}.")]
    rule = "backlash-too-small" if backlash.verdict == "below" else "backlash-too-large"
    far = "just" if backlash.miss_mm < HARDLY_MM else show_clearance(backlash.miss_mm)
    if backlash.count > 1:
        far = f"one place {far}"
    return [say(rule, f"{measured}: {far} {backlash.verdict} {zone}."), say("backlash-before-pattern")]


def backlash_faults(
    backlash_mm: tuple[float, ...], judged: Backlash | None, limits: Interval | None
) -> list[Fault]:
    """The fault of a backlash that swings so far round the ring gear that no move brings all of it inside."""
    if judged is not None and judged.spread_ok is False:
        spread = show_clearance(judged.spread_mm)
        text = f"Backlash differs by {spread} round the ring gear, more than its limits allow."
        return [fault("backlash-spread", text)]
    return [] if _room_at_every_place(backlash_mm, limits) else [fault("backlash-spread", _NO_ROOM)]


def _room_at_every_place(backlash_mm: tuple[float, ...], limits: Interval | None) -> bool:
    """Whether some mean brings every place inside the limits, also those between the ones that were read."""
    if limits is None or len(backlash_mm) < 2:
        return True
    low, high = band_of_mean(limits, backlash_mm)
    return high - low > _LEAST_ROOM_MM
