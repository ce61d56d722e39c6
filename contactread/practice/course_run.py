"""The course for one apprentice: which question comes next, from the kept answers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from random import Random

from contactread.errors import PracticeError
from contactread.practice.catalog import Catalog
from contactread.practice.course import next_topic
from contactread.practice.history import answers_of
from contactread.practice.question import Question
from contactread.practice.questions import refuse_unknown
from contactread.records.book import Book


def course_questions(
    catalog: Catalog, book: Book, apprentice: str, count: int, only: Sequence[str] = ()
) -> Iterator[Question]:
    """The next questions, each chosen when it is asked, so that the last answer already counts.

    only: these topics instead of the course's choice. Fewer come where nothing more is due. Raises
    PracticeError all-mastered (nothing is due at all), topic-unknown; `BookError` of a nameless apprentice.
    """
    topics = catalog.topics()
    refuse_unknown(only, topics)
    for number in range(count):
        history = answers_of(book, apprentice)
        # The apprentice and the count of answers decide the draw, so that a stopped lesson goes on as it was.
        rng = Random(f"{apprentice}/{len(history)}/{number if only else ''}")
        if only:
            topic = only[number % len(only)]
        else:
            try:
                topic = next_topic(history, topics, book.clock(), rng)
            except PracticeError:
                if number == 0:
                    raise
                return
        yield catalog.fresh(topic, (answer.question_id for answer in history), rng)
