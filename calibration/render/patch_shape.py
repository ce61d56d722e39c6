"""The region of contact on one flank: its form, its mask, its numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from contactread.patch import Edge

Field = NDArray[np.float32]


@dataclass(frozen=True)
class PatchForm:
    """A region on the flank, in flank coordinates (u toe to heel, v root to top).

    centre; half: half length and half height as fractions; tilt: rise of the long axis in v per unit
    of u; power: 2 = ellipse, larger = boxy, below 2 = lens; bend: v offset grows by bend * (u - u0)^2;
    taper: height grows by this share from toe end to heel end; lobe: a second, smaller region's shift
    (du, dv) and size share, or None; ragged: edge irregularity in mm.
    """

    centre: tuple[float, float]
    half: tuple[float, float]
    tilt: float = 0.0
    power: float = 2.0
    bend: float = 0.0
    taper: float = 0.0
    lobe: tuple[float, float, float] | None = None
    ragged: float = 0.4


def region(form: PatchForm, u: Field, v: Field, size: tuple[float, float]) -> Field:
    """Signed distance-like field, mm: positive inside. size: flank length and height in mm."""
    inside = _one(form, form.centre, 1.0, u, v, size)
    if form.lobe is not None:
        du, dv, share = form.lobe
        other = (form.centre[0] + du, form.centre[1] + dv)
        inside = np.maximum(inside, _one(form, other, share, u, v, size))
    return inside


def _one(
    form: PatchForm, centre: tuple[float, float], share: float, u: Field, v: Field, size: tuple[float, float]
) -> Field:
    x = u - np.float32(centre[0])
    y = v - np.float32(centre[1]) - np.float32(form.tilt) * x - np.float32(form.bend) * x * x
    a, b = share * form.half[0], share * form.half[1]
    stretch = 1 + form.taper * np.clip(x / a, -1, 1)
    q = np.abs(x / a) ** form.power + np.abs(y / (b * np.maximum(stretch, 0.2))) ** form.power
    level = 1 - q ** np.float32(1 / form.power)
    return np.asarray(level * min(a * size[0], b * size[1]), np.float32)


def random_form(rng: np.random.Generator) -> PatchForm:
    """The set-up's common patch, wide in place, size and form."""
    half_u = float(rng.uniform(0.12, 0.5))
    half_v = float(rng.uniform(0.12, 0.48))
    u0 = float(rng.uniform(0.1, 0.9) if rng.random() < 0.4 else rng.normal(0.47, 0.15))
    v0 = float(rng.uniform(0.05, 0.95) if rng.random() < 0.4 else rng.normal(0.5, 0.17))
    lobe = None
    if rng.random() < 0.08:
        lobe = (float(rng.uniform(-0.5, 0.5)), float(rng.uniform(-0.4, 0.4)), float(rng.uniform(0.4, 0.9)))
    return PatchForm(
        centre=(float(np.clip(u0, 0.02, 0.98)), float(np.clip(v0, 0.02, 0.98))),
        half=(half_u, half_v),
        tilt=float(rng.normal(0, 0.45)),
        power=float(rng.uniform(1.5, 3.5)),
        bend=float(rng.normal(0, 1.0) if rng.random() < 0.35 else 0.0),
        taper=float(rng.normal(0, 0.25)),
        lobe=lobe,
        ragged=float(rng.uniform(0.0, 0.9)),
    )


def tooth_form(
    rng: np.random.Generator, form: PatchForm, scatter: float, wave: float, phase: float
) -> PatchForm:
    """The common patch as it shows on one tooth; wave: once-per-turn swing, at `phase` rad."""
    swing = wave * np.sin(phase)
    return PatchForm(
        centre=(
            form.centre[0] + float(rng.normal(0, scatter)) + swing,
            form.centre[1] + float(rng.normal(0, scatter)) + 0.6 * swing,
        ),
        half=(
            max(0.05, form.half[0] * float(rng.normal(1, 0.1))),
            max(0.05, form.half[1] * float(rng.normal(1, 0.1))),
        ),
        tilt=form.tilt + float(rng.normal(0, 0.06)),
        power=form.power,
        bend=form.bend,
        taper=form.taper,
        lobe=form.lobe,
        ragged=form.ragged,
    )


@dataclass(frozen=True)
class PatchNumbers:
    """Numbers of a region mask. Percentiles and centroid weigh flank coordinates evenly.

    tilt_deg: angle of the long axis (largest second moment) against u, in mm, positive where the heel
    end lies higher. runs_off: edges that at least 2 % of that edge's length of the mask touches.
    """

    centroid: tuple[float, float]
    length: tuple[float, float]
    height: tuple[float, float]
    area_fraction: float
    tilt_deg: float
    runs_off: frozenset[Edge]


def numbers_of(mask: NDArray[np.bool_], size: tuple[float, float]) -> PatchNumbers | None:
    """Numbers of a mask (rows v from 0, columns u from 0; samples at pixel centres); None when empty."""
    rows, columns = mask.shape
    v, u = np.nonzero(mask)
    if len(u) < 4:
        return None
    x, y = (u + 0.5) / columns, (v + 0.5) / rows
    mm = np.cov(np.stack([x * size[0], y * size[1]]))
    tilt = 0.5 * np.degrees(np.arctan2(2 * mm[0, 1], mm[0, 0] - mm[1, 1]))
    sides: dict[Edge, NDArray[np.bool_]] = {
        "toe": mask[:, 0],
        "heel": mask[:, -1],
        "root": mask[0],
        "top": mask[-1],
    }
    (u05, u95), (v05, v95) = np.percentile(x, [5, 95]), np.percentile(y, [5, 95])
    return PatchNumbers(
        (float(x.mean()), float(y.mean())),
        (float(u05), float(u95)),
        (float(v05), float(v95)),
        float(mask.mean()),
        float(tilt),
        frozenset(edge for edge, line in sides.items() if line.mean() >= 0.02),
    )
