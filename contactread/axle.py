"""The axle and its gear set, as far as the user knows it. SI units: mm, N·m; angles in degrees.

What the user leaves out stays None here; `contactread.mesh` estimates it, with a spread.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from contactread.errors import AdviceError

Cutting = Literal["face_milled", "face_hobbed", "unknown"]
Hand = Literal["left", "right"]
FlankName = Literal["convex", "concave"]
Role = Literal["drive", "coast"]
FLANKS: tuple[FlankName, FlankName] = ("convex", "concave")
ROLES: tuple[Role, Role] = ("drive", "coast")
Interval = tuple[float, float]


@dataclass(frozen=True)
class GearSet:
    """The ring gear and pinion.

    pinion_teeth, ring_teeth: counts. ring_diameter_mm: outer (heel) pitch diameter of the ring gear,
    de2. face_width_mm: flank length along the pitch cone, b2. offset_mm: hypoid offset, 0 for a
    spiral bevel. spiral_deg: ring-gear mean spiral angle, beta_m2. pressure_angle_deg: mean of both
    flanks. cutter_radius_mm: r_c0. cutter_groups: blade groups z0 of a face-hobbing head. hand: of the
    ring gear. depth_heel_mm, depth_toe_mm: whole height of a ring-gear tooth at its ends. addendum_mm: of the
    ring gear, at mid-length. supposed: which of the first three nobody told: they are a guess by
    `contactread.gear_classes`, and nothing but a belief over its classes may rest on them.
    """

    pinion_teeth: int
    ring_teeth: int
    ring_diameter_mm: float
    face_width_mm: float | None = None
    offset_mm: float | None = None
    spiral_deg: float | None = None
    pressure_angle_deg: float | None = None
    cutter_radius_mm: float | None = None
    cutter_groups: int | None = None
    hand: Hand | None = None
    cutting: Cutting = "unknown"
    condition: Literal["new", "used"] = "new"
    depth_heel_mm: float | None = None
    depth_toe_mm: float | None = None
    addendum_mm: float | None = None
    supposed: tuple[str, ...] = ()


FINEST_STEP_MM = (
    0.01  # a dial's graduation: where no step is given, amounts are told as finely as they are read
)


@dataclass(frozen=True)
class PinionShim:
    """Where the depth shim sits and what is in the axle now.

    place: "behind_head" (thicker = pinion toward the ring-gear axis, deeper) or "under_cage"
    (thicker = away, shallower). thickness_mm: present pack. step_mm: the finest change the shop can make.
    sizes_mm: the packs that the shop can make, where its shims come in set sizes; empty where not given.
    """

    place: Literal["behind_head", "under_cage"] | None = None
    thickness_mm: float | None = None
    step_mm: float = FINEST_STEP_MM
    sizes_mm: tuple[float, ...] = ()


@dataclass(frozen=True)
class Carrier:
    """How the ring gear is moved sideways.

    kind: "side_shims" or "adjusters". ring_side_mm, opposite_side_mm: present side shims; the
    ring-gear side is the one behind the ring gear. ring_side_thicker_moves: which way more shim there
    moves the ring gear (usual: "toward" the pinion). step_mm: the finest change the shop can make.
    notch_mm: travel of the ring gear for one adjuster notch.
    """

    kind: Literal["side_shims", "adjusters"] = "side_shims"
    ring_side_mm: float | None = None
    opposite_side_mm: float | None = None
    ring_side_thicker_moves: Literal["toward", "away"] = "toward"
    step_mm: float = FINEST_STEP_MM
    notch_mm: float | None = None


@dataclass(frozen=True)
class Limits:
    """What this axle's manual gives; None where the user has not entered it. Never a default torque.

    backlash_mm: (least, most). backlash_spread_mm, ring_runout_mm: most allowed.
    pinion_preload_new_nm, pinion_preload_used_nm, total_preload_nm: (least, most) turning torque.
    unusable: what is wrong with those that an older version let into a book, a sentence each; they are None.
    """

    backlash_mm: Interval | None = None
    backlash_spread_mm: float | None = None
    ring_runout_mm: float | None = None
    pinion_preload_new_nm: Interval | None = None
    pinion_preload_used_nm: Interval | None = None
    total_preload_nm: Interval | None = None
    unusable: tuple[str, ...] = ()

    def refusal(self) -> AdviceError | None:
        """Why nothing is judged by these limits; None where they can be used."""
        if not self.unusable:
            return None
        return AdviceError(
            "limits-unusable",
            f"The job's axle file has limits that can't be: {' '.join(self.unusable)}",
            "Write the manual's into the axle file and give it to the job: "
            "contactread job correct JOB --axle FILE",
        )


@dataclass(frozen=True)
class EaseOff:
    """Relief of the pinion against the exact conjugate of the ring gear, mm normal to the flank.

    At the pinion point that meets ring-gear flank point (u, v) when both gears stand in their nominal
    places, metal is missing to the depth, on both flanks alike,

        lengthwise x² + profile y² + bias x y,   x = 2u - 1 (toe -1, heel +1), y = 2v - 1 (root -1, top +1).

    lengthwise: relief at the toe and heel ends, at mid-height. profile: at the root and top edges, at
    mid-length. bias: what is added at the heel-top and toe-root corners and taken away at the heel-root
    and toe-top corners; with bias > 0 the patch leans down toward the heel.
    """

    lengthwise_mm: float
    profile_mm: float
    bias_mm: float = 0.0


@dataclass(frozen=True)
class Axle:
    """One axle as its file describes it.

    rotation: "reverse" swaps the roles of the flanks (convex = coast). target: named choice of the
    wanted place of the pattern (`shared/` lists them with sources). name: free words of the user. ease_off:
    of both flanks, or of the convex one where ease_off_concave tells the other's.
    """

    gears: GearSet
    name: str = ""
    rotation: Literal["normal", "reverse"] = "normal"
    pinion_shim: PinionShim = field(default_factory=PinionShim)
    carrier: Carrier = field(default_factory=Carrier)
    limits: Limits = field(default_factory=Limits)
    ease_off: EaseOff | None = None
    ease_off_concave: EaseOff | None = None
    target: str = "toe_of_middle"

    def role(self, flank: FlankName) -> Role:
        """The role of a ring-gear flank in this axle: drive or coast."""
        return role_of(flank, self.rotation)


def role_of(flank: FlankName, rotation: Literal["normal", "reverse"] = "normal") -> Role:
    """convex drives in an axle of normal rotation; reverse rotation swaps the roles."""
    return "drive" if (flank == "convex") == (rotation == "normal") else "coast"
