"""Flips one bit in each of many stored photos; `check` must name them all and no other.

``python calibration/shop_book/flips.py [--photos 200]``. Twice as many photos are stored; one bit, at a
random place, is flipped in half of them.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
from pathlib import Path

from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.photos import keep_photo


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    chance = random.Random(given.seed)
    flipped = set()
    with tempfile.TemporaryDirectory() as place, Book(Path(place) / "book.sqlite", write=True) as book:
        for number in range(2 * given.photos):
            data = bytearray(chance.randbytes(chance.randint(1_000, 200_000)))
            photo = keep_photo(book, bytes(data), name="a.jpg", who="Ana", try_id=None, reading=None)
            if number % 2:
                bit = chance.randrange(8 * len(data))
                data[bit // 8] ^= 1 << bit % 8
                book.photos.place(photo.sha256, photo.suffix).write_bytes(data)
                flipped.add(photo.sha256)
        found = check_book(book)
    named = set(found.altered)
    print(f"{len(flipped)} photos altered by one bit, {len(named & flipped)} named", end=", ")
    print(f"{len(named - flipped)} others named")
    return 0 if named == flipped and not (found.missing or found.orphans or found.database) else 1


if __name__ == "__main__":
    sys.exit(main())
