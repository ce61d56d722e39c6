"""Which photos of a job's folder were taken of one try: by time and by side, where no folder says it.

Sorted by the time that the camera wrote, a new try begins after a pause in which an axle can be taken apart,
shimmed and rolled again, or where a side is seen again after both were seen. Where that could be otherwise, a
doubt is told with the plan. The pauses are common practice, not measured.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

from contactread.axle import ROLES
from contactread.records.book import Book
from contactread.records.doubts import AHEAD, OLDEST
from contactread.records.filing import Filed
from contactread.records.moments import stamp
from contactread.records.photos import known_file

NEW_TRY = timedelta(minutes=20)  # a longer pause begins a new try
UNSURE = timedelta(minutes=10)  # a pause from here on is told as a doubt
AGAIN = timedelta(minutes=4)  # a pause after which a side that is seen again begins a new try
_EXIF, _TAKEN, _OFFSET = 0x8769, 0x9003, 0x9011  # EXIF 2.32: Exif IFD, DateTimeOriginal, OffsetTimeOriginal


@dataclass(frozen=True)
class Round:
    """The photos of one try as planned. job: number or words, None for photos that stay unfiled. attempt:
    the try's number where a folder or manifest says it; counted on within the job where it doesn't. taken:
    time of its first photo as the book writes it, None where no camera wrote one."""

    job: int | str | None
    attempt: int | None
    photos: tuple[Filed, ...]
    sides: tuple[str, ...]
    taken: str | None
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Seen:
    filed: Filed
    taken: datetime | None
    side: str | None


def plan(book: Book | None, filed: Sequence[Filed], now: datetime) -> list[Round]:
    """The tries that photos will be filed in, job by job in the order of time. book: tells the side of what
    was read already; a file's name may tell it too."""
    seen = [_Seen(f, taken_at(f.path, now), _side(book, f)) for f in filed]
    rounds: list[Round] = []
    ordered = sorted(seen, key=lambda s: (str(s.filed.job or ""), s.filed.attempt or 0, *_by_time(s)))
    for (job, attempt), group in groupby(ordered, key=lambda s: (s.filed.job, s.filed.attempt)):
        photos = list(group)
        if job is None or attempt is not None:
            rounds.append(_round(photos, job, attempt, ()))
        else:
            rounds += _split(photos, job)
    return sorted(rounds, key=lambda r: (r.job is None, str(r.job), r.attempt or 0, r.taken or "9"))


def taken_at(path: Path, now: datetime) -> datetime | None:
    """When a photo was taken by its EXIF, in UTC; the camera's clock is taken for local time where it has no
    offset. None where there is no such time, or none that can be."""
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path) as picture:
                tags: Any = picture.getexif().get_ifd(_EXIF)
        text, offset = str(tags[_TAKEN]).strip("\0 "), str(tags.get(_OFFSET, "")).strip("\0 ")
        if not re.fullmatch(r"[+-]\d\d:\d\d", offset):
            offset = ""
        moment = datetime.strptime(text + offset, "%Y:%m:%d %H:%M:%S" + ("%z" if offset else ""))
        moment = moment.astimezone(UTC)
    except Exception:  # whatever a damaged file makes of it, it has no time
        return None
    return moment if now - OLDEST < moment < now + AHEAD else None


def _side(book: Book | None, filed: Filed) -> str | None:
    """Drive or coast, from what was read before, or from the file's name."""
    known = None if book is None else known_file(book, filed.path)
    if known is not None and known.reading is not None:
        return known.reading.side
    named = {side for side in ROLES if side in filed.path.stem.lower()}
    return named.pop() if len(named) == 1 else None


def _split(photos: list[_Seen], job: int | str) -> list[Round]:
    groups: list[tuple[list[_Seen], list[str]]] = [([photos[0]], [])]
    for before, photo in pairwise(photos):
        group, doubts = groups[-1]
        pause = None if before.taken is None or photo.taken is None else photo.taken - before.taken
        sides = {each.side for each in group if each.side is not None}
        again = photo.side is not None and sides == {"drive", "coast"} and before.side != photo.side
        if pause is not None and (pause > NEW_TRY or (again and pause > AGAIN)):
            groups.append(([photo], _between(before, photo, pause) if pause <= NEW_TRY else []))
            continue
        if pause is None and (before.taken is None) != (photo.taken is None):
            doubts.append(f"{photo.filed.path.name} has no time of its own; taken for this try")
        elif pause is None and again:
            doubts.append(f"{photo.filed.path.name} shows a side again, and no camera wrote the time")
        elif pause is not None and pause > UNSURE:
            doubts += _between(before, photo, pause)
        group.append(photo)
    return [_round(group, job, None, tuple(doubts)) for group, doubts in groups]


def _between(before: _Seen, photo: _Seen, pause: timedelta) -> list[str]:
    minutes = round(pause.total_seconds() / 60)
    return [f"{minutes} minutes lie between {before.filed.path.name} and {photo.filed.path.name}"]


def _round(photos: list[_Seen], job: int | str | None, attempt: int | None, doubts: tuple[str, ...]) -> Round:
    times = [photo.taken for photo in photos if photo.taken is not None]
    sides = sorted({photo.side for photo in photos if photo.side is not None})
    taken = stamp(min(times)) if times else None
    return Round(job, attempt, tuple(photo.filed for photo in photos), tuple(sides), taken, doubts)


def _by_time(seen: _Seen) -> tuple[bool, float, str]:
    return seen.taken is None, 0.0 if seen.taken is None else seen.taken.timestamp(), str(seen.filed.path)


def dated(rounds: Sequence[Round]) -> list[Filed]:
    """The photos of a plan, in its order, each with its try's time where nothing else says when."""
    return [
        replace(item, when=each.taken) if item.when is None and each.attempt is not None else item
        for each in rounds
        for item in each.photos
    ]
