"""Whether the photos' sides and hand are this axle's, and which of them drives in it."""

from __future__ import annotations

from dataclasses import replace

from contactread.axle import Axle
from contactread.errors import AdviceError
from contactread.pattern.measures import Setup
from contactread.reading import one_side_twice


def by_roles(setup: Setup, axle: Axle) -> Setup:
    """The set-up with each side in its role for this axle's rotation. Raises AdviceError same-side-twice."""
    if setup.drive.flank == setup.coast.flank:
        raise one_side_twice(setup.drive)
    sides = [replace(side, role=axle.role(side.flank)) for side in (setup.drive, setup.coast)]
    drive, coast = sorted(sides, key=lambda side: side.role != "drive")
    return replace(setup, drive=drive, coast=coast)


def refuse_other_hand(setup: Setup, axle: Axle) -> None:
    """Raises AdviceError hand-not-axle where the photos show another hand than the axle file tells."""
    told = axle.gears.hand
    if setup.hand is not None and told is not None and setup.hand != told:
        raise AdviceError(
            "hand-not-axle",
            f"The photos show a {setup.hand}-hand ring gear; the axle file tells of a {told}-hand one.",
            "Choose the axle file of this axle, or correct its gears.hand; then read the photos again.",
        )
