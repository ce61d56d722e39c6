"""Questions by their id, and the same test for everybody who asks for the same seed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from random import Random

from contactread.errors import PracticeError
from contactread.practice.question import Question
from contactread.practice.topics import GENERATED, TOPICS

# Part of every seed. It changes when a change of this room would make other questions from the same id, so
# that nobody takes two different tests for the same one.
EDITION = 2
_MOST_DRAWS = 500


def question(question_id: str) -> Question:
    """The question with this id, such as ``depth-4711``: always the same one.

    Raises PracticeError question-unknown.
    """
    topic_id, _, seed = question_id.rpartition("-")
    topic = TOPICS.get(topic_id)
    if topic is None or topic.make is None or not seed.isdecimal() or len(seed) > 12:
        raise PracticeError(
            "question-unknown",
            f"There is no question {question_id!r}.",
            f"A question's id is a topic and a number. Topics: {', '.join(GENERATED)}.",
        )
    for draw in range(_MOST_DRAWS):
        made = topic.make(Random(f"{EDITION}/{question_id}/{draw}"), question_id)
        if made is not None:
            return made
    raise AssertionError(f"no draw of {question_id} keeps its margin")


def same_test(seed: int, count: int, topics: Sequence[str] = GENERATED) -> list[Question]:
    """The test that belongs to a seed: `count` questions, the topics in turn from easy to hard.

    Raises PracticeError topic-unknown.
    """
    refuse_unknown(topics)
    chosen = [topics[k % len(topics)] for k in range(count)]
    chosen.sort(key=lambda topic: list(TOPICS).index(topic))
    stream = {topic: different(topic, seed) for topic in set(chosen)}
    return [next(stream[topic]) for topic in chosen]


def different(topic: str, seed: int) -> Iterator[Question]:
    """Questions of one topic without end, none shown twice."""
    rng = Random(f"{EDITION}/{topic}/{seed}")
    shown: set[object] = set()
    while True:
        made = question(f"{topic}-{rng.randrange(10**6)}")
        if made.fingerprint() not in shown:
            shown.add(made.fingerprint())
            yield made


def refuse_unknown(topics: Sequence[str], at_hand: Sequence[str] = GENERATED) -> None:
    """Raise PracticeError topic-unknown for a topic that isn't one of those at hand."""
    for topic in topics:
        if topic not in at_hand:
            raise PracticeError(
                "topic-unknown", f"There is nothing to ask on {topic!r}.", f"Topics: {', '.join(at_hand)}."
            )
