"""The gap between a relieved pinion and the ring gear, at any place of the two gears.

The pinion is the exact conjugate of the ring gear in its nominal place, relieved by `EaseOff`. In a displaced
place the ring gear would need another conjugate; the distance from that one to the actual pinion flank is the
gap field ("ease-off" of the displaced pair). It is computed from the two surfaces themselves, not from a
linear formula, so the shift of the contact point on both members is in it. DERIVATION.md, sections 4 and 5.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from contactread.arrays import Floats, median
from contactread.axle import EaseOff, FlankName
from contactread.errors import MechanicsError
from contactread.mesh.blank import Blank
from contactread.mesh.chebyshev import Axis, Field
from contactread.mesh.kinematics import Assembly, Displacement, assemblies, assembly, ring_lever
from contactread.mesh.ring_flank import RingFlank

# The pinion flank is carried somewhat past the ring gear's edges: a displaced contact point leaves them.
_MARGIN_U, _MARGIN_V = 0.08, 0.12
_STEP = 0.004  # rad of ring-gear turn, for derivatives along the roll
_MOST_FURTHER = 0.01  # rad
_U, _V = Axis(0.0, 1.0, 12), Axis(0.0, 1.0, 8)
_WIDE_U, _WIDE_V = Axis(-_MARGIN_U, 1 + _MARGIN_U, 14), Axis(-_MARGIN_V, 1 + _MARGIN_V, 10)


@dataclass(frozen=True)
class Gap:
    """The gap field of one flank pair at the nodes of the flank: (12, 8), or for k places (k, 12, 8).

    roll: ring turn at which the point comes nearest to the pinion, rad. gap: mm along the normal there,
    positive = apart, after the ring gear has been turned by `closed` (rad) into the pinion. pinion_v: where
    on the pinion flank it faces, in the height coordinate of the ring-gear point that is its nominal
    partner; below 0 the pinion has ended (its tip).
    """

    roll: Floats
    gap: Floats
    pinion_v: Floats
    closed: Floats


def relief(ease_off: EaseOff, u: Floats, v: Floats) -> Floats:
    """Relief of the pinion, mm, at the nominal partner (u, v); see `contactread.axle.EaseOff`."""
    x, y = 2 * u - 1, 2 * v - 1
    return ease_off.lengthwise_mm * x * x + ease_off.profile_mm * y * y + ease_off.bias_mm * x * y


class FlankPair:
    """One ring-gear flank with its pinion flank. Built once; `gaps` then takes under a millisecond
    a place.

    lever: of the flank normal about the ring axis at the nodes, mm (always positive). spread: area of the
    pinion flank per area of the ring-gear flank, against mid-flank; below 0 the pinion is undercut there
    (a corner of few-tooth pinions), and nothing can touch. bend: second derivative by the roll angle of
    gap / lever at a flank point, middle of the flank, 1/rad.
    Raises MechanicsError `no-conjugate` where a fifth of the pinion flank would be undercut.
    """

    u_axis, v_axis = _U, _V

    def __init__(self, blank: Blank, flank: FlankName) -> None:
        self.blank = replace(blank, hand="left")  # mirror images mesh alike
        self.flank = flank
        ring = RingFlank(self.blank, flank)
        self._u, self._v = (g.ravel() for g in np.meshgrid(_U.nodes(), _V.nodes(), indexing="ij"))
        wide_u, wide_v = (g.ravel() for g in np.meshgrid(_WIDE_U.nodes(), _WIDE_V.nodes(), indexing="ij"))
        points, normals = ring.points_and_normals(
            np.concatenate([self._u, wide_u]), np.concatenate([self._v, wide_v])
        )
        count = self._u.size
        self._points, self._normals = points[:count], normals[:count]
        lever = ring_lever(self._points, self._normals)
        self._side, self._lever = float(np.sign(lever.mean())), np.abs(lever)
        self.lever = self._lever.reshape(_U.count, _V.count)
        self._surface, self._facing = self._conjugate(points[count:], normals[count:])
        self._at_nodes = self._surface(self._u, self._v)
        area, middle = self._area(self._u, self._v), self._area(np.array([0.5]), np.array([0.5]))
        self._least_area = 0.2 * float(np.abs(middle)[0])
        spread = area / middle
        if (spread < 0).mean() > 0.2:
            raise _no_conjugate()
        self.spread = spread.reshape(_U.count, _V.count)
        self._sound = spread > 0
        self._by_u, self._by_v = _U.derivative(), _V.derivative().T
        self._sliding = self._slide()
        self.bend = float(median(self._sliding[2] / self.lever))
        # Draws that differ in relief alone ask for the same places again and again.
        self._unrelieved = lru_cache(maxsize=2)(self._facing_at)

    def _conjugate(self, points: Floats, normals: Floats) -> tuple[Field, Field]:
        """The nominal pinion flank from the wide nodes of the ring flank, (n, 3) each: point and both
        tangents as one field of 9 components, point and normal as one of 6.
        """
        nominal = assembly(self.blank)
        roll = nominal.roll(points, normals)
        if not np.isfinite(roll).all():
            raise _no_conjugate()
        shape = (_WIDE_U.count, _WIDE_V.count, 3)
        place = nominal.to_pinion(points, roll, nominal.origin).reshape(shape)
        normal = nominal.to_pinion(normals, roll).reshape(shape)
        by_u = np.tensordot(_WIDE_U.derivative(), place, 1)
        by_v = _WIDE_V.derivative() @ place
        surface = Field(_WIDE_U, _WIDE_V, np.concatenate([place, by_u, by_v], axis=-1))
        return surface, Field(_WIDE_U, _WIDE_V, np.concatenate([place, normal], axis=-1))

    def _area(self, u: Floats, v: Floats) -> Floats:
        """Pinion flank area per (u, v) area; of another sign than at mid-flank where it is undercut."""
        surface = self._surface(u, v)
        return _dot(np.cross(surface[:, 3:6], surface[:, 6:]), self._facing(u, v)[:, 3:])

    def _slide(self) -> tuple[Floats, Floats, Floats]:
        """How a ring-gear point leaves its pinion partner as the gears roll on, in the nominal place.

        Partner's speed (u, v) per radian of ring-gear turn, and the bend of the gap, mm per rad², at the
        nodes.
        """
        place = assembly(self.blank)
        roll = place.roll(self._points, self._normals)
        both_ways = roll + np.array([[_STEP], [-_STEP]])
        u, v, apart = self._foot(place.to_pinion(self._points, both_ways, place.origin))
        speed_u, speed_v = ((x[0] - x[1]) / (2 * _STEP) for x in (u, v))
        bend = (apart[0] + apart[1]) / _STEP**2
        bend = np.maximum(bend, 0.2 * median(bend))
        shape = (_U.count, _V.count)
        return speed_u.reshape(shape), speed_v.reshape(shape), bend.reshape(shape)

    def gap(self, ease_off: EaseOff, at: Displacement) -> Gap:
        """The gap field with the gears displaced by `at`: see `gaps`."""
        one = self.gaps(ease_off, [at])
        return Gap(one.roll[0], one.gap[0], one.pinion_v[0], one.closed[0])

    def gaps(self, ease_off: EaseOff, places: Sequence[Displacement]) -> Gap:
        """The gap fields with the gears displaced, once they have been turned (nearly) into touch.

        Closing a tenth of a millimetre moves the contact on both members as any other displacement does,
        so the field is taken with the pinion turned back by as much as closes it.
        """
        # First roughly, to learn how far to close; then from the closed place, the feet nearly known.
        place, roll, (u, v, distance) = self._unrelieved(tuple(places))
        closed = ((distance + relief(ease_off, u, v)) / self._lever)[:, self._sound].min(axis=1)
        u, v, gap = self._apart(place, roll, closed[:, None], ease_off, (u, v))
        shape = (len(places), _U.count, _V.count)
        gap, roll = gap.reshape(shape), roll.reshape(shape)
        # A ring-gear point comes nearest a little before or after its contact line, where its partner on the
        # pinion is less relieved: least of gap + slope x + bend x²/2 over a further roll x.
        speed_u, speed_v, bend = self._sliding
        slope = self._by_u @ gap * speed_u + gap @ self._by_v * speed_v
        further = np.clip(-slope / bend, -_MOST_FURTHER, _MOST_FURTHER)
        return Gap(roll + further, gap + further * (slope + bend * further / 2), v.reshape(shape), closed)

    def _facing_at(
        self, places: tuple[Displacement, ...]
    ) -> tuple[Assembly, Floats, tuple[Floats, Floats, Floats]]:
        """What doesn't hang on the relief: the gears at these places, the ring turn of each point, and its
        foot point and distance on the pinion as it would be without relief.
        """
        place = assemblies(self.blank, places)
        roll = place.roll(self._points, self._normals)
        if not np.isfinite(roll).all():
            raise _no_conjugate()
        return place, roll, self._foot(place.to_pinion(self._points, roll, place.origin, roll), rounds=2)

    def _apart(
        self,
        place: Assembly,
        roll: Floats,
        closed: Floats,
        ease_off: EaseOff,
        near: tuple[Floats, Floats] | None = None,
    ) -> tuple[Floats, Floats, Floats]:
        """Foot points (u, v) and gap at ring turn `roll`, the pinion left behind by `closed`."""
        needed = place.to_pinion(self._points, roll, place.origin, roll - self._side * closed)
        u, v, distance = self._foot(needed, near, rounds=2)
        return u, v, distance + relief(ease_off, u, v)

    def _foot(
        self, needed: Floats, near: tuple[Floats, Floats] | None = None, rounds: int = 3
    ) -> tuple[Floats, Floats, Floats]:
        """Foot points (u, v) on the nominal pinion flank of `needed` (..., n, 3), and the distance along the
        normal from `needed` to it, positive away from the ring gear's flank. near: where to start."""
        shape = needed.shape[:-1]
        u, v = (np.broadcast_to(x, shape).ravel() for x in near or (self._u, self._v))
        needed = needed.reshape(-1, 3)
        if near is None:  # the first step starts from the same points each time
            surface = np.tile(self._at_nodes.T, len(needed) // len(self._u)).T
        else:
            surface = self._surface(u, v)
        for left in reversed(range(rounds)):
            apart = needed - surface[:, :3]
            by_u, by_v = surface[:, 3:6], surface[:, 6:]
            uu, uv, vv = _dot(by_u, by_u), _dot(by_u, by_v), _dot(by_v, by_v)
            eu, ev = _dot(apart, by_u), _dot(apart, by_v)
            # Near an undercut corner the pinion flank folds; the floor keeps the step bounded there.
            det = np.maximum(uu * vv - uv * uv, self._least_area**2)
            u = u + (vv * eu - uv * ev) / det
            v = v + (uu * ev - uv * eu) / det
            u = np.clip(u, -_MARGIN_U, 1 + _MARGIN_U)
            v = np.clip(v, -_MARGIN_V, 1 + _MARGIN_V)
            if left:
                surface = self._surface(u, v)
        facing = self._facing(u, v)
        distance = _dot(facing[:, :3] - needed, facing[:, 3:])
        return u.reshape(shape), v.reshape(shape), distance.reshape(shape)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("nm,nm->n", a, b))


def _no_conjugate() -> MechanicsError:
    return MechanicsError(
        "no-conjugate",
        "With these numbers the pinion would have no whole tooth flank to run with this ring gear.",
        "Check the offset, spiral angle, pressure angle and cutter radius in the axle file; leave out what "
        "you don't know for certain.",
    )
