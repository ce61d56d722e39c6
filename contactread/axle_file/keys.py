"""Every key of the axle file: what it means, what it may hold, and where it goes in `Axle`.

Reading, writing, the template and the error messages are all made from this one table.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from contactread.axle import Cutting, Hand
from contactread.facts import facts
from contactread.plausible import LEAST_BACKLASH_MM, MOST_BACKLASH_MM, MOST_SWING_MM

Kind = Literal["length", "torque", "angle", "count", "choice", "text"]


@dataclass(frozen=True)
class Key:
    """One key.

    name: as in the file. field: of the record in `contactread.axle`. kind: what its value is. example:
    TOML text for the template. help: comment lines for the template. least, most: allowed range in mm,
    N·m or degrees, or as a count. choices: allowed words. pair: a list [least, most]. apart: how far
    these are apart at least. many: a list of any length. required: the file is refused without it.
    """

    name: str
    field: str
    kind: Kind
    example: str
    help: str
    least: float = 0.0
    most: float = float("inf")
    choices: tuple[str, ...] = ()
    pair: bool = False
    apart: float = 0.0
    many: bool = False
    required: bool = False


@dataclass(frozen=True)
class Table:
    """One table of the file. name: as in the file, "" for the keys above all tables. field: of `Axle`."""

    name: str
    field: str
    help: str
    keys: tuple[Key, ...]
    optional: bool = False


def tables() -> tuple[Table, ...]:
    """The whole file, in the order of the template."""
    return (_TOP, _GEARS, _PINION_SHIM, _CARRIER, _LIMITS, _EASE_OFF, _EASE_OFF_CONCAVE)


_TOP = Table(
    "", "", "",
    (
        Key("name", "name", "text", '"Bench axle 3, rear"', "Your own words for this axle."),
        Key("rotation", "rotation", "choice", '"normal"',
            "normal: the convex flanks of the ring gear drive the vehicle forward (most axles).\n"
            "reverse: the concave flanks do (a reverse-rotation set).",
            choices=("normal", "reverse")),
        Key("target", "target", "choice", '"toe_of_middle"',
            "Where the pattern is wanted. Manuals differ; take what yours says:\n"
            + "\n".join(f"{name}: {place['says']}" for name, place in facts("targets").items()),
            choices=tuple(facts("targets"))),
    ),
)  # fmt: skip

_GEARS = Table(
    "gears", "gears",
    "The ring gear and the pinion. What you leave out is estimated, and shown as an estimate.\n"
    "Without the teeth and the diameter every amount is a rough guess over axles of cars and light trucks.",
    (
        Key("pinion_teeth", "pinion_teeth", "count", "11", "Teeth of the pinion: count them.", 4, 40),
        Key("ring_teeth", "ring_teeth", "count", "41", "Teeth of the ring gear: count them.",
            15, 150),
        Key("ring_diameter", "ring_diameter_mm", "length", '"222 mm"',
            "Diameter of the ring gear over its outer (heel) end.", 40, 2000),
        Key("cutting", "cutting", "choice", '"face_milled"',
            "How the teeth were cut. face_milled: tooth height falls from heel to toe (tapered).\n"
            "face_hobbed: the same tooth height from heel to toe (uniform).\n"
            "The two answer a shim differently. Measure the height at both ends, or write unknown.",
            choices=get_args(Cutting)),
        Key("condition", "condition", "choice", '"new"',
            "new: a new set. used: a set that has run; it is judged by its own rules.",
            choices=("new", "used")),
        Key("hand", "hand", "choice", '"right"',
            "Hand of the ring gear's spiral. Look onto its teeth: right where the outer (heel) ends\n"
            "lean clockwise, left where they lean the other way.",
            choices=get_args(Hand)),
        Key("face_width", "face_width_mm", "length", '"34 mm"',
            "Length of a ring-gear tooth from toe to heel.", 2, 400),
        Key("offset", "offset_mm", "length", '"38 mm"',
            "Distance of the pinion's axis below or above the ring gear's axis; \"0 mm\" where they meet.",
            0, 300),
        Key("spiral_angle", "spiral_deg", "angle", '"33 deg"', "Mean spiral angle of the ring gear.", 0, 60),
        Key("pressure_angle", "pressure_angle_deg", "angle", '"20 deg"',
            "Pressure angle, the mean of both flanks.", 10, 35),
        Key("cutter_radius", "cutter_radius_mm", "length", '"95 mm"',
            "Radius of the cutter that made the ring gear, if you know it.", 15, 1000),
        Key("cutter_groups", "cutter_groups", "count", "13",
            "Blade groups of the cutter, for a face-hobbed set.", 1, 31),
        Key("depth_heel", "depth_heel_mm", "length", '"12.5 mm"',
            "Whole height of a ring-gear tooth at its heel: a depth gauge. With depth_toe it tells how\n"
            "the set was cut, where cutting is unknown.", 1, 150),
        Key("depth_toe", "depth_toe_mm", "length", '"8.5 mm"', "The same at the toe.", 1, 150),
        Key("addendum", "addendum_mm", "length", '"2.6 mm"',
            "Addendum of the ring gear at mid-tooth, from its maker's data.", 0.1, 60),
    ),
)  # fmt: skip

_STEP = " Left out:\n0.01 mm, or 1 thou where the shim in the axle now is given in inches."

_PINION_SHIM = Table(
    "pinion_shim", "pinion_shim",
    "The shim that sets pinion depth.",
    (
        Key("place", "place", "choice", '"behind_head"',
            "behind_head: between the pinion's head (or its inner bearing cup) and the housing;\n"
            "  thicker moves the pinion toward the ring gear's axis (deeper).\n"
            "under_cage: between the pinion's bearing cage and the housing;\n"
            "  thicker moves the pinion away (shallower).",
            choices=("behind_head", "under_cage")),
        Key("thickness", "thickness_mm", "length", '"0.034 in"', "The shim or pack in the axle now.", 0, 30),
        Key("step", "step_mm", "length", '"0.05 mm"', "The finest change of shim that you can make." + _STEP,
            0.001, 2),
        Key("sizes", "sizes_mm", "length", '["0.80 mm", "0.85 mm", "0.90 mm"]',
            "The packs that you can make, where your shims come in set sizes: amounts keep to these.",
            0, 30, many=True),
    ),
)  # fmt: skip

_CARRIER = Table(
    "carrier", "carrier",
    "How the ring gear is moved sideways, which sets backlash.",
    (
        Key("kind", "kind", "choice", '"side_shims"', "side_shims, or adjusters for threaded rings.",
            choices=("side_shims", "adjusters")),
        Key("ring_side", "ring_side_mm", "length", '"0.244 in"',
            "Shim in the axle now on the ring gear's side, behind the ring gear.", 0, 50),
        Key("opposite_side", "opposite_side_mm", "length", '"0.279 in"',
            "Shim in the axle now on the other side.", 0, 50),
        Key("ring_side_thicker_moves", "ring_side_thicker_moves", "choice", '"toward"',
            "Where a thicker shim on the ring gear's side moves the ring gear: toward the pinion\n"
            "(most axles) or away.",
            choices=("toward", "away")),
        Key("step", "step_mm", "length", '"0.05 mm"',
            "The finest change of side shim that you can make." + _STEP, 0.001, 2),
        Key("notch", "notch_mm", "length", '"0.03 mm"',
            "Travel of the ring gear for one notch of the adjuster.", 0.002, 2),
    ),
)  # fmt: skip

_LIMITS = Table(
    "limits", "limits",
    "What the axle maker's manual allows. What you leave out isn't checked, but for backlash: where no\n"
    "limits are given, 6 to 10 thousandths are taken, which is common practice.",
    (
        Key("backlash", "backlash_mm", "length", '["least thou", "most thou"]',
            "Least and most backlash at the dial.", LEAST_BACKLASH_MM, MOST_BACKLASH_MM,
            pair=True, apart=0.01),
        Key("backlash_spread", "backlash_spread_mm", "length", '"most thou"',
            "Most difference of backlash round the ring gear.", 0, MOST_SWING_MM),
        Key("ring_runout", "ring_runout_mm", "length", '"most thou"',
            "Most runout of the ring gear's back face.", 0, MOST_SWING_MM),
        Key("pinion_preload_new", "pinion_preload_new_nm", "torque", '["least in-lb", "most in-lb"]',
            "Turning torque of the pinion alone, with new bearings.", 0, 100, pair=True),
        Key("pinion_preload_used", "pinion_preload_used_nm", "torque", '["least in-lb", "most in-lb"]',
            "Turning torque of the pinion alone, with used bearings.", 0, 100, pair=True),
        Key("total_preload", "total_preload_nm", "torque", '["least in-lb", "most in-lb"]',
            "Turning torque of the whole assembly at the pinion.", 0, 200, pair=True),
    ),
)  # fmt: skip

_RELIEF = (
    Key("lengthwise", "lengthwise_mm", "length", '"0.05 mm"',
        "Relief at the toe and heel ends, at mid-height.", 0, 1, required=True),
    Key("profile", "profile_mm", "length", '"0.02 mm"',
        "Relief at the root and top edges, at mid-length.", 0, 1, required=True),
    Key("bias", "bias_mm", "length", '"0 mm"',
        "Relief added at two opposite corners and taken off the other two.", -1, 1),
)  # fmt: skip

_EASE_OFF = Table(
    "ease_off", "ease_off",
    "Relief of the pinion's flanks against exact mates, square to the flank; only where it is known\n"
    "(from a gear maker's data or a measurement). Otherwise it is told from the size of the pattern.",
    _RELIEF,
    optional=True,
)  # fmt: skip

_EASE_OFF_CONCAVE = Table(
    "ease_off_concave", "ease_off_concave",
    "The same against the concave flank of the ring gear, where it differs; [ease_off] is then against\n"
    "the convex one.",
    _RELIEF,
    optional=True,
)  # fmt: skip
