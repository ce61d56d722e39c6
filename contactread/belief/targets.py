"""Where the patch is wanted: the named targets of `shared/targets.toml`."""

from __future__ import annotations

from dataclasses import dataclass

from contactread.axle import Axle, Interval, Role
from contactread.errors import AdviceError
from contactread.facts import facts
from contactread.patch import Point


@dataclass(frozen=True)
class Zone:
    """Where the centre of one side's patch is wanted, in flank fractions.

    aim: best place (u, v). u, v: (least, most). judged: False where the chosen publication leaves this
    side out of the judgement.
    """

    aim: Point
    u: Interval
    v: Interval
    judged: bool = True


@dataclass(frozen=True)
class Target:
    """A named target: a zone for each role, and the sources that want it so."""

    name: str
    heading: str
    says: str
    sources: tuple[str, ...]
    drive: Zone
    coast: Zone

    def zone(self, role: Role) -> Zone:
        return self.drive if role == "drive" else self.coast


def target_for(axle: Axle | None) -> Target:
    """The target of this axle. A used set whose file names a new-set target gets the target "used" (A14).

    Raises AdviceError target-unknown.
    """
    name = "toe_of_middle" if axle is None else axle.target
    entries = facts("targets")
    if name not in entries:
        raise AdviceError(
            "target-unknown",
            f"The axle file asks for the target '{name}', which isn't known.",
            f"Use one of: {', '.join(entries)}.",
        )
    if axle is not None and axle.gears.condition == "used" and entries[name]["for"] == "new":
        name = "used"
    entry = entries[name]
    return Target(
        name,
        entry["heading"],
        entry["says"],
        tuple(entry["sources"]),
        _zone(entry["drive"]),
        _zone(entry["coast"]),
    )


def _zone(entry: dict[str, list[float] | bool]) -> Zone:
    def pair(key: str) -> tuple[float, float]:
        values = entry[key]
        assert isinstance(values, list)
        return values[0], values[1]

    return Zone(pair("aim"), pair("u"), pair("v"), bool(entry.get("judged", True)))
