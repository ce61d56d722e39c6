"""The invented axles that practice asks about: ordinary axle files. Named after plants, so that no maker's
name is met by chance; their numbers are made up."""

from __future__ import annotations

from pathlib import Path

from contactread.axle import Axle
from contactread.axle_file import load_axle

FLEET: dict[str, Axle] = {
    path.stem: load_axle(path) for path in sorted(Path(__file__).parent.glob("axles/*.toml"))
}
# Used sets ran in under load, so their files have a flatter relief along the tooth and a longer patch.
NEW_SETS = tuple(name for name, axle in FLEET.items() if axle.gears.condition == "new")
USED_SETS = tuple(name for name in FLEET if name not in NEW_SETS)
REVERSE_SETS = tuple(name for name, axle in FLEET.items() if axle.rotation == "reverse")
SIDE_SHIM_SETS = tuple(name for name in NEW_SETS if FLEET[name].carrier.kind == "side_shims")
