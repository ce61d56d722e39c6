"""A technician who follows the common chart in fixed steps, for comparison with the solver."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.setup_conditions import COMMON_BACKLASH_MM
from contactread.advice import EarlierTry
from contactread.axle import Axle
from contactread.pattern.measures import Setup

DEPTH_STEP_MM = 0.125  # five thousandths, halved when the pattern turns back: common practice
LENGTH_STEP_MM = 0.05
BACKLASH_PER_TRAVEL = 0.65  # the middle of B28


@dataclass(frozen=True)
class Step:
    """What a worker does next. what: "accept", "read", "measure", "move", "check" or "give up". pinion_mm,
    ring_mm: P and G of a move. chance: that all is right then, where it is told; now: that all is right as it
    stands. verdict: in the worker's own word.
    """

    what: str
    pinion_mm: float = 0.0
    ring_mm: float = 0.0
    chance: float | None = None
    verdict: str = ""
    now: float | None = None


class Technician:
    """Backlash into its limits, then depth by the mean height of both patterns, backlash with it; then
    length by backlash as far as the limits allow. Accepts by the centres as read.
    """

    def __init__(self, zone: tuple[float, float]) -> None:
        self._zone = zone
        self._step = DEPTH_STEP_MM
        self._last = 0.0

    def __call__(self, setup: Setup, axle: Axle, history: list[EarlierTry]) -> Step:
        """What he does next: accept or move."""
        if not setup.backlash_mm:
            return Step("measure")
        low, high = axle.limits.backlash_mm or COMMON_BACKLASH_MM
        backlash = float(np.mean(setup.backlash_mm))
        ring = 0.0
        if not low <= backlash <= high:
            ring = self._on_grid(((low + high) / 2 - backlash) / BACKLASH_PER_TRAVEL, axle.carrier.step_mm)
        drive, coast = setup.drive.centre, setup.coast.centre
        height = (drive[1] + coast[1]) / 2 - 0.5
        if max(abs(drive[1] - 0.5), abs(coast[1] - 0.5)) > self._zone[1]:
            pinion = -float(np.sign(height)) * self._step
            if self._last * pinion < 0:
                self._step = max(self._step / 2, axle.pinion_shim.step_mm)
                pinion = float(np.sign(pinion)) * self._step
            self._last = pinion
            pinion = self._on_grid(pinion, axle.pinion_shim.step_mm)
            # The ring gear follows the pinion by the tooth ratio, which keeps backlash about as it was.
            follow = -pinion * axle.gears.pinion_teeth / axle.gears.ring_teeth
            return Step("move", pinion, self._on_grid(ring + follow, axle.carrier.step_mm))
        length = (drive[0] + coast[0]) / 2 - 0.5
        if not ring and max(abs(drive[0] - 0.5), abs(coast[0] - 0.5)) > self._zone[0]:
            wanted = -float(np.sign(length)) * LENGTH_STEP_MM
            if low <= backlash + wanted * BACKLASH_PER_TRAVEL <= high:
                ring = wanted
        return Step("move", 0.0, ring) if ring else Step("accept")

    @staticmethod
    def _on_grid(mm: float, step_mm: float) -> float:
        return float(round(mm / step_mm) * step_mm)
