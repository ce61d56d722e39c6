"""One photo read, the path from Photo to Side; and the set-up that two of them show."""

from contactread.reading.nouns import Reading, ReadTooth
from contactread.reading.pairing import lacking, one_side_twice, pair
from contactread.reading.path import PERHAPS_ANOTHER_AXLE, Finder, read

__all__ = [
    "PERHAPS_ANOTHER_AXLE", "Finder", "ReadTooth", "Reading", "lacking", "one_side_twice",
    "pair", "read",
]  # fmt: skip
