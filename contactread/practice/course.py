"""Which topic comes next: weak ones often, mastered ones only when they are due again.

Each topic stands on a step from 0 to 6. A right answer goes up one step, two as long as none was wrong; a
half right one stays; a wrong one goes down two. From step MASTERED the topic rests: a day, then three, a
week, three weeks. Common practice of spaced repetition; the numbers are ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from contactread.errors import PracticeError
from contactread.practice.history import Answered
from contactread.practice.marking import HALF_RIGHT, PASS
from contactread.practice.topics import TOPICS

MASTERED, HIGHEST = 3, 6
REST = {3: timedelta(days=1), 4: timedelta(days=3), 5: timedelta(days=7), 6: timedelta(days=21)}
OPENS_AFTER = 3  # answers in each topic of a level, or mastery of it, that open the next level


@dataclass(frozen=True)
class Standing:
    """Where an apprentice stands in one topic. due: when it comes back; None while it isn't mastered."""

    topic: str
    step: int
    asked: int
    right: int
    due: datetime | None
    last: datetime | None

    @property
    def mastered(self) -> bool:
        return self.step >= MASTERED

    def wanted(self, now: datetime) -> bool:
        """Whether the topic should be asked now."""
        return self.due is None or now >= self.due


def standings(history: Iterable[Answered], topics: Sequence[str]) -> dict[str, Standing]:
    """Where an apprentice stands in each of the topics."""
    found = {topic: Standing(topic, 0, 0, 0, None, None) for topic in topics}
    for answer in history:
        if answer.topic in found:
            found[answer.topic] = _after(found[answer.topic], answer)
    return found


def open_topics(standing: Mapping[str, Standing]) -> list[str]:
    """Topics of the levels that are open: the first, and each whose forerunner is worked through."""
    opened: list[str] = []
    for level in sorted({TOPICS[topic].level for topic in standing}):
        here = [topic for topic in standing if TOPICS[topic].level == level]
        opened += here
        if not all(standing[t].mastered or standing[t].asked >= OPENS_AFTER for t in here):
            break
    return opened


def next_topic(history: Sequence[Answered], topics: Sequence[str], now: datetime, rng: Random) -> str:
    """The topic to ask now. Raises PracticeError all-mastered where nothing is due."""
    standing = standings(history, topics)
    wanted = [topic for topic in open_topics(standing) if standing[topic].wanted(now)]
    if not wanted:
        due = min(s.due for s in standing.values() if s.due is not None)
        raise PracticeError(
            "all-mastered",
            "Every topic is mastered for now.",
            f"The next one comes back on {due:%Y-%m-%d}. Until then take a test, or name a topic.",
        )
    # New ground is met in its own order, one topic at a time.
    unmet = [topic for topic in wanted if not standing[topic].asked]
    wanted = [topic for topic in wanted if topic not in unmet[1:]]
    last = history[-1].topic if history else None
    others = [topic for topic in wanted if topic != last] or wanted
    return rng.choices(others, [_need(standing[topic]) for topic in others])[0]


def _need(standing: Standing) -> float:
    """How much a topic needs asking: more on lower steps, and more the more of it went wrong."""
    wrong = 1 - standing.right / standing.asked if standing.asked else 0.5
    return 1 + (MASTERED - min(standing.step, MASTERED)) + 3 * wrong


def _after(before: Standing, answer: Answered) -> Standing:
    if answer.score >= PASS:
        flawless = before.right == before.asked
        step = min(before.step + (2 if flawless and before.step < MASTERED else 1), HIGHEST)
    elif answer.score >= HALF_RIGHT:
        step = before.step
    else:
        step = max(before.step - 2, 0)
    due = answer.answered_at + REST[step] if step >= MASTERED else None
    right = before.right + (answer.score >= PASS)
    return Standing(before.topic, step, before.asked + 1, right, due, answer.answered_at)
