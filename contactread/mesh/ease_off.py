"""The gap between a relieved pinion and the ring gear, at any place of the two gears.

The pinion is the exact conjugate of the ring gear in its nominal place, relieved by `EaseOff`. In a displaced
place the ring gear would need another conjugate; the distance from that one to the actual pinion flank is the
gap field ("ease-off" of the displaced pair). It is computed from the two surfaces themselves, not from a
linear formula, so the shift of the contact point on both members is in it. DERIVATION.md, sections 4 and 5.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from contactread.axle import EaseOff, FlankName
from contactread.errors import MechanicsError
from contactread.mesh.blank import Blank
from contactread.mesh.chebyshev import Axis, Field
from contactread.mesh.kinematics import Assembly, Displacement, assembly, ring_lever
from contactread.mesh.ring_flank import RingFlank

Floats = NDArray[np.float64]

# The pinion flank is carried somewhat past the ring gear's edges: a displaced contact point leaves them.
_MARGIN_U, _MARGIN_V = 0.08, 0.12
_STEP = 0.004  # rad of ring-gear turn, for derivatives along the roll
_MOST_FURTHER = 0.01  # rad
_U, _V = Axis(0.0, 1.0, 12), Axis(0.0, 1.0, 8)
_WIDE_U, _WIDE_V = Axis(-_MARGIN_U, 1 + _MARGIN_U, 14), Axis(-_MARGIN_V, 1 + _MARGIN_V, 10)


@dataclass(frozen=True)
class Gap:
    """The gap field of one flank pair in one place, at the nodes (12, 8) of the flank.

    roll: ring turn at which the point comes nearest to the pinion, rad. gap: mm along the normal there,
    positive = apart, after the ring gear has been turned by `closed` (rad) into the pinion. pinion_v: where
    on the pinion flank it faces, in the height coordinate of the ring-gear point that is its nominal
    partner; below 0 the pinion has ended (its tip).
    """

    roll: Floats
    gap: Floats
    pinion_v: Floats
    closed: float


def relief(ease_off: EaseOff, u: Floats, v: Floats) -> Floats:
    """Relief of the pinion, mm, at the nominal partner (u, v); see `contactread.axle.EaseOff`."""
    x, y = 2 * u - 1, 2 * v - 1
    return ease_off.lengthwise_mm * x * x + ease_off.profile_mm * y * y + ease_off.bias_mm * x * y


class FlankPair:
    """One ring-gear flank with its pinion flank. Built once; `gap` then takes under a millisecond.

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
        self._points, self._normals = ring.points_and_normals(self._u, self._v)
        lever = ring_lever(self._points, self._normals)
        self._side, self._lever = float(np.sign(lever.mean())), np.abs(lever)
        self.lever = self._lever.reshape(_U.count, _V.count)
        self._pinion = self._conjugate(ring)
        spread = self._spread(self._u, self._v)
        if (spread < 0).mean() > 0.2:
            raise _no_conjugate()
        self.spread = spread.reshape(_U.count, _V.count)
        self._sound = spread > 0
        mid = self._pinion(np.array([0.5]), np.array([0.5]))[0]
        self._least_area = 0.2 * float(np.linalg.norm(np.cross(mid[6:9], mid[9:])))
        self._by_u, self._by_v = _U.derivative(), _V.derivative().T
        self._sliding = self._slide()
        self.bend = float(np.median(self._sliding[2] / self.lever))

    def _conjugate(self, ring: RingFlank) -> Field:
        """The nominal pinion flank: point, normal and both tangents as one field of 12 components."""
        u, v = np.meshgrid(_WIDE_U.nodes(), _WIDE_V.nodes(), indexing="ij")
        points, normals = ring.points_and_normals(u, v)
        nominal = assembly(self.blank)
        roll = nominal.roll(points, normals)
        if not np.isfinite(roll).all():
            raise _no_conjugate()
        place = nominal.to_pinion(points, roll, nominal.origin)
        normal = nominal.to_pinion(normals, roll)
        by_u = np.einsum("ai,ijm->ajm", _WIDE_U.derivative(), place)
        by_v = np.einsum("bj,ijm->ibm", _WIDE_V.derivative(), place)
        return Field(_WIDE_U, _WIDE_V, np.concatenate([place, normal, by_u, by_v], axis=-1))

    def _spread(self, u: Floats, v: Floats) -> Floats:
        """Pinion flank area per (u, v) area against that at mid-flank; 0 and below: undercut."""
        pinion = self._pinion(np.append(u, 0.5), np.append(v, 0.5))
        facing = _dot(np.cross(pinion[:, 6:9], pinion[:, 9:]), pinion[:, 3:6])
        return np.asarray(facing[:-1] / facing[-1])

    def _slide(self) -> tuple[Floats, Floats, Floats]:
        """How a ring-gear point leaves its pinion partner as the gears roll on, in the nominal place.

        Partner's speed (u, v) per radian of ring-gear turn, and the bend of the gap, mm per rad², at the
        nodes.
        """
        place = assembly(self.blank)
        roll = place.roll(self._points, self._normals)
        ahead, behind = (
            self._foot(place.to_pinion(self._points, roll + step, place.origin)) for step in (_STEP, -_STEP)
        )
        speed_u, speed_v = ((ahead[k] - behind[k]) / (2 * _STEP) for k in (0, 1))
        bend = (ahead[2] + behind[2]) / _STEP**2
        bend = np.maximum(bend, 0.2 * np.median(bend))
        shape = (_U.count, _V.count)
        return speed_u.reshape(shape), speed_v.reshape(shape), bend.reshape(shape)

    def gap(self, ease_off: EaseOff, at: Displacement) -> Gap:
        """The gap field with the gears displaced by `at`, once they have been turned (nearly) into touch.

        Closing a tenth of a millimetre moves the contact on both members as any other displacement does,
        so the field is taken with the pinion turned back by as much as closes it.
        """
        place = assembly(self.blank, at)
        roll = place.roll(self._points, self._normals)
        if not np.isfinite(roll).all():
            raise _no_conjugate()
        # First roughly, to learn how far to close; then from the closed place, the feet nearly known.
        u, v, gap = self._apart(place, roll, 0.0, ease_off, (self._u, self._v), 2)
        closed = float((gap / self._lever)[self._sound].min())
        u, v, gap = self._apart(place, roll, closed, ease_off, (u, v), 2)
        shape = (_U.count, _V.count)
        gap, roll = gap.reshape(shape), roll.reshape(shape)
        # A ring-gear point comes nearest a little before or after its contact line, where its partner on the
        # pinion is less relieved: least of gap + slope x + bend x²/2 over a further roll x.
        speed_u, speed_v, bend = self._sliding
        slope = self._by_u @ gap * speed_u + gap @ self._by_v * speed_v
        further = np.clip(-slope / bend, -_MOST_FURTHER, _MOST_FURTHER)
        return Gap(roll + further, gap + further * (slope + bend * further / 2), v.reshape(shape), closed)

    def _apart(
        self,
        place: Assembly,
        roll: Floats,
        closed: float,
        ease_off: EaseOff,
        near: tuple[Floats, Floats],
        rounds: int,
    ) -> tuple[Floats, Floats, Floats]:
        """Foot points (u, v) and gap at ring turn `roll`, the pinion left behind by `closed`."""
        needed = place.to_pinion(self._points, roll, place.origin, roll - self._side * closed)
        u, v, distance = self._foot(needed, near, rounds)
        return u, v, distance + relief(ease_off, u, v)

    def _foot(
        self, needed: Floats, near: tuple[Floats, Floats] | None = None, rounds: int = 3
    ) -> tuple[Floats, Floats, Floats]:
        """Foot points (u, v) on the nominal pinion flank of `needed` (n, 3), and the distance along the
        normal from `needed` to it, positive away from the ring gear's flank. near: where to start."""
        u, v = near or (self._u, self._v)
        for _ in range(rounds):
            pinion = self._pinion(u, v)
            apart = needed - pinion[:, :3]
            by_u, by_v = pinion[:, 6:9], pinion[:, 9:]
            uu, uv, vv = _dot(by_u, by_u), _dot(by_u, by_v), _dot(by_v, by_v)
            eu, ev = _dot(apart, by_u), _dot(apart, by_v)
            # Near an undercut corner the pinion flank folds; the floor keeps the step bounded there.
            det = np.maximum(uu * vv - uv * uv, self._least_area**2)
            u = u + (vv * eu - uv * ev) / det
            v = v + (uu * ev - uv * eu) / det
            u = np.clip(u, -_MARGIN_U, 1 + _MARGIN_U)
            v = np.clip(v, -_MARGIN_V, 1 + _MARGIN_V)
        pinion = self._pinion(u, v)
        return u, v, _dot(pinion[:, :3] - needed, pinion[:, 3:6])


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("nm,nm->n", a, b))


def _no_conjugate() -> MechanicsError:
    return MechanicsError(
        "no-conjugate",
        "With these numbers the pinion would have no whole tooth flank to run with this ring gear.",
        "Check the offset, spiral angle, pressure angle and cutter radius in the axle file; leave out what "
        "you don't know for certain.",
    )
