"""Everything there is to ask: made by the mechanics, from photographs, from the shop's own jobs; and which
question comes next in an apprentice's course."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

from contactread.errors import PracticeError
from contactread.practice.course import next_topic
from contactread.practice.history import answers_of
from contactread.practice.photo_questions import photo_ids, photo_question
from contactread.practice.question import Question
from contactread.practice.questions import question, refuse_unknown
from contactread.practice.shop_questions import shop_ids, shop_question
from contactread.practice.topics import GENERATED
from contactread.records.book import Book


@dataclass(frozen=True)
class Catalog:
    """book: for the shop's own questions, None without. photos: folder of photographs with truth; None takes
    those that come with the project.
    """

    book: Book | None = None
    photos: Path | None = None

    def stored(self, topic: str) -> tuple[str, ...]:
        """Ids of the questions of a topic that isn't made by the mechanics."""
        if topic == "photo":
            return photo_ids(self.photos)
        return shop_ids(self.book) if topic == "shop" and self.book is not None else ()

    def topics(self) -> tuple[str, ...]:
        """Topics that have something to ask."""
        return (*GENERATED, *(topic for topic in ("photo", "shop") if self.stored(topic)))

    def question(self, question_id: str) -> Question:
        """The question with this id. Raises PracticeError question-unknown."""
        topic = question_id.partition("-")[0]
        if topic == "photo":
            return photo_question(question_id, self.photos)
        if topic == "shop" and self.book is not None:
            return shop_question(self.book, question_id)
        return question(question_id)

    def fresh(self, topic: str, asked: Iterable[str], rng: Random) -> Question:
        """A question of a topic, one that wasn't asked before where there is one."""
        known = set(asked)
        if topic in GENERATED:
            while True:
                question_id = f"{topic}-{rng.randrange(10**6)}"
                if question_id not in known:
                    return question(question_id)
        stored = self.stored(topic)
        return self.question(rng.choice([i for i in stored if i not in known] or list(stored)))


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
