"""The recipe of sample_images/: setups.toml, the set-ups of one invented shop and what must be refused."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from contactread.axle import Axle, Carrier, GearSet, Limits, PinionShim
from contactread.mesh.kinematics import Displacement


@dataclass(frozen=True)
class SetUp:
    """One entry of setups.toml. Moves and runout in mm, signs as in `Displacement`; film: times usual.
    both: one picture that shows drive and coast flanks, in place of one each. wet: so many of twelve painted
    teeth were never rolled."""

    name: str
    axle: Axle
    says: str
    colour: str
    finish: str
    scene: str
    pinion_mm: float = 0.0
    ring_mm: float = 0.0
    runout_mm: float = 0.0
    shaft_angle_deg: float = 0.0
    film: float = 1.0
    printed: bool = False
    seed: int = 0
    drive_seed: int = 0
    coast_seed: int = 0
    both: bool = False
    wet: int = 0

    @property
    def at(self) -> Displacement:
        """Moves from the nominal place, mm and rad."""
        return Displacement(self.pinion_mm, self.ring_mm, 0.0, float(np.radians(self.shaft_angle_deg)))


def read_set_ups(path: Path) -> list[SetUp]:
    """All set-ups of a setups.toml, in its order."""
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    out = []
    for name, entry in data["setup"].items():
        plan: dict[str, Any] = data["axle"][entry.pop("axle")]
        gears = GearSet(**{**plan["gears"], "condition": entry.pop("condition", "new")})
        limits: dict[str, Any] = {
            k: tuple(v) if isinstance(v, list) else v for k, v in plan["limits"].items()
        }
        axle = Axle(
            gears,
            plan["name"],
            pinion_shim=PinionShim(**plan["pinion_shim"]),
            carrier=Carrier(**plan["carrier"]),
            limits=Limits(**limits),
        )
        out.append(SetUp(name=name, axle=axle, **entry))
    return out


def read_refused(path: Path) -> dict[str, dict[str, Any]]:
    """By name, the pictures of a setups.toml that hold nothing to read: `kind`, `wish` and `seed` of each."""
    return dict(tomllib.loads(path.read_text(encoding="utf-8"))["refused"])
