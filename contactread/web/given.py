"""What comes from forms and addresses, understood or refused."""

from __future__ import annotations

import re
from collections.abc import Iterable

from starlette.datastructures import FormData

from contactread.errors import ContactreadError
from contactread.plausible import Measured, parse_any_size

# Our choices, beyond what one set-up needs.
MOST_PHOTOS = 12
_SHA256 = re.compile(r"[0-9a-f]{64}")


def text_of(form: FormData, name: str) -> str:
    """A field's text; empty where it is missing, or a file."""
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def photo_hash(text: str) -> str:
    """A photo's SHA-256. Raises ContactreadError photo-unknown: no other text reaches the book."""
    if not _SHA256.fullmatch(text):
        raise ContactreadError("photo-unknown", "There is no such photo.", "Go back and send it again.")
    return text


def photo_hashes(texts: Iterable[str]) -> list[str]:
    """Several, each once."""
    hashes = list(dict.fromkeys(photo_hash(text) for text in texts))
    if len(hashes) > MOST_PHOTOS:
        raise ContactreadError(
            "too-many-photos", f"{len(hashes)} photos are too many for one answer.",
            f"Choose at most {MOST_PHOTOS}.")  # fmt: skip
    return hashes


def number_of(text: str, what: str) -> int:
    """A job's or a try's number. Raises ContactreadError number."""
    if not re.fullmatch(r"[0-9]{1,9}", text):
        raise ContactreadError(
            "number", f"{text[:20]!r} is not a {what}'s number.", "Choose it from the list."
        )
    return int(text)


def length(kind: Measured, text: str, unit: str) -> float:
    """A length of this kind in mm; `unit` where the text has none. Raises QuantityError."""
    text = text.strip()
    return parse_any_size(kind, text if re.search(r"[^\W\d]|\"", text) else f"{text} {unit}")


def move_mm(text: str) -> float:
    """A move in mm as the page's sliders give it. Raises ContactreadError move."""
    try:
        mm = float(text or "0")
    except ValueError:
        mm = 99.0
    if not abs(mm) <= 1.0:
        raise ContactreadError("move", f"{text[:20]!r} is not a move in mm.", "Give -1 to 1.")
    return mm
