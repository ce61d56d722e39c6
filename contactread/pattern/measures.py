"""What is measured: the patch of one tooth, the side, the pair of sides."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from contactread.axle import FlankName, Hand, Role
from contactread.patch import EDGES, Edge, Patch, Point
from contactread.plausible import check_measured


@dataclass(frozen=True, kw_only=True)
class ReadPatch(Patch):
    """A patch that was read. hard_edges: edges with a narrow hard line. sigma: standard uncertainty of the
    centre. size_mm: length and height of the flank, None where unknown.
    """

    hard_edges: frozenset[Edge] = frozenset()
    sigma: Point
    size_mm: Point | None = None

    @property
    def margins_mm(self) -> dict[Edge, float] | None:
        """Bare flank up to each edge, mm; None where the size is unknown."""
        if self.size_mm is None:
            return None
        length, height = self.size_mm
        sizes: dict[Edge, float] = {"toe": length, "heel": length, "top": height, "root": height}
        return {edge: getattr(self.clear, edge) * sizes[edge] for edge in EDGES}

    def to_json(self, digits: int = 4) -> dict[str, Any]:
        """As `read --json` shows it."""
        margins = self.margins_mm
        return super().to_json(digits) | {
            "sigma": [round(value, digits) for value in self.sigma],
            "hard_edges": sorted(self.hard_edges),
            "margins_mm": None if margins is None else {e: round(mm, 3) for e, mm in margins.items()},
        }


@dataclass(frozen=True, kw_only=True)
class ToothPattern(ReadPatch):
    """The contact patch of one tooth. unsure_fraction: share of the flank that could not be judged."""

    unsure_fraction: float


@dataclass(frozen=True, kw_only=True)
class Side(ReadPatch):
    """One side of the set-up: the patch that the painted teeth share.

    flank and role: see `contactread.axle.role_of`. centre: robust mean of the teeth, sigma its standard
    uncertainty. clear: the teeth's median, so that the side runs off an edge where most teeth do. spread:
    tooth-to-tooth standard deviation of the centre. wave: amplitude in (u, v) of a once-per-turn swing,
    None where too few teeth show it. polarity: whether compound was pressed away to metal, or printed onto
    bare metal. compound: colour name. teeth: the teeth that were measured.
    """

    flank: FlankName
    role: Role
    spread: Point = (0.0, 0.0)
    wave: Point | None = None
    polarity: Literal["pressed_away", "printed"] = "pressed_away"
    compound: str = "none"
    teeth: tuple[ToothPattern, ...] = ()


@dataclass(frozen=True)
class Setup:
    """The pair of sides of one set-up, with what else was measured.

    backlash_mm: readings of the dial at several points of the ring gear; empty where none was taken. hand: of
    the ring gear as the photos show it; None where no photo was read.
    Raises QuantityError backlash-negative, backlash-impossible.
    """

    drive: Side
    coast: Side
    backlash_mm: tuple[float, ...] = ()
    hand: Hand | None = None
    doubts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for mm in self.backlash_mm:
            check_measured("backlash", mm)
