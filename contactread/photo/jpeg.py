"""What a JPEG in passes will cost to decode, told from its markers (ITU-T T.81) before it is decoded."""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass

_MOST_PASSES = 64  # usual encoders make ten or so
_MOST_BYTES_A_PIXEL = 1.5  # of data in passes, beyond _FREE_BYTES: the finest quality has less
_FREE_BYTES = 500_000
_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")  # the next one after entropy-coded data
_UNSENT = -1


@dataclass(frozen=True)
class Frame:
    """The frame header (T.81, B.2.2). components: number, horizontal and vertical sampling of each."""

    width: int
    height: int
    progressive: bool
    components: tuple[tuple[int, int, int], ...]

    @property
    def coefficient_bytes(self) -> int:
        """Memory for all coefficients, which decoding in passes holds: two bytes each."""
        across = max((h for _, h, _ in self.components), default=1) or 1
        down = max((v for _, _, v in self.components), default=1) or 1
        shares = sum(h * v for _, h, v in self.components) / (across * down)
        return round(2 * self.width * self.height * shares)


def read_frame(data: bytes, at: int) -> Frame:
    """The frame header whose marker lies at `at`. Raises struct.error or IndexError where data end."""
    height, width, count = struct.unpack_from(">HHB", data, at + 5)
    parts = [data[at + 10 + 3 * k : at + 12 + 3 * k] for k in range(count)]
    progressive = data[at + 1] in (0xC2, 0xC6, 0xCA, 0xCE)
    return Frame(width, height, progressive, tuple((part[0], part[1] >> 4, part[1] & 15) for part in parts))


def passes_excess(data: bytes, at: int, frame: Frame) -> str:
    """What is too much about the passes that begin with the marker at `at`; "" where they are sound.

    Each bit of each coefficient may be sent once (T.81, G.1.1.1): a pass again and again costs a decoding
    each time. Raises struct.error or IndexError where data end.
    """
    sent = {number: [_UNSENT] * 64 for number, _, _ in frame.components}
    began, passes = at, 0
    while data[at + 1] != 0xD9:
        marker = data[at + 1]
        (length,) = struct.unpack_from(">H", data, at + 2)
        if marker == 0xDA:
            passes += 1
            if passes > _MOST_PASSES or not _new(data, at, sent, frame.progressive):
                return "sends the same part of the picture again and again"
        following = _MARKER.search(data, at + 2 + length)
        if following is None:
            break
        at = following.start()
    most = _FREE_BYTES + _MOST_BYTES_A_PIXEL * frame.width * frame.height
    return "holds far more data than its pixels can need" if at - began > most else ""


def _new(data: bytes, at: int, sent: dict[int, list[int]], progressive: bool) -> bool:
    """Whether a pass brings only bits that weren't sent; they are marked as sent."""
    count = data[at + 4]
    numbers = [data[at + 5 + 2 * k] for k in range(count)]
    first, last, bits = struct.unpack_from("BBB", data, at + 5 + 2 * count)
    high, low = (bits >> 4, bits & 15) if progressive else (0, 0)
    band = range(first, min(last, 63) + 1) if progressive else range(64)
    for number in numbers:
        levels = sent.get(number)
        if levels is None:
            continue  # the decoder will refuse it
        for k in band:
            if (levels[k] != _UNSENT) if high == 0 else (levels[k] != high or low != high - 1):
                return False
            levels[k] = low
    return True
