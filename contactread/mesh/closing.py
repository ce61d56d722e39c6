"""How far the gears have to turn until the first pair of teeth touches, at every roll angle.

On each contact line (one roll angle) the pair touches where gap / lever is least; of all pairs in mesh the
one that touches first carries. Over one tooth pitch this is the transmission error of the unloaded pair.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from contactread.arrays import Floats

_SAMPLES = 64  # roll angles per tooth pitch at which contact lines are searched
_AWAY = 16  # phases within which a touch off the contact line is looked for
PHASES = 256  # a power of two; per pitch, after the smooth curve of each pair has been filled in
_NEIGHBOURS = (np.arange(-_AWAY, _AWAY + 1)[:, None] + np.arange(PHASES)) % PHASES


@dataclass(frozen=True)
class Closing:
    """Turn of the ring gear (rad) that closes the gap, over one tooth pitch.

    turn: (PHASES,) at roll angles start + pitch k / PHASES; its variation is the transmission error.
    reach: the same as a single flank point sees it: where one pair hands over to the next, a point comes
    nearest a little before or after its contact line (DERIVATION.md, section 6).
    """

    start: float
    pitch: float
    turn: Floats
    reach: Floats

    def at(self, roll: Floats) -> Floats:
        """`reach` at any roll angle, rad; linear between the phases, periodic in the pitch."""
        place = (roll - self.start) * (PHASES / self.pitch)
        below = np.floor(place)
        phase = below.astype(np.intp) & (PHASES - 1)
        rise = np.append(self.reach[1:], self.reach[0]) - self.reach
        return np.asarray(self.reach[phase] + (place - below) * rise[phase])

    @property
    def mean(self) -> float:
        """Mean over the pitch, rad."""
        return float(self.turn.mean())


def closings(roll: Floats, turn: Floats, pitch: float, bend: float) -> list[Closing]:
    """The lower envelope of `turn` (gap / lever, rad; inf where nothing can touch) over contact lines, for
    each place of the gears.

    roll, turn: (places, columns along u, points up v), roll monotone in v. pitch: 2 pi / z2. bend: second
    derivative of gap / lever by the roll angle, 1/rad.
    """
    starts = [float(r.min()) for r in roll]
    carrying = [_carrying(r, t, at, pitch) for r, t, at in zip(roll, turn, starts, strict=True)]
    # A pair touches off its contact line too, where the gap grows by bend x²/2.
    growth = bend / 2 * (pitch / PHASES * np.arange(-_AWAY, _AWAY + 1)[:, None]) ** 2
    touching = [(_around(turns) + growth).min(axis=0) for turns in carrying]
    reach = [(_around(turns) - growth).max(axis=0) for turns in touching]
    return [Closing(at, pitch, touching[k], reach[k]) for k, at in enumerate(starts)]


def _carrying(roll: Floats, turn: Floats, start: float, pitch: float) -> Floats:
    """Least turn of all pairs on their contact lines, (PHASES,) over one pitch from `start`."""
    if roll[0, -1] < roll[0, 0]:
        roll, turn = roll[:, ::-1], turn[:, ::-1]
    pitches = int(np.ceil((float(roll.max()) - start) / pitch))
    samples = start + pitch / _SAMPLES * np.arange(pitches * _SAMPLES + 1.0)
    pair = np.minimum(_least_refined(_along_lines(samples, roll, turn)), 1.0)  # one radian: far out of reach
    phases = start + pitch / PHASES * np.arange(pitches * PHASES)
    least: Floats = np.interp(phases, samples, pair).reshape(pitches, PHASES).min(axis=0)
    return least


def _along_lines(samples: Floats, roll: Floats, turn: Floats) -> Floats:
    """`turn` of each column at the roll angles `samples`, inf beyond its ends: (columns, samples).

    Laid end to end, clear of each other, all columns are one rising table that is read in one go.
    """
    table = np.full((roll.shape[0], samples.size), np.inf)
    inside = (samples >= roll[:, :1]) & (samples <= roll[:, -1:])
    clear = 2 * (samples[-1] - samples[0]) * np.arange(roll.shape[0])[:, None]
    table[inside] = np.interp((samples + clear)[inside], (roll + clear).ravel(), turn.ravel())
    return table


def _around(periodic: Floats) -> Floats:
    """Each value's neighbours up to _AWAY phases off: (2 _AWAY + 1, PHASES)."""
    return np.asarray(periodic.take(_NEIGHBOURS))


def _least_refined(table: Floats) -> Floats:
    """Least of each column of `table` (columns along u), refined by a parabola through three points."""
    columns, samples = table.shape
    where = table.argmin(axis=0)
    middle = where * samples + np.arange(samples)
    inner = (where > 0) & (where < columns - 1)
    values = table.ravel()
    least = values[middle]
    middle = middle[inner]
    before, here, after = values[middle - samples], least[inner], values[middle + samples]
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = before - 2 * here + after
        refined = here - (after - before) ** 2 / (8 * bend)
    least[inner] = np.where(np.isfinite(refined) & (bend > 0), refined, here)
    return np.asarray(least)
