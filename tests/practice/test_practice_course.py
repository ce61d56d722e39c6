"""Which topic comes next, for a simulated apprentice with known weak topics."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime, timedelta
from random import Random

import pytest

from contactread.errors import PracticeError
from contactread.practice.course import MASTERED, REST, next_topic, open_topics, standings
from contactread.practice.history import Answered
from contactread.practice.topics import GENERATED, TOPICS

START = datetime(2026, 3, 2, 8, tzinfo=UTC)


def answer(topic: str, score: float, at: datetime = START) -> Answered:
    return Answered(topic, f"{topic}-1", "a", score, at)


@pytest.mark.parametrize("seed", range(12))
def test_weak_topics_come_twice_as_often_and_mastered_ones_rest(seed: int) -> None:
    rng = Random(seed)
    weak = set(rng.sample(GENERATED, 3))
    history: list[Answered] = []
    for number in range(60):
        now = START + timedelta(minutes=number)
        topic = next_topic(history, GENERATED, now, rng)
        assert not standings(history, GENERATED)[topic].mastered
        history.append(answer(topic, float(rng.random() < (0.25 if topic in weak else 0.95)), now))
    times = Counter(a.topic for a in history)
    often = sum(times[t] for t in weak) / len(weak)
    rest = sum(times[t] for t in GENERATED if t not in weak) / (len(GENERATED) - len(weak))
    assert often >= 2 * rest


def test_two_right_at_first_master_a_topic_and_it_comes_back_on_its_day() -> None:
    history = [answer("ends", 1.0), answer("ends", 1.0)]
    standing = standings(history, GENERATED)["ends"]
    assert standing.step >= MASTERED
    assert standing.due == START + REST[standing.step]
    assert not standing.wanted(START) and standing.wanted(standing.due)


def test_a_wrong_answer_takes_mastery_away() -> None:
    history = [answer("ends", 1.0), answer("ends", 1.0), answer("ends", 0.0)]
    assert not standings(history, GENERATED)["ends"].mastered
    half = [answer("ends", 1.0), answer("ends", 0.5)]
    assert standings(half, GENERATED)["ends"].step == standings(half[:1], GENERATED)["ends"].step


def test_levels_open_one_after_the_other() -> None:
    first = [t for t in GENERATED if TOPICS[t].level == 1]
    assert open_topics(standings([], GENERATED)) == first
    worked = [answer(t, 1.0) for t in first for _ in range(2)]
    assert {TOPICS[t].level for t in open_topics(standings(worked, GENERATED))} == {1, 2}
    # A topic that never comes right doesn't bar the way for ever.
    stuck = [answer("ends", 0.0)] * 3 + [answer("sides", 1.0)] * 2
    assert {TOPICS[t].level for t in open_topics(standings(stuck, GENERATED))} == {1, 2}


def test_a_newcomer_meets_the_ground_in_its_order() -> None:
    history: list[Answered] = []
    met: list[str] = []
    for number in range(30):
        topic = next_topic(history, GENERATED, START, Random(number))
        met += [topic] if topic not in met else []
        history.append(answer(topic, 1.0))
        if len(history) == 30 or len(met) == len(GENERATED):
            break
    assert met == list(GENERATED[: len(met)])
    assert met[0] == "ends"


def test_all_mastered_says_when_the_next_comes() -> None:
    history = [answer(t, 1.0) for t in GENERATED for _ in range(2)]
    with pytest.raises(PracticeError) as told:
        next_topic(history, GENERATED, START, Random(1))
    assert told.value.code == "all-mastered"
    assert "2026-03-0" in told.value.next_step
    assert next_topic(history, GENERATED, START + timedelta(days=30), Random(1)) in GENERATED
