"""Backlash and fasteners of a try: several values each, in tables of their own."""

from __future__ import annotations

from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.corrections import Correcting
from contactread.records.nouns import Fastener
from contactread.records.words import half, line, number


def backlash_of(book: Book, try_id: int) -> list[float]:
    rows = book.rows("SELECT mm FROM backlash WHERE try_id = ? ORDER BY place", try_id)
    return [row["mm"] for row in rows]


def replace_backlash(book: Book, try_id: int, places: list[float], note: Correcting) -> None:
    old = backlash_of(book, try_id)
    if old == places:
        return
    note("backlash_mm", old or None, places or None)
    book.delete("backlash", try_id=try_id)
    for place, mm in enumerate(places, start=1):
        book.insert("backlash", {"try_id": try_id, "place": place, "mm": mm})


def put_fastener(book: Book, try_id: int, given: Fastener, note: Correcting) -> None:
    name = line(given.name, "fastener's name", required=True)
    least = number(given.least_nm, "torque from the manual", 0, 5000, "N·m")
    most = number(given.most_nm, "torque from the manual", 0, 5000, "N·m")
    tightened = number(given.tightened_nm, "torque", 0, 5000, "N·m")
    if least is None or most is None or least > most:
        raise BookError(
            "record-value",
            f"The manual's torque for '{name}' runs from more to less. Nothing was recorded.",
            "Give the least first, then the most.",
        )
    old = book.row("SELECT * FROM fastener WHERE try_id = ? AND name = ?", try_id, name)
    values = {"least_nm": least, "most_nm": most, "tightened_nm": tightened}
    if old is None:
        book.insert("fastener", {"try_id": try_id, "name": name} | values)
    else:
        if any(old[column] not in (None, value) for column, value in values.items()):
            note(f"fastener {name}", [old[column] for column in values], list(values.values()))
        book.update("fastener", {"try_id": try_id, "name": name}, values)


def tighten(book: Book, try_id: int, name: str, nm: float, note: Correcting) -> None:
    tidy = line(name, "fastener's name", required=True)
    known = book.row("SELECT * FROM fastener WHERE try_id = ? AND name = ?", try_id, tidy)
    if known is None:
        raise half(
            f"The manual's torque for '{tidy}' isn't entered",
            "Enter it first, or in the same command, with --manual-torque.",
        )
    put_fastener(book, try_id, Fastener(tidy, known["least_nm"], known["most_nm"], nm), note)
