"""Words and numbers from users, made safe to store or refused."""

from __future__ import annotations

import math
import unicodedata
from datetime import UTC, datetime

from contactread.errors import BookError
from contactread.records.moments import stamp

# Characters; our choices: a long line, and some ten pages.
LONGEST_LINE = 300
LONGEST_TEXT = 20_000


def half(what: str, next_step: str) -> BookError:
    """The error for a record that lacks a part."""
    return BookError("record-half", f"{what}, so nothing was recorded.", next_step)


def line(text: str, what: str, *, required: bool = False) -> str:
    """One line of words: spaces tidied, control characters replaced. `what` names it in errors.

    Raises `BookError` record-half where it is required and empty, record-value where it is too long.
    """
    return _fitting(" ".join(_storable(text).split()), what, LONGEST_LINE, required)


def paragraph(text: str, what: str, *, required: bool = False) -> str:
    """Free words of any number of lines. Raises as `line`."""
    return _fitting(_storable(text, keep="\n\t").strip(), what, LONGEST_TEXT, required)


def number(value: float | None, what: str, least: float, most: float, unit: str) -> float | None:
    """A measured number between plain bounds, or None. Raises `BookError` record-value."""
    if value is None:
        return None
    if not math.isfinite(value) or not least <= value <= most:
        raise BookError(
            "record-value",
            f"{what.capitalize()} of {value:g} {unit} can't be right; it should lie between {least:g} and "
            f"{most:g} {unit}. Nothing was recorded.",
            "Check the number and its unit, then do this again.",
        )
    return float(value)


def moment(text: str | None, otherwise: datetime) -> str:
    """A time given as YYYY-MM-DD, with or without HH:MM, in the shop's own time zone; as the book writes it.

    Raises `BookError` record-value.
    """
    if text is None:
        return stamp(otherwise)
    try:
        return stamp(datetime.fromisoformat(text.strip()).astimezone(UTC))
    except (ValueError, OverflowError, OSError):
        raise BookError(
            "record-value",
            f"{text[:60]!r} is not a date. Nothing was recorded.",
            "Write it as 2026-03-31 or 2026-03-31T14:30.",
        ) from None


def _storable(text: str, keep: str = "") -> str:
    """Without what UTF-8, a terminal or a page can't hold: lone surrogates, control characters."""
    harmful = {c for c in text if unicodedata.category(c) in ("Cc", "Cs")} - set(keep)
    return "".join((" " if c.isspace() else "\ufffd") if c in harmful else c for c in text)


def _fitting(text: str, what: str, most: int, required: bool) -> str:
    if required and not text:
        raise half(f"The {what} is missing", f"Give the {what} and do this again.")
    if len(text) > most:
        raise BookError(
            "record-value",
            f"The {what} has {len(text)} characters; {most} fit. Nothing was recorded.",
            "Shorten it and do this again.",
        )
    return text
