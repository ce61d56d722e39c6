"""Everything there is to ask: made by the mechanics, from photographs, from the shop's own jobs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from contactread.practice.photo_questions import photo_ids, photo_question
from contactread.practice.question import Question
from contactread.practice.questions import question
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
