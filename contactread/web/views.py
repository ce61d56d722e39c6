"""What templates and JSON show of photos and tries."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from contactread.axle import ROLES, Axle, Role
from contactread.flags import FLAGS, flag
from contactread.records.measured import joined, pattern_json
from contactread.records.nouns import RecordedPhoto
from contactread.web.foreseen import centre_after, side_views
from contactread.web.overlay import overlay
from contactread.web.shop import read_of

_FLAG_CODES = {each.code for each in FLAGS}
# What to do about a flag, where the page has another way than the command line.
_HERE = {
    "both-flanks": "For the other side, send another photo, or use 'Correct it' and swap the side.",
    "flank-uncertain": "If it is the other side, use 'Correct it' and swap the side.",
}


def photo_view(
    photo: RecordedPhoto, axle: Axle | None, advice: dict[str, Any] | None = None
) -> dict[str, Any]:
    """One photo for a page and for JSON: what was read, the lines to draw over it, what to retake."""
    reading = None if photo.reading is None else photo.reading.json
    return {"sha256": photo.sha256, "name": photo.name} | reading_view(reading, axle, advice)


def photo_views(photos: Sequence[RecordedPhoto], axle: Axle | None) -> list[dict[str, Any]]:
    """Several photos, in their order."""
    return [photo_view(photo, axle) for photo in photos]


def reading_view(
    reading: dict[str, Any] | None, axle: Axle | None, advice: dict[str, Any] | None = None
) -> dict[str, Any]:
    """A reading for a page: "status" is read, refused or waiting."""
    if reading is None:
        return {"status": "waiting", "side": None, "flank": None, "refusal": None, "flags": [],
                "confidence": None, "pattern": None, "overlay": None, "corrected": False}  # fmt: skip
    role = role_in(reading, axle)
    return {
        "status": reading["status"],
        "side": role,
        "flank": reading["flank"],
        "refusal": reading["refusal"],
        "flags": [
            {"code": code, "short": flag(code).short, "meaning": flag(code).meaning,
             "next_step": step_here(code)}
            for code in reading["flags"] if code in _FLAG_CODES
        ],
        "confidence": reading["confidence"],
        "pattern": pattern_json(reading),
        "overlay": overlay(reading, axle, centre_after(advice, role)),
        "corrected": "correction" in reading,
    }  # fmt: skip


def step_here(code: str) -> str:
    """What to do about a flag, where the person has this page and no command line."""
    return _HERE.get(code, flag(code).next_step)


def role_in(reading: dict[str, Any], axle: Axle | None) -> Role | None:
    """The side that a reading shows in this axle."""
    if reading["status"] != "read":
        return None
    if axle is not None:
        return axle.role(reading["flank"])
    role: Role = reading["side"]
    return role


def answer_view(
    photos: Sequence[RecordedPhoto], axle: Axle | None, advice: dict[str, Any] | None, lacking: str
) -> dict[str, Any]:
    """The answer: its first lines, the sides with their charts, the photos with their lines."""
    sides = {role: each.side for role, each in joined(read_of(photos), axle).items()}
    views = side_views(sides, axle, advice)
    return {
        "lines": answer_lines(advice, lacking),
        "advice": advice,
        "lacking": lacking,
        "sides": {role: views[role] for role in ROLES if role in views},
        "photos": sorted(
            (photo_view(photo, axle, advice) for photo in photos),
            key=lambda view: (view["status"] != "refused", view["side"] != "drive", view["side"] != "coast"),
        ),
    }


def answer_lines(advice: dict[str, Any] | None, lacking: str) -> list[str]:
    """The first lines of an answer, the move first. Advice of older books has its headline alone."""
    if advice is None:
        return [lacking]
    lines: list[str] = advice.get("answer") or [advice["headline"]]
    return lines
