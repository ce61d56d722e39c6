"""The trainer's page: how every apprentice stands, self-contained."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from contactread.practice.course import HIGHEST, MASTERED, Standing
from contactread.practice.marking import PASS
from contactread.practice.progress import Progress, day, state
from contactread.practice.sheet import render
from contactread.practice.topics import TOPICS


def progress_page(found: Sequence[Progress]) -> str:
    """The page as HTML."""
    return render(
        "progress.html",
        apprentices=[_one(progress) for progress in found],
        mastered=MASTERED,
        highest=HIGHEST,
    )


def _one(progress: Progress) -> dict[str, Any]:
    return {
        "apprentice": progress.apprentice,
        "answered": progress.answered,
        "right": progress.right,
        "weakest": [TOPICS[topic].heading for topic in progress.weakest[:3]],
        "rows": [_row(standing) for standing in progress.standing],
        "tests": progress.tests,
        "wrong": [f"{a.question_id}: {a.given}" for a in progress.recent if a.score < PASS],
    }


def _row(standing: Standing) -> dict[str, Any]:
    topic = TOPICS[standing.topic]
    return {
        "level": topic.level,
        "heading": topic.heading,
        "asked": standing.asked,
        "right": standing.right,
        "step": standing.step,
        "share": round(100 * standing.step / HIGHEST),
        "state": state(standing),
        "last": day(standing.last),
        "due": day(standing.due),
    }
