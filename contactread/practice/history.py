"""What apprentices answered, kept in the shop book."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from contactread.practice.marking import Mark
from contactread.records.book import Book
from contactread.records.words import line

_RIGHT = 0.75  # books of old kept half right answers as 0.5
CONSENTED = "with consent: "  # before an answer that may be used to measure how well people read


@dataclass(frozen=True)
class Answered:
    """One kept answer. answered_at: UTC. test: seed of the test it belongs to, None for the course."""

    topic: str
    question_id: str
    given: str
    right: bool
    answered_at: datetime
    test: int | None = None


def apprentice_name(name: str) -> str:
    """The name as the book keeps it. Raises `BookError` record-half for an empty one, record-value."""
    return line(name, "apprentice's name", required=True)


def keep_answer(
    book: Book, apprentice: str, mark: Mark, test: int | None = None, consent: bool = False
) -> None:
    """Keep one marked answer; durable when this returns. consent: whether a patch that was marked in a
    photograph may be kept too, by name; else only whether it was right.
    """
    given = mark.given
    if mark.topic == "photo":
        given = CONSENTED + mark.given if consent and mark.centre is not None else ""
    values = {
        "apprentice": apprentice_name(apprentice),
        "answered_at": book.stamp(),
        "topic": mark.topic,
        "question": mark.question_id,
        "given": line(given[:300], "answer"),
        "score": float(mark.right),
        "test": test,
    }
    with book.writing():
        book.insert("practice_answer", values)


def answers_of(book: Book, apprentice: str) -> list[Answered]:
    """Everything an apprentice answered, oldest first."""
    rows = book.rows(
        "SELECT * FROM practice_answer WHERE apprentice = ? ORDER BY id", apprentice_name(apprentice)
    )
    return [
        Answered(
            row["topic"], row["question"], row["given"], row["score"] >= _RIGHT,
            datetime.fromisoformat(row["answered_at"]), row["test"],
        )
        for row in rows
    ]  # fmt: skip


def apprentices(book: Book) -> list[str]:
    """Everybody who ever answered, by name."""
    return [
        row[0] for row in book.rows("SELECT DISTINCT apprentice FROM practice_answer ORDER BY apprentice")
    ]
