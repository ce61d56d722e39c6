"""Values that were replaced, moved or struck out: noted beside what stands there now, and read back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from contactread.records.book import Book
from contactread.records.nouns import Correction
from contactread.records.rows import noun_of
from contactread.records.words import paragraph


@dataclass(frozen=True)
class Correcting:
    """Notes what one person corrects on a job, or on one try of it, inside `writing()`."""

    book: Book
    job_id: int
    try_id: int | None
    who: str
    reason: str = ""

    def __call__(self, field: str, old: Any, new: Any) -> None:
        """Note one value; nothing where there was none before, or where it stays."""
        if old is None or old == new:
            return
        sql = (
            "SELECT EXISTS (SELECT 1 FROM reopening WHERE job_id = ?1) "
            "OR EXISTS (SELECT 1 FROM sign_off WHERE job_id = ?1)"
        )
        self.book.insert("correction", {
            "job_id": self.job_id, "try_id": self.try_id, "field": field, "old_value": str(old),
            "new_value": None if new is None else str(new), "reason": paragraph(self.reason, "reason"),
            "corrected_by": self.who, "corrected_at": self.book.stamp(),
            "after_sign_off": self.book.value(sql, self.job_id),
        })  # fmt: skip


def corrections_of(book: Book, job_id: int) -> tuple[Correction, ...]:
    """Everything that was corrected on a job, oldest first."""
    rows = book.rows(
        "SELECT correction.*, old_value AS old, new_value AS new, number AS attempt "
        "FROM correction LEFT JOIN try ON try.id = try_id WHERE correction.job_id = ? ORDER BY correction.id",
        job_id,
    )
    return tuple(noun_of(Correction, row, after_sign_off=bool(row["after_sign_off"])) for row in rows)
