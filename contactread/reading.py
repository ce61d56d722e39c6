"""One photo read: the path from Photo to Side."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from contactread.flank.flank import Flank
from contactread.pattern.measures import Side, ToothPattern


@dataclass(frozen=True, eq=False)
class ReadTooth:
    """A tooth as found: its flank, whether it is painted, its patch where one was measured."""

    flank: Flank
    painted: bool
    pattern: ToothPattern | None


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
