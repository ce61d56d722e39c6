"""One photo read: the path from Photo to Side."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from contactread.axle import Interval, Role
from contactread.errors import AdviceError
from contactread.flank.flank import Flank
from contactread.pattern.measures import Setup, Side, ToothPattern


@dataclass(frozen=True, eq=False)
class ReadTooth:
    """A tooth as found: its flank, whether it is painted, its patch where one was measured.

    contours: the outlines of the contact area in flank coordinates (u, v), each of shape (n, 2).
    """

    flank: Flank
    painted: bool
    pattern: ToothPattern | None
    contours: tuple[NDArray[np.float64], ...] = ()

    def to_json(self) -> dict[str, Any]:
        """One entry of "teeth" in the JSON contract."""
        return {
            "corners_px": {name: _rounded(point, 2) for name, point in self.flank.corners.items()},
            "painted": self.painted,
            "confidence": round(self.flank.confidence, 3),
            "pattern": None if self.pattern is None else _patch_json(self.pattern),
        }


@dataclass(frozen=True, eq=False)
class Reading:
    """The result of reading one photo.

    side is what the painted teeth share. confidence: 0..1 for the whole reading. flags: codes of
    `contactread.flags` that apply. size_px: (width, height) of the upright picture.
    """

    path: Path | None
    sha256: str
    size_px: tuple[int, int]
    teeth: tuple[ReadTooth, ...]
    side: Side
    confidence: float
    flags: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """One entry of "photos" in the JSON contract (schema 1); u and v are fractions, 0..1."""
        side = self.side
        return {
            "path": None if self.path is None else str(self.path),
            "status": "read",
            "refusal": None,
            "flank": side.flank,
            "side": side.role,
            "confidence": round(self.confidence, 3),
            "flags": list(self.flags),
            "sha256": self.sha256,
            "size_px": list(self.size_px),
            "compound": side.compound,
            "polarity": side.polarity,
            "teeth": [tooth.to_json() for tooth in self.teeth],
            "pattern": _patch_json(side)
            | {
                "spread": dict(zip(("length", "height"), _rounded(side.spread), strict=True)),
                "wave": None if side.wave is None else _rounded(side.wave),
            },
        }


def pair(first: Reading, second: Reading, backlash_mm: tuple[float, ...] = ()) -> Setup:
    """The set-up that two photos show, in whichever order they come: the flank seen tells the side.

    backlash_mm: readings of the dial round the ring gear. Raises AdviceError (same-side-twice).
    """
    sides: dict[Role, Side] = {reading.side.role: reading.side for reading in (first, second)}
    if len(sides) < 2:
        role = first.side.role
        raise AdviceError(
            "same-side-twice",
            f"Both photos show the {role} side ({first.side.flank} flank).",
            "Give one photo of each side. If one was taken for the wrong flank, say so with --flank.",
        )
    return Setup(sides["drive"], sides["coast"], backlash_mm)


def _patch_json(patch: ToothPattern | Side) -> dict[str, Any]:
    return {
        "centroid": _rounded(patch.centre),
        "sigma": _rounded(patch.sigma),
        "length": _rounded(patch.length),
        "height": _rounded(patch.height),
        "area_fraction": round(patch.area_fraction, 4),
        "tilt_deg": round(patch.tilt_deg, 2),
        "runs_off": sorted(patch.runs_off),
        "hard_edges": sorted(patch.hard_edges),
        "margins_mm": None
        if patch.margins_mm is None
        else {edge: round(mm, 3) for edge, mm in patch.margins_mm.items()},
    }


def _rounded(values: Interval, places: int = 4) -> list[float]:
    return [round(value, places) for value in values]
