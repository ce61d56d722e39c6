"""The answer of one gear set to its shims: patterns and backlash for any place of the gears."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from functools import cache, cached_property
from math import cos, pi, sin, sqrt

import numpy as np

from contactread.arrays import Floats
from contactread.axle import FLANKS, Axle, EaseOff, FlankName
from contactread.mesh.blank import Blank, blank_of
from contactread.mesh.closing import closings
from contactread.mesh.coverage import coverage
from contactread.mesh.ease_off import FlankPair
from contactread.mesh.estimate import GearInputs
from contactread.mesh.kinematics import Displacement
from contactread.mesh.proportions import Proportions
from contactread.patch import Patch, measure

FILM_MM = 0.00635  # thickness of the compound: E1 of shared/sources.toml, from memory
CELLS = (96, 32)  # flank cells along u and v
_LINES = (41, 25)  # points for the contact lines, edges included


@dataclass(frozen=True)
class Prediction:
    """Both patterns and the backlash at one place of the gears.

    convex, concave: patch on that ring-gear flank; None where nothing touches. backlash_change_mm: against
    the nominal place, as a dial indicator reads it: pinion held, plunger square to the tooth's length at
    the heel. normal_backlash_change_mm: normal to the flank at the mean point.
    """

    convex: Patch | None
    concave: Patch | None
    backlash_change_mm: float
    normal_backlash_change_mm: float

    def patch(self, flank: FlankName) -> Patch | None:
        """The patch of one flank."""
        return self.convex if flank == "convex" else self.concave

    @property
    def measures(self) -> Floats:
        """Both centres (convex u, v, concave u, v; NaN where a flank doesn't touch) and the change of
        backlash at the dial, mm: (5,)."""
        nowhere = np.nan, np.nan
        convex, concave = (patch.centre if patch else nowhere for patch in (self.convex, self.concave))
        return np.array([*convex, *concave, self.backlash_change_mm])


@dataclass(frozen=True)
class _Look:
    """One flank pair at one place. room: remaining gap on the cells once the carrying pair touches, mm.
    there: share of each cell that the pinion flank reaches. closed: mean turn of the ring gear (rad) until
    the flanks touch."""

    room: Floats
    there: Floats
    closed: float


class _FlankReader:
    """One flank pair with what is needed to turn its gap field into a patch."""

    def __init__(self, blank: Blank, flank: FlankName) -> None:
        self.pair = FlankPair(blank, flank)
        self._cells, self._lines = _readers()
        self._lever = self._on_cells(self.pair.lever)
        self._whole = self._on_cells(self.pair.spread) > 0
        self._lines_undercut = self._on_lines(self.pair.spread) <= 0

    def _on_cells(self, values: Floats) -> Floats:
        return self._cells[0] @ values @ self._cells[1]

    def _on_lines(self, values: Floats) -> Floats:
        return self._lines[0] @ values @ self._lines[1]

    def looks(self, ease_off: EaseOff, places: Sequence[Displacement], pitch: float) -> list[_Look]:
        """The pair at each place of the gears."""
        gap = self.pair.gaps(ease_off, places)
        turn = self._on_lines(gap.gap / self.pair.lever)
        beyond = (self._on_lines(gap.pinion_v) < -1e-6) | self._lines_undercut
        turn[beyond] = np.inf
        rests = closings(self._on_lines(gap.roll), turn, pitch, self.pair.bend)
        looks = []
        for k, rest in enumerate(rests):
            room = self._on_cells(gap.gap[k]) - self._lever * rest.at(self._on_cells(gap.roll[k]))
            there = np.clip(0.5 + CELLS[1] * self._on_cells(gap.pinion_v[k]), 0.0, 1.0) * self._whole
            looks.append(_Look(room, there, float(gap.closed[k]) + rest.mean))
        return looks


@cache
def _readers() -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Matrices from the nodes of any flank to its cells and to its contact lines; along u, along v."""
    u, v = FlankPair.u_axis, FlankPair.v_axis
    cells = [(np.arange(n) + 0.5) / n for n in CELLS]
    lines = [np.linspace(0, 1, n) for n in _LINES]
    return (u.reader(cells[0]), v.reader(cells[1]).T), (u.reader(lines[0]), v.reader(lines[1]).T)


class MeshModel:
    """One gear set, built once; `predict` then answers in about two milliseconds.

    axle: gears, what is unknown estimated. ease_off: relief of the pinion; None takes the axle's, else a
    usual one (`usual_ease_off`). Where the axle tells both flanks' it is the convex one's, and the concave
    one's differs from it as the axle's two do. film_mm: thickness of the compound.
    Raises MechanicsError (gear-set-impossible, blank-unsolvable, flank-not-cut, no-conjugate).
    """

    def __init__(
        self,
        axle: Axle,
        ease_off: EaseOff | None = None,
        film_mm: float = FILM_MM,
        proportions: Proportions | None = None,
        inputs: GearInputs | None = None,
    ) -> None:
        self.axle = axle
        self.film_mm = film_mm
        self.blank = blank_of(axle.gears, proportions, inputs)
        self.ease_off = ease_off or axle.ease_off or usual_ease_off(self.blank)
        self.pitch = 2 * pi / self.blank.teeth2
        self._readers = {flank: _FlankReader(self.blank, flank) for flank in FLANKS}
        self._dial_arm = self.blank.heel_distance * sin(self.blank.cones.cone2) * cos(self.blank.spiral_heel)
        pressure = (self.blank.pressure_drive + self.blank.pressure_coast) / 2
        self._normal_arm = self.blank.cones.radius2 * cos(self.blank.cones.spiral2) * cos(pressure)

    def with_ease_off(self, ease_off: EaseOff, film_mm: float | None = None) -> MeshModel:
        """The same gears with another relief and, where given, film; no set-up is repeated."""
        other = copy(self)
        other.__dict__.pop("_nominal_play", None)
        other.ease_off = ease_off
        other.film_mm = film_mm or self.film_mm
        return other

    def predict(
        self, pinion: float = 0.0, ring: float = 0.0, offset: float = 0.0, shaft_angle: float = 0.0
    ) -> Prediction:
        """Patterns and backlash with the gears displaced: mm, and rad for the shaft angle.

        Signs as in `Displacement`: pinion P away from the ring-gear axis, ring G away from the pinion.
        """
        return self.predictions([Displacement(pinion, ring, offset, shaft_angle)])[0]

    def predictions(self, places: Sequence[Displacement], against_first: bool = False) -> list[Prediction]:
        """What `predict` says of each place; together they take half the time.

        against_first: backlash against the first of these places, not against the nominal one.
        """
        convex, concave = (self._looks(flank, places) for flank in FLANKS)
        if against_first:
            play = convex[0].closed + concave[0].closed
            return [self._prediction(*both, play) for both in zip(convex, concave, strict=True)]
        nominal = Displacement()
        if "_nominal_play" not in self.__dict__ and nominal in places:
            index = places.index(nominal)
            self._nominal_play = convex[index].closed + concave[index].closed
        play = self._nominal_play
        return [self._prediction(*both, play) for both in zip(convex, concave, strict=True)]

    def _prediction(self, convex: _Look, concave: _Look, play: float) -> Prediction:
        change = convex.closed + concave.closed - play
        return Prediction(
            self._measured(convex),
            self._measured(concave),
            change * self._dial_arm,
            change * self._normal_arm,
        )

    def jacobian(self, step_mm: float = 0.05) -> Floats | None:
        """Change per mm of pinion and of ring-gear move about the nominal place: shape (6, 2).

        Rows: centre of the convex patch (u, v), of the concave patch (u, v), backlash at the dial and normal
        (mm). Central differences over ±step_mm; None where a patch is missing there.
        """
        columns = []
        for name in ("pinion", "ring"):
            ahead, behind = (self.predict(**{name: step}) for step in (step_mm, -step_mm))
            normal = ahead.normal_backlash_change_mm - behind.normal_backlash_change_mm
            columns.append(np.append(ahead.measures - behind.measures, normal) / (2 * step_mm))
        found = np.stack(columns, axis=1)
        return found if np.isfinite(found).all() else None

    def patch(self, flank: FlankName, at: Displacement, outlined: bool = False) -> Patch | None:
        """The patch of one flank alone: half the work of `predict`. outlined: with outlines, for pictures."""
        return self._measured(self._look(flank, at), outlined)

    def coverage(self, flank: FlankName, at: Displacement) -> Floats:
        """Share (96, 32) of each flank cell (u, v) within the compound's film: for pictures."""
        return self._covered(self._look(flank, at))

    def _looks(self, flank: FlankName, places: Sequence[Displacement]) -> list[_Look]:
        return self._readers[flank].looks(self._relief(flank), places, self.pitch)

    def _relief(self, flank: FlankName) -> EaseOff:
        one, given, other = self.ease_off, self.axle.ease_off, self.axle.ease_off_concave
        if flank == "convex" or given is None or other is None:
            return one
        return EaseOff(
            max(one.lengthwise_mm + other.lengthwise_mm - given.lengthwise_mm, 0.0),
            max(one.profile_mm + other.profile_mm - given.profile_mm, 0.0),
            one.bias_mm + other.bias_mm - given.bias_mm,
        )

    def _look(self, flank: FlankName, at: Displacement) -> _Look:
        return self._looks(flank, [at])[0]

    def _covered(self, look: _Look) -> Floats:
        return coverage(look.room, self.film_mm) * look.there

    def _measured(self, look: _Look, outlined: bool = False) -> Patch | None:
        return measure(self._covered(look).T, self._aspect, look.there.T, outlined)

    @property
    def _aspect(self) -> float:
        """Height over length of a flank."""
        height = self.blank.working_depth / cos((self.blank.pressure_drive + self.blank.pressure_coast) / 2)
        return height * cos(self.blank.cones.spiral2) / self.blank.face_width2

    @cached_property
    def _nominal_play(self) -> float:
        """Turn of the ring gear from flank to flank in the nominal place, rad."""
        return sum(self._look(flank, Displacement()).closed for flank in FLANKS)


def usual_ease_off(blank: Blank) -> EaseOff:
    """Relief of a usual set where nothing is known: an assumption, from common practice, no source.

    Lengthwise such that an undisturbed hand-rolled patch covers about half the length; profile about half
    of that.
    """
    scale = sqrt(blank.face_width2 / 30)
    return EaseOff(0.035 * scale, 0.018 * scale, 0.0)
