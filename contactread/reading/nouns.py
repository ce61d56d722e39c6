"""What was read of one photo: its teeth, its side, how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from contactread.axle import Hand, Interval
from contactread.flank.flank import Flank
from contactread.pattern.measures import Side, ToothPattern
from contactread.pattern.quality import Evidence, class_of, interval


@dataclass(frozen=True, eq=False)
class ReadTooth:
    """A tooth as found: its flank, whether it is painted, its patch (outlined) where one was measured.

    wet: painted, but never rolled through the mesh, so that there is no patch to measure.
    """

    flank: Flank
    painted: bool
    pattern: ToothPattern | None
    wet: bool = False

    def to_json(self) -> dict[str, Any]:
        """One entry of "teeth" in the JSON contract."""
        return {
            "corners_px": {name: _rounded(point, 2) for name, point in self.flank.corners.items()},
            "painted": self.painted,
            "wet": self.wet,
            "confidence": round(self.flank.confidence, 3),
            "pattern": None if self.pattern is None else self.pattern.to_json(),
        }


@dataclass(frozen=True, eq=False)
class Reading:
    """The result of reading one photo.

    side is what the rolled teeth share. confidence: 0..1, chance that side and centre are right, see
    `contactread.pattern.quality`; evidence: what it is made of. flags: codes of `contactread.flags` that
    apply. size_px: (width, height) of the upright picture. other: the reading of the other flank, where the
    photo shows a pattern on both; this one covers more of the photo, or is much surer.
    """

    path: Path | None
    sha256: str
    size_px: tuple[int, int]
    teeth: tuple[ReadTooth, ...]
    side: Side
    confidence: float
    flags: tuple[str, ...]
    evidence: Evidence | None = None
    other: Reading | None = None

    @property
    def interval(self) -> tuple[Interval, Interval]:
        """Where nine centres in ten lie, in u and in v, see `contactread.pattern.quality.interval`."""
        return interval(self.side.centre, self.side.sigma, class_of(self.flags, len(self.side.teeth)))

    @property
    def hand(self) -> Hand:
        """The hand of the gear set as the photo shows it: from toe to heel and from root to top turn the same
        way round on the convex flanks of one hand and the concave ones of the other. Where as many teeth turn
        one way as the other, the larger ones decide.
        """
        turns, size = 0, 0.0
        for tooth in self.teeth:
            toe_root, toe_top, heel_root, heel_top = (
                np.array(tooth.flank.corners[name])
                for name in ("toe_root", "toe_top", "heel_root", "heel_top")
            )
            along, up = heel_root + heel_top - toe_root - toe_top, toe_top + heel_top - toe_root - heel_root
            turned = float(along[0] * up[1] - along[1] * up[0])  # four times the tooth's size
            turns, size = turns + (1 if turned > 0 else -1), size + turned
        return "right" if ((turns or size) > 0) == (self.side.flank == "convex") else "left"

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
            "pattern": side.to_json()
            | {
                "interval_90": dict(zip(("length", "height"), map(_rounded, self.interval), strict=True)),
                "spread": dict(zip(("length", "height"), _rounded(side.spread), strict=True)),
                "wave": None if side.wave is None else _rounded(side.wave),
            },
            "other": None if self.other is None else self.other.to_json(),
        }


def _rounded(values: Interval, places: int = 4) -> list[float]:
    return [round(value, places) for value in values]
