"""Measure the contact map of one tooth."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from contactread.arrays import Singles
from contactread.patch import EDGES, Edge, Patch, Point, measure
from contactread.pattern.measures import ToothPattern

# Least uncertainty of a centre whatever the evidence: the flank's map, the photo's sharpness and the
# ragged edge of a rubbed patch. Shares of length and height.
FLOOR = (0.010, 0.018)
_HARD_DEPTH, _HARD_INNER = 0.10, 0.30  # a hard line lies in the outer tenth and fades by three tenths


def measure_tooth(
    inside: Singles, judged: Singles, aspect: float, size_mm: Point | None, evidence_sigma: Point = (0.0, 0.0)
) -> ToothPattern:
    """The patch of one tooth, with its outlines.

    inside: (rows, columns), 0..1, as in ContactMaps; must hold some contact. judged: (rows, columns), 0..1.
    aspect: true height over length of the flank, for the tilt. size_mm: (length, height), if known.
    """
    patch = measure(inside, aspect, outlined=True)
    assert patch is not None, "the map holds no contact"
    u, v = np.hypot(evidence_sigma, FLOOR)
    return ToothPattern(
        **{f.name: getattr(patch, f.name) for f in fields(Patch)},
        hard_edges=frozenset(edge for edge in EDGES if edge in patch.runs_off and _is_hard(inside, edge)),
        sigma=(float(u), float(v)),
        size_mm=size_mm,
        unsure_fraction=float(1 - judged.mean()),
    )


def _is_hard(inside: Singles, edge: Edge) -> bool:
    """A narrow line along an edge that fades within a few tenths: the edge itself carries."""
    turned = {"toe": inside, "heel": inside[:, ::-1], "root": inside.T, "top": inside.T[:, ::-1]}[edge]
    start, end = round(_HARD_DEPTH * turned.shape[1]), round(_HARD_INNER * turned.shape[1])
    outer, inner = turned[:, :start].mean(axis=1), turned[:, start:end].mean(axis=1)
    along = outer > 0.5
    return bool(along.mean() > 0.2 and inner[along].mean() < 0.35)
