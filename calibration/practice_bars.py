"""The bars of practice: 1,000 questions held against the mechanics and the chart, and a simulated apprentice.

    python -m calibration.practice_bars [--questions 1000] [--seed 1]

Prints each figure and ends with exit code 1 where a bar is missed.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from contactread.advice import advise
from contactread.practice.chart import as_setup
from contactread.practice.course import next_topic, standing_in
from contactread.practice.history import Answered
from contactread.practice.marking import mark
from contactread.practice.present import MARK_LINES, SCREEN, mark_lines, question_lines
from contactread.practice.question import Choice
from contactread.practice.questions import different
from contactread.practice.topics import GENERATED, TOPICS

sys.path.append(str(Path(__file__).parents[1] / "tests" / "practice"))  # the proof stands among the tests

from soundness import direction_of, faults_of

MOST_MS = 100.0
SITTING, COURSE = 120, 200
KNOWS, GUESSES = 0.95, 0.25


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--questions", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--advised", type=int, default=30, help="questions also put to contactread's advice")
    args = parser.parse_args()
    met = [_questions(args.questions, args.seed), _apprentices(args.seed), _advised(args.advised, args.seed)]
    return 0 if all(met) else 1


def _questions(count: int, seed: int) -> bool:
    times: list[float] = []
    slowest: Counter[str] = Counter()
    made, faults, against = [], [], 0
    streams = {topic: different(topic, seed) for topic in GENERATED}
    for k in range(count):
        topic = GENERATED[k % len(GENERATED)]
        start = time.process_time()
        question = next(streams[topic])
        times.append((time.process_time() - start) * 1000)
        slowest[topic] = max(slowest[topic], round(times[-1]))
        made.append(question)
        against += question.against_chart is not None
    for question in made:
        faults += [f"{question.id}: {fault}" for fault in faults_of(question)]
    screens = [len(question_lines(q, 100)) + 1 for q in made]
    choices = [(q, q.answer.options) for q in made if isinstance(q.answer, Choice)]
    marks = [len(mark_lines(mark(q, option.key))) for q, options in choices for option in options]
    repeats = count - len({question.fingerprint() for question in made})
    mean, ordered = statistics.fmean(times), sorted(times)
    print(f"{count} questions on {len(GENERATED)} topics, seed {seed}")
    print(f"  not sound: {len(faults)} (bar: 0)")
    print("\n".join(f"    {fault}" for fault in faults[:20]), end="\n" if faults else "")
    print(f"  least margin: {min(q.margin for q in made):.3f}, each stated in its question")
    print(f"  against the chart, and saying so: {against}")
    print(f"  repeated: {repeats} (bar: 0)")
    print(
        f"  lines of a question: most {max(screens)} (bar: {SCREEN}); of a mark: most {max(marks)} "
        f"(bar: {MARK_LINES})"
    )
    print(
        f"  processor time a question: mean {mean:.0f} ms (bar: under {MOST_MS:.0f}), median "
        f"{ordered[count // 2]:.0f}, 95 % under {ordered[int(count * 0.95)]:.0f}, slowest {ordered[-1]:.0f} "
        f"({slowest.most_common(1)[0][0]})"
    )
    return (
        not faults and not repeats and mean < MOST_MS and max(screens) <= SCREEN and max(marks) <= MARK_LINES
    )


def _advised(count: int, seed: int) -> bool:
    """What the project's own advice, which never sees the hidden mis-set-up, moves first."""
    agree, topics = 0, ("depth", "backlash", "used")
    streams = {topic: different(topic, seed + 1) for topic in topics}
    for k in range(count):
        question = next(streams[topics[k % len(topics)]])
        assert question.case is not None
        advice = advise(as_setup(question.case), question.case.axle)
        first = (0, 0)
        if advice.moves:
            way = -1 if advice.moves[0].direction == "toward" else 1
            first = (way, 0) if advice.moves[0].member == "pinion" else (0, way)
        agree += first == direction_of(question, question.case)
    print(
        f"advice, blind to what is hidden: {agree} of {count} first moves as the question answers (bar: all)"
    )
    return agree == count


def _apprentices(seed: int, count: int = 40) -> bool:
    """Simulated apprentices, each weak in three topics; and a thousand who know nothing."""
    ratios = [simulate(seed * 1000 + k) for k in range(count)]
    print(f"{count} simulated apprentices, three weak topics each, {SITTING} questions")
    print(f"  weak topics against the rest: {min(ratios):.1f} to {max(ratios):.1f} times as often (bar: 2)")
    mastered = sum(_guessed(seed * 1000 + k) for k in range(1000))
    print(f"1000 courses of {COURSE} answers by somebody who guesses: {mastered} topics mastered (bar: 0)")
    return min(ratios) >= 2 and mastered == 0


def simulate(seed: int) -> float:
    """One sitting: how much more often weak topics came."""
    rng = Random(seed)
    weak = set(rng.sample(GENERATED, 3))
    history: list[Answered] = []
    now = datetime(2026, 3, 2, 8, tzinfo=UTC)
    for number in range(SITTING):
        now += timedelta(minutes=1)
        topic = next_topic(history, GENERATED, now, rng)
        right = rng.random() < (GUESSES if topic in weak else KNOWS)
        history.append(Answered(topic, f"{topic}-{number}", "a", right, now))
    times = Counter(answer.topic for answer in history)
    rest = [times[topic] for topic in GENERATED if topic not in weak]
    return statistics.fmean(times[topic] for topic in weak) / max(statistics.fmean(rest), 1e-9)


def _guessed(seed: int) -> int:
    """How many topics are mastered at any time of a course by guessing, ten answers a day."""
    rng, start = Random(seed), datetime(2026, 3, 2, 8, tzinfo=UTC)
    by_topic: dict[str, list[Answered]] = {topic: [] for topic in GENERATED}
    mastered = set()
    for number in range(COURSE):
        topic = rng.choice(GENERATED)
        at = start + timedelta(days=number // 10)
        by_topic[topic].append(Answered(topic, topic, "a", rng.random() < TOPICS[topic].guess, at))
        mastered |= {topic} if standing_in(topic, by_topic[topic]).mastered else set()
    return len(mastered)


if __name__ == "__main__":
    raise SystemExit(main())
