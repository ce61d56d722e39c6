"""What each place of a flank shows: contact, compound, bare steel, or nothing that can be told."""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from contactread.pattern.contact import ContactMaps

_COVERED = 0.5  # amount of compound from which a place counts as covered


class Surface(IntEnum):
    """One place of a flank. UNSURE: hidden, outside the picture, or burnt out by glare."""

    UNSURE = 0
    BARE = 1
    COMPOUND = 2
    CONTACT = 3


def surfaces(maps: ContactMaps) -> NDArray[np.uint8]:
    """The state of every place, (teeth, rows, columns), as `Surface` numbers.

    Contact goes before what lies on it: smear and streaks inside the patch belong to it. A place that
    can't be judged stays UNSURE even where the other teeth say that the patch reaches there.
    """
    states = np.where(maps.amount > _COVERED, Surface.COMPOUND, Surface.BARE)
    states = np.where(maps.inside > 0.5, Surface.CONTACT, states)
    return np.where(maps.judged > 0.5, states, Surface.UNSURE).astype(np.uint8)
