"""Which topic comes next, for a simulated apprentice with weak topics; and mastery that can't be guessed."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime, timedelta
from random import Random

import pytest
from scipy.stats import binomtest

from contactread.errors import PracticeError
from contactread.practice.course import (
    MASTERY,
    WINDOW,
    known_share,
    next_topic,
    open_topics,
    standing_in,
    standings,
)
from contactread.practice.history import Answered
from contactread.practice.topics import GENERATED, TOPICS

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
WEEK = timedelta(days=7)


def answer(topic: str, right: bool, at: datetime = START) -> Answered:
    return Answered(topic, f"{topic}-1", "a", right, at)


@pytest.mark.parametrize("seed", range(12))
def test_weak_topics_come_twice_as_often(seed: int) -> None:
    rng = Random(seed)
    weak = set(rng.sample(GENERATED, 3))
    history: list[Answered] = []
    for number in range(120):
        now = START + timedelta(minutes=number)
        topic = next_topic(history, GENERATED, now, rng)
        history.append(answer(topic, rng.random() < (0.25 if topic in weak else 0.95), now))
    times = Counter(a.topic for a in history)
    often = sum(times[t] for t in weak) / len(weak)
    rest = sum(times[t] for t in GENERATED if t not in weak) / (len(GENERATED) - len(weak))
    assert often >= 2 * rest


@pytest.mark.parametrize(("right", "asked"), [(0, 5), (3, 10), (19, 19), (29, 30), (30, 30)])
def test_the_bound_is_that_of_a_statistics_library(right: int, asked: int) -> None:
    exact = binomtest(right, asked, alternative="greater").proportion_ci(0.95, "exact").low
    assert known_share(right, asked, 0.0) == pytest.approx(exact, abs=1e-6)
    assert known_share(right, asked, 0.25) == pytest.approx(max((exact - 0.25) / 0.75, 0), abs=1e-6)


def test_two_lucky_answers_master_nothing_and_a_week_must_pass() -> None:
    assert standing_in("ends", [answer("ends", True)] * 2).state == "learning"
    reached = [answer("ends", True)] * 20
    resting = standing_in("ends", reached)
    assert resting.state == "resting" and resting.bound > MASTERY
    assert not resting.wanted(START + timedelta(days=6)) and resting.wanted(START + WEEK)
    held = standing_in("ends", [*reached, *[answer("ends", True, START + WEEK)] * 3])
    assert held.state == "mastered" and held.due is not None and held.due > START + WEEK
    assert (
        standing_in("ends", [*reached, *[answer("ends", True, START + timedelta(days=6))] * 9]).state
        == "resting"
    )


def test_mastery_is_lost_where_the_bound_falls() -> None:
    mastered = [*[answer("ends", True)] * 20, *[answer("ends", True, START + WEEK)] * 3]
    assert (
        standing_in("ends", [*mastered, *[answer("ends", False, START + 5 * WEEK)] * 3]).state == "learning"
    )


def test_a_random_answerer_masters_nothing() -> None:
    """200 random answers in each topic, over ten weeks, right as often as guessing is. A thousand courses:
    calibration.practice_bars.
    """
    rng = Random(5)
    for course in range(250):
        topic = GENERATED[course % len(GENERATED)]
        given = [
            answer(topic, rng.random() < TOPICS[topic].guess, START + timedelta(days=k // 3))
            for k in range(200)
        ]
        for last in range(WINDOW, 201, 7):
            assert not standing_in(topic, given[:last]).mastered


def test_levels_open_one_after_the_other() -> None:
    first = [t for t in GENERATED if TOPICS[t].level == 1]
    assert open_topics(standings([], GENERATED)) == first
    worked = [answer(t, True) for t in first for _ in range(3)]
    assert {TOPICS[t].level for t in open_topics(standings(worked, GENERATED))} == {1, 2}
    # A topic that never comes right doesn't bar the way for ever.
    stuck = [answer("ends", False)] * 3 + [answer("sides", True)] * 3
    assert {TOPICS[t].level for t in open_topics(standings(stuck, GENERATED))} == {1, 2}


def test_a_newcomer_meets_the_ground_in_its_order() -> None:
    history: list[Answered] = []
    met: list[str] = []
    for number in range(120):
        topic = next_topic(history, GENERATED, START, Random(number))
        met += [topic] if topic not in met else []
        history.append(answer(topic, True))
        if len(met) == len(GENERATED):
            break
    assert met == list(GENERATED[: len(met)])
    assert met[0] == "ends" and len(met) > 6


def test_nothing_due_says_when_the_next_comes() -> None:
    history = [answer(t, True) for t in GENERATED for _ in range(30)]
    with pytest.raises(PracticeError) as told:
        next_topic(history, GENERATED, START, Random(1))
    assert told.value.code == "all-mastered"
    assert "2026-03-09" in told.value.next_step
    assert next_topic(history, GENERATED, START + timedelta(days=30), Random(1)) in GENERATED
