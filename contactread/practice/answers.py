"""Answers as they are typed, read or refused."""

from __future__ import annotations

import re

from contactread.axle import Interval
from contactread.errors import PracticeError, QuantityError
from contactread.patch import Point
from contactread.practice.question import AMOUNT_FORMS, PATCH_FORM
from contactread.units import parse_length, show_clearance

_MOST_MM = 2.0  # no shim changes by more


def parse_shim_change(text: str) -> float:
    """A change of a shim in mm, thicker positive: "thicker 0.10 mm", "4 thou thinner", "-0.1 mm".

    Raises PracticeError answer-unreadable.
    """
    words = text.strip().lower()
    sign = 1.0
    thinner, thicker = re.search(r"\bthinner\b", words), re.search(r"\bthicker\b", words)
    if thinner and thicker:
        raise unreadable(text, f"Say either thicker or thinner, such as {AMOUNT_FORMS}.")
    rest = re.sub(r"\b(thinner|thicker|by)\b", " ", words).strip()
    try:
        mm = parse_length(rest)
    except QuantityError as error:
        raise unreadable(text, f"{error.message} Write it as {AMOUNT_FORMS}.") from error
    if not thinner and not thicker and rest[:1] not in "+-−–":
        raise unreadable(text, f"Say which way: thicker or thinner, such as {AMOUNT_FORMS}.")
    if thinner:
        sign = -1.0
    if abs(mm) > _MOST_MM:
        raise unreadable(text, f"No shim changes by more than {show_clearance(_MOST_MM)}.")
    return sign * abs(mm) if thinner or thicker else mm


def parse_patch(text: str) -> tuple[Interval, Interval, Point | None]:
    """From and to along the length, then up the height: "20-55 30-70" in percent; where it was drawn, the
    centre too: "20-55 30-70 centre 40 50".

    Raises PracticeError answer-unreadable.
    """
    borders, _, middle = text.lower().partition("centre")
    numbers, place = (
        [float(n) / 100 for n in re.findall(r"\d{1,3}(?:\.\d+)?", t)] for t in (borders, middle)
    )
    wanted = f"Write it as {PATCH_FORM}."
    if len(numbers) != 4 or len(place) not in (0, 2) or re.search(r"[^\d\s.,;:%–\-to/]", borders + middle):
        raise unreadable(text, wanted)
    u0, u1, v0, v1 = numbers
    if not (0 <= u0 < u1 <= 1 and 0 <= v0 < v1 <= 1) or any(x > 1 for x in place):
        raise unreadable(text, f"Each pair goes from small to large, between 0 and 100. {wanted}")
    return (u0, u1), (v0, v1), (place[0], place[1]) if place else None


def unreadable(text: str, next_step: str) -> PracticeError:
    """The error for an answer that can't be read."""
    shown = text.strip()[:60]
    return PracticeError("answer-unreadable", f"{shown!r} can't be read as an answer.", next_step)
