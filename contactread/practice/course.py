"""Which topic comes next: weak ones often, reached ones only when they are due again; and what mastery is.

A topic is *reached* when the lower bound (95 %, one-sided, exact: Clopper and Pearson) of the share of right
answers among the last `WINDOW`, less what guessing gives, is over 80 %. Then it rests for a week. It is
*mastered* when that still holds after `CHECKS` more answers given at least a week later; it comes back every
three weeks, and is lost where the bound falls. The numbers are ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from math import comb
from random import Random
from typing import Literal

from contactread.errors import PracticeError
from contactread.practice.history import Answered
from contactread.practice.topics import TOPICS

MASTERY, WINDOW, CHECKS = 0.80, 30, 3
WEEK, REVIEW = timedelta(days=7), timedelta(days=21)
OPENS_AFTER = 3  # answers in each topic of a level that open the next level
_TAIL = 0.05

State = Literal["new", "learning", "resting", "mastered"]


@dataclass(frozen=True)
class Standing:
    """Where an apprentice stands in one topic. bound: lower bound of the true share of right answers, 0..1.
    due: when it comes back; None while it is being learnt.
    """

    topic: str
    state: State
    bound: float
    asked: int
    right: int
    due: datetime | None
    last: datetime | None

    @property
    def mastered(self) -> bool:
        return self.state == "mastered"

    def wanted(self, now: datetime) -> bool:
        """Whether the topic should be asked now."""
        return self.due is None or now >= self.due


def known_share(right: int, asked: int, guess: float) -> float:
    """Lower bound of the share that somebody knows, guessing taken off: 0..1.

    Whoever knows a share k and guesses the rest is right with chance k + (1 - k) * guess.
    """
    return max((_least_chance(right, asked) - guess) / (1 - guess), 0.0)


@lru_cache(maxsize=4096)
def _least_chance(right: int, asked: int) -> float:
    """The chance of a right answer at which so many or more would come in 5 % of cases."""
    if right == 0:
        return 0.0
    low, high = 0.0, 1.0
    for _ in range(40):
        p = (low + high) / 2
        tail = sum(comb(asked, k) * p**k * (1 - p) ** (asked - k) for k in range(right, asked + 1))
        low, high = (p, high) if tail < _TAIL else (low, p)
    return low


def standing_in(topic: str, answers: Sequence[Answered]) -> Standing:
    """Where these answers, all on one topic and oldest first, leave an apprentice."""
    reached: datetime | None = None
    bound, later, mastered = 0.0, 0, False
    for k, answer in enumerate(answers, 1):
        recent = answers[max(k - WINDOW, 0) : k]
        bound = known_share(sum(a.right for a in recent), len(recent), TOPICS[topic].guess)
        if bound <= MASTERY:
            reached, later, mastered = None, 0, False
        elif reached is None:
            reached = answer.answered_at
        elif answer.answered_at - reached >= WEEK:
            later += 1
            mastered = mastered or later >= CHECKS
    last = answers[-1].answered_at if answers else None
    due = None
    if reached is not None and last is not None:
        due = last + REVIEW if mastered else reached + WEEK
    state: State = "new" if not answers else "mastered" if mastered else "resting" if reached else "learning"
    return Standing(topic, state, bound, len(answers), sum(a.right for a in answers), due, last)


def standings(history: Iterable[Answered], topics: Sequence[str]) -> dict[str, Standing]:
    """Where an apprentice stands in each of the topics."""
    by_topic: dict[str, list[Answered]] = {topic: [] for topic in topics}
    for answer in history:
        if answer.topic in by_topic:
            by_topic[answer.topic].append(answer)
    return {topic: standing_in(topic, answers) for topic, answers in by_topic.items()}


def open_topics(standing: Mapping[str, Standing]) -> list[str]:
    """Topics of the levels that are open: the first, and each whose forerunner is worked through."""
    opened: list[str] = []
    for level in sorted({TOPICS[topic].level for topic in standing}):
        here = [topic for topic in standing if TOPICS[topic].level == level]
        opened += here
        if not all(standing[t].asked >= OPENS_AFTER for t in here):
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
            "Nothing is due: every topic is mastered or rests.",
            f"The next one comes back on {due:%Y-%m-%d}. Until then take a test, or name a topic.",
        )
    # New ground is met in its own order, one topic at a time.
    unmet = [topic for topic in wanted if not standing[topic].asked]
    wanted = [topic for topic in wanted if topic not in unmet[1:]]
    last = history[-1].topic if history else None
    others = [topic for topic in wanted if topic != last] or wanted
    return rng.choices(others, [need(standing[topic]) for topic in others])[0]


def need(standing: Standing) -> float:
    """How much a topic needs asking: the more of it goes wrong (one right and one wrong answer supposed)."""
    return float((1.1 - (standing.right + 1) / (standing.asked + 2)) ** 3)
