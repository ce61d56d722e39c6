"""Fit a ring gear and a camera to marks on its teeth.

Eighteen numbers explain every mark on every tooth and say how each flank curves between its corners.
What the marks leave open is held by what ring gears usually are, or by the axle file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from contactread.arrays import Floats
from contactread.axle import Axle, FlankName, GearSet
from contactread.flank.flank import CORNER_UV
from contactread.flank.gear_refine import refined
from contactread.flank.gear_view import CAMERA, Gear, GearView, flank_points, project, turned

CORNER_U, CORNER_V = np.array(list(CORNER_UV.values())).T

# What ring gears of automotive axles usually are, in the order of `Gear`. Ratios of 2.7 to 5 give pitch
# angles of 69 to 79 degrees; the face is 0.3 of the outer cone distance; working heights follow from a whole
# depth near 1.9 modules, less the fillet; the ring gear's addendum is the smaller; cutters have 0.8 to 1.4
# mean cone distances; about 41 teeth. Common practice of the trade, from memory.
# The ends of the teeth are turned square to the pitch cone or lean by some degrees either way.
_USUAL: dict[Gear, tuple[float, float]] = {  # mean and spread
    Gear.PITCH_ANGLE: (np.radians(73), np.radians(3)),
    Gear.FACE_WIDTH: (0.345, 0.03),
    Gear.HEEL_HEIGHT: (0.095, 0.012),
    Gear.TOE_HEIGHT: (0.070, 0.010),
    Gear.ADDENDUM: (0.30, 0.06),
    Gear.SPIRAL: (np.radians(33), np.radians(4)),
    Gear.CUTTER_RADIUS: (1.10, 0.20),
    Gear.PRESSURE_ANGLE: (np.radians(21), np.radians(4)),
    Gear.TOE_LEAN: (0, 0.15),
    Gear.HEEL_LEAN: (0, 0.15),
    Gear.TOOTH_PITCH: (2 * np.pi / 41, 0.011),
}
USUAL, SPREAD = np.array([_USUAL[which] for which in Gear]).T
# A phone's main camera sees about 50 degrees across the long side; cropping and zooming change it.
FOCAL_SIDES, FOCAL_SPREAD = 1.1, 0.35

MOST_STEPS, _FEW_STEPS = 25, 6
_FITS = 0.5  # cost for each number of the marks: what marks as sure as they say leave on average
_RIVAL = 25.0  # a cost so much higher is out of the question (e to the minus 25)


@dataclass(frozen=True, eq=False)
class Prior:
    """What is known of the gear beforehand: mean and standard deviation, each (11,), in the order of `Gear`.

    advances: possible values of GearView.advance. Seen from the pinion's side, the teeth of a right-hand ring
    gear advance clockwise going outward.
    """

    mean: Floats
    spread: Floats
    advances: tuple[int, ...] = (1, -1)

    @classmethod
    def of(cls, axle: Axle | None) -> Prior:
        """The usual ring gear, narrowed by what the axle file gives."""
        mean, spread = USUAL.copy(), SPREAD.copy()
        if axle is None:
            return cls(mean, spread)
        gears = axle.gears

        def tell(which: Gear, value: float, sure: float) -> None:
            mean[which], spread[which] = value, sure

        if "ring_teeth" not in gears.supposed:
            tell(Gear.TOOTH_PITCH, 2 * np.pi / gears.ring_teeth, 1e-5)
        if gears.offset_mm == 0 and not gears.supposed:
            tell(Gear.PITCH_ANGLE, np.arctan2(gears.ring_teeth, gears.pinion_teeth), np.radians(1))
        outer = gears.ring_diameter_mm / 2 / np.sin(mean[Gear.PITCH_ANGLE])
        cone = outer - (gears.face_width_mm or 0.3 * outer) / 2
        if gears.face_width_mm and not gears.supposed:
            tell(Gear.FACE_WIDTH, gears.face_width_mm / cone, 0.01)
        if gears.spiral_deg:
            tell(Gear.SPIRAL, np.radians(gears.spiral_deg), np.radians(1))
        if gears.cutter_radius_mm and not gears.supposed:
            tell(Gear.CUTTER_RADIUS, _lengthwise_radius(gears, cone, mean) / cone, 0.03)
        if gears.pressure_angle_deg:
            mean[Gear.PRESSURE_ANGLE] = np.radians(gears.pressure_angle_deg)
        advances = {"right": (-1,), "left": (1,), None: (1, -1)}[gears.hand]
        return cls(mean, spread, advances)

    def untold(self) -> Prior | None:
        """The usual gear of this hand where an axle file tells how many teeth the gear has; else None."""
        told = self.spread[Gear.TOOTH_PITCH] < SPREAD[Gear.TOOTH_PITCH]
        return Prior(USUAL, SPREAD, self.advances) if told else None

    def strangeness(self, view: GearView) -> float:
        """By how many standard deviations the number farthest off misses what is known of the gear."""
        return float(np.abs((view.parameters[CAMERA:] - self.mean) / self.spread).max())


def _lengthwise_radius(gears: GearSet, cone: float, numbers: Floats) -> float:
    """Radius of curvature of the tooth along its length, mm: the cutter's where one blade sweeps a circle,
    that of the extended epicycloid where the gear turns along (ISO 23509, face hobbing: lead angle of the
    cutter and crown-gear angle eta). cone: mean cone distance, mm. numbers: as in Prior.mean."""
    cutter = gears.cutter_radius_mm or cone
    if gears.cutting != "face_hobbed" or not gears.cutter_groups:
        return cutter
    spiral, groups = numbers[Gear.SPIRAL], gears.cutter_groups
    crown = gears.ring_teeth / np.sin(numbers[Gear.PITCH_ANGLE])
    module = 2 * cone * np.cos(spiral) / crown
    lead = np.arcsin(min(1.0, groups * module / (2 * cutter)))
    centre = np.sqrt(cone**2 + cutter**2 - 2 * cone * cutter * np.sin(spiral - lead))
    eta = np.arccos(min(1.0, cone * np.cos(spiral) * (crown + groups) / (centre * crown)))
    slopes = np.tan(spiral) + np.tan(eta)
    return float(cone * np.cos(spiral) * (np.tan(spiral) + np.tan(eta) / (1 + np.tan(lead) * slopes)))


@dataclass(frozen=True, eq=False)
class Marks:
    """Where points of known place on the flank are seen, the same points on every tooth.

    u, v: (points,). places: (teeth, points, 2) pixels. weigh: (teeth, points, 2, 2); times a misfit in
    pixels it gives that misfit in standard deviations. A mark on an edge counts only across the edge; one
    that wasn't seen counts nothing.
    """

    u: Floats
    v: Floats
    places: Floats
    weigh: Floats

    @classmethod
    def at_corners(cls, corners: Floats, sigma: Floats) -> Marks:
        """Marks of (teeth, 4, 2) corners in the order of CORNER_UV; sigma: (teeth,) pixels."""
        return cls(CORNER_U, CORNER_V, corners, alike(np.repeat(sigma[:, None], 4, axis=1)))

    def of(self, teeth: NDArray[Any]) -> Marks:
        """The marks of some of the teeth (indices or a mask)."""
        return replace(self, places=self.places[teeth], weigh=self.weigh[teeth])

    def misfit(self, view: GearView) -> Floats:
        """Where the view puts each point, less its mark, pixels; (teeth, points, 2)."""
        return view.project(self.u, self.v) - self.places

    def weighed(self, view: GearView) -> Floats:
        """The misfit in standard deviations, (teeth, points, 2)."""
        return (self.weigh @ self.misfit(view)[..., None])[..., 0]

    def tempered(self, off: Floats, limit: float) -> Marks:
        """The marks with those that miss by more than `limit` deviations counting less (Huber); off: as
        `weighed` gives it."""
        far = np.sqrt((off**2).sum(axis=-1))
        return replace(self, weigh=self.weigh * np.sqrt(1 / np.maximum(1, far / limit))[..., None, None])


def alike(sigma: Floats) -> Floats:
    """Weights of marks that are as sure in every direction; sigma: (teeth, points) pixels."""
    return np.eye(2) / sigma[..., None, None]


def fit_views(
    marks: Marks,
    orders: Sequence[Floats],
    size: tuple[int, int],
    prior: Prior,
    likely: FlankName | None = None,
) -> list[GearView]:
    """The best view for each side of the tooth, best first: two, or fewer where one can't be seen so.

    orders: possible numbers of the teeth along the gear, each (teeth,), either way round. size: (width,
    height) of the picture. likely: the side that is probably seen; the other isn't tried if that one fits.
    """
    facing = _facing(marks)

    def start(flank: FlankName) -> GearView | None:
        advance = facing if flank == "concave" else -facing
        return _start(marks, orders, size, prior, advance, flank) if advance in prior.advances else None

    if likely is not None and (first := start(likely)) is not None:
        view = _refined(first, marks, prior, MOST_STEPS)
        if view.cost <= _FITS * marks.places.size:
            return [view]
    views: list[GearView] = []
    for first in sorted(filter(None, (start("convex"), start("concave"))), key=_cost):
        # The worse side is given up where a few steps don't bring it near the better one.
        view = _refined(first, marks, prior, _FEW_STEPS if views else MOST_STEPS)
        if views and view.cost < views[0].cost + _RIVAL:
            view = _refined(view, marks, prior, MOST_STEPS)
        views.append(view)
    return sorted(views, key=_cost)


def _facing(marks: Marks) -> int:
    """Which way the flanks face: +1 counter-clockwise, seen from the pinion's side, else -1.

    Toe to heel and root to top turn one way round on a flank that faces one way, since only its outside
    can be seen; the picture's y runs down.
    """
    plane = np.linalg.pinv(np.stack([np.ones_like(marks.u), marks.u, marks.v], axis=1))
    _, along, up = np.moveaxis(plane @ marks.places, 1, 0)
    turn = along[:, 0] * up[:, 1] - along[:, 1] * up[:, 0]
    return 1 if turn.sum() > 0 else -1


def _cost(view: GearView) -> float:
    return view.cost


def sharpen(view: GearView, marks: Marks, prior: Prior) -> GearView:
    """The view fitted again, with other teeth or another estimate of how steady the marks are."""
    return _refined(view, marks, prior, MOST_STEPS)


def numbered(view: GearView, marks: Marks) -> GearView:
    """The view with these teeth, each given the number along the gear that fits its marks best."""
    most = int(np.pi / view.number(Gear.TOOTH_PITCH)) + 1
    first = view.teeth[0] % 1
    numbers = first + np.arange(-most, most + 1)
    places = replace(view, teeth=numbers).project(marks.u, marks.v)
    misfit = ((places[None] - marks.places[:, None]) ** 2).sum(axis=(2, 3))
    return replace(view, teeth=numbers[np.argmin(misfit, axis=1)])


def _start(
    marks: Marks,
    orders: Sequence[Floats],
    size: tuple[int, int],
    prior: Prior,
    advance: int,
    flank: FlankName,
) -> GearView | None:
    """A camera for the expected gear, with the best order that can be seen; its cost is the mean squared
    misfit in pixels."""
    parameters = np.concatenate([np.zeros(CAMERA), prior.mean])
    focal, centre = FOCAL_SIDES * max(size), ((size[0] - 1) / 2, (size[1] - 1) / 2)
    lens = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1]])
    points = flank_points(parameters[None], marks.u, marks.v, advance, flank)
    views = []
    for teeth in (way * (order - order.mean()) for order in orders for way in (1, -1)):
        angles = (teeth * prior.mean[Gear.TOOTH_PITCH])[None]
        found, turn, place = cv2.solvePnP(
            turned(points, angles).reshape(-1, 3),
            marks.places.reshape(-1, 2),
            lens,
            None,
            flags=cv2.SOLVEPNP_SQPNP,
        )
        if not found or not (np.isfinite(turn).all() and np.isfinite(place).all()):
            continue
        camera = np.array([np.log(focal), *turn.ravel(), *place.ravel()])
        misfit = project(camera[None], points, angles, centre)[0] - marks.places
        parameters = np.concatenate([camera, prior.mean])
        views.append(GearView(parameters, advance, flank, centre, teeth, float(np.mean(misfit**2))))
    return next((view for view in sorted(views, key=_cost) if view.faces_camera().any()), None)


def _refined(view: GearView, marks: Marks, prior: Prior, steps: int) -> GearView:
    """The view fitted to the marks, held toward a usual camera and the gear that is expected."""
    pose = CAMERA - 1
    mean = np.concatenate([[np.log(FOCAL_SIDES * 2 * max(view.centre_px))], np.zeros(pose), prior.mean])
    spread = np.concatenate([[FOCAL_SPREAD], np.full(pose, np.inf), prior.spread])
    return refined(view, marks.u, marks.v, marks.places, marks.weigh, mean, spread, steps)
