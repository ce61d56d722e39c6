"""Backlash readings round the ring gear: mean, spread, and what they say against the axle's limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from contactread.axle import Limits

# Where the axle file gives no limits: 6 to 10 thousandths of an inch, common practice.
COMMON_MM = (0.1524, 0.254)


@dataclass(frozen=True)
class Backlash:
    """Backlash as measured at one or more places, mm.

    verdict: "within" the limits where every place is, else "below" or "above" by the place that lies
    farthest outside; "no_limits" where the axle has none. miss_mm: how far outside that place lies, 0 inside.
    spread_mm: largest minus smallest. spread_ok: False where it is more than the axle allows, or more than
    the limits are apart, so that no move brings every place inside; None where nothing says.
    """

    mean_mm: float
    least_mm: float
    most_mm: float
    count: int
    verdict: Literal["below", "within", "above", "no_limits"]
    miss_mm: float
    spread_mm: float
    spread_ok: bool | None


def judge_backlash(readings_mm: tuple[float, ...], limits: Limits) -> Backlash | None:
    """The readings against the axle's limits; None where nothing was measured."""
    if not readings_mm:
        return None
    mean = sum(readings_mm) / len(readings_mm)
    least, most = min(readings_mm), max(readings_mm)
    spread = most - least
    spread_ok = None
    if limits.backlash_spread_mm is not None and len(readings_mm) > 1:
        spread_ok = spread <= limits.backlash_spread_mm + 1e-9
    verdict: Literal["below", "within", "above", "no_limits"] = "no_limits"
    miss = 0.0
    if limits.backlash_mm is not None:
        low, high = limits.backlash_mm
        miss = max(low - least, most - high, 0.0)
        miss = 0.0 if miss < 1e-9 else miss
        verdict = "within" if miss == 0 else ("below" if low - least > most - high else "above")
        if spread > high - low + 1e-9:
            spread_ok = False
    return Backlash(mean, least, most, len(readings_mm), verdict, miss, spread, spread_ok)
