"""Moments: as the book writes them, and as a person reads them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

Clock = Callable[[], datetime]


def now() -> datetime:
    """The present time in UTC; the default clock."""
    return datetime.now(UTC)


def stamp(moment: datetime) -> str:
    """A moment as the book writes it: UTC, to the second."""
    return f"{moment.astimezone(UTC).replace(tzinfo=None).isoformat(timespec='seconds')}Z"


def in_a_name(moment: datetime) -> str:
    """A moment as part of a file's name; names then sort by time."""
    return moment.astimezone(UTC).strftime("%Y%m%dT%H%M%S%f")


def day(stamp: str) -> str:
    """A moment of the book as a date in this computer's time zone."""
    return datetime.fromisoformat(stamp).astimezone().date().isoformat()


def minute(stamp: str) -> str:
    """A moment of the book as date and time in this computer's time zone."""
    return datetime.fromisoformat(stamp).astimezone().strftime("%Y-%m-%d %H:%M")
