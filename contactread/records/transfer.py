"""The whole book as a folder of open files, and back.

``book.json`` (what is there, with SHA-256 of each table), ``tables/<name>.jsonl`` (one JSON object a
row, columns as in SCHEMA.md), ``photos/`` (originals as in the book), ``SCHEMA.md``.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from contactread import __version__
from contactread.errors import BookError
from contactread.outside import Unfit, from_json, read_json
from contactread.photo.limits import MOST_BYTES
from contactread.records.book import Book
from contactread.records.check import check_facts
from contactread.records.failures import told
from contactread.records.log import TABLES
from contactread.records.migrate import steps
from contactread.records.photo_store import OTHER, SUFFIXES, PhotoStore, hash_of
from contactread.records.photos import kept_photos
from contactread.records.place import backup_folder, own_folder, photo_folder, sync_folder

FORMAT = "contactread shop book"
SCHEMA = Path(__file__).with_name("SCHEMA.md")
_MOST_ABOUT, _MOST_ROW = 100_000, 10_000_000  # bytes of book.json, and of one row
# In the order in which rows can be put back; each with the columns that order its rows.
ORDER = {**TABLES, "entry": ("id",), "change": ("entry_id", "number")}
Step = Callable[[], None]


def export_book(book: Book, folder: Path, step: Step = lambda: None) -> dict[str, int]:
    """Write the book into a new folder; rows by table. step: called for each photo copied.

    Raises `BookError` export-exists, photo-lost (a photo is missing or altered: see `check`), and those
    of a full or read-only disk; the folder then isn't left half written.
    """
    if folder.exists():
        raise BookError(
            "export-exists", f"{folder} exists already; it was left as it is.", "Name a new folder."
        )
    unfinished = folder.with_name(f"{folder.name}.unfinished")
    with told(folder):
        shutil.rmtree(unfinished, ignore_errors=True)
        own_folder(unfinished)
        (unfinished / "tables").mkdir()
        try:
            with book.one_moment():
                tables = {name: _write_table(book, name, unfinished / "tables") for name in ORDER}
                photos = kept_photos(book)
                schema = book.value("PRAGMA user_version")
            for sha256, suffix, _ in photos:
                _copy_photo(book, sha256, suffix, unfinished)
                step()
            about = {"format": FORMAT, "schema": schema, "program": __version__, "tables": tables}
            (unfinished / "book.json").write_text(json.dumps(about, indent=1) + "\n", encoding="utf-8")
            shutil.copyfile(SCHEMA, unfinished / SCHEMA.name)
            _sync_files(unfinished)
            unfinished.rename(folder)
        except BaseException:
            shutil.rmtree(unfinished, ignore_errors=True)
            raise
    return {name: table["rows"] for name, table in tables.items()}


def import_book(folder: Path, path: Path, step: Step = lambda: None) -> dict[str, int]:
    """Make a new book at `path` from an exported folder; rows by table. All of it or nothing.

    Raises `BookError` import-exists (there is a book already), import-format, import-damaged,
    book-too-new.
    """
    if path.exists() or photo_folder(path).exists():
        raise BookError(
            "import-exists",
            f"There is a shop book at {path} already. Nothing was changed.",
            "Name a new file with --book, or merge the two.",
        )
    unfinished = path.with_name(f"{path.stem}-importing{path.suffix}")
    with told(path):
        try:
            rows = unpack(folder, unfinished, step)
            photos = photo_folder(unfinished)
            own_folder(photos)
            photos.rename(photo_folder(path))
            unfinished.replace(path)
            sync_folder(path.parent)
        except BaseException:
            remove(unfinished)
            raise
        remove(unfinished)
    return rows


def unpack(folder: Path, path: Path, step: Step = lambda: None, *, photos: bool = True) -> dict[str, int]:
    """Make a book of this program's schema at `path`, whatever lay there, from an exported folder; rows by
    table. Everything in it is checked. photos: whether they are copied too.

    Raises `BookError` import-format, import-damaged, book-too-new.
    """
    about = _about(folder)
    remove(path)
    schema = tuple(each for each in steps() if each.number <= about["schema"])
    with Book(path, write=True, schema=schema) as book:
        rows = _fill(book, folder, about)
    Book(path, write=True).close()  # An older book is brought up to date.
    with Book(path) as book:
        database: list[str] = []
        changed, impossible = check_facts(book, database)
        if findings := [*database, *impossible, *changed]:
            raise damaged(findings[0])
        for sha256, suffix, _ in kept_photos(book) if photos else []:
            _put_photo(book, folder, sha256, suffix)
            step()
    return rows


def original(folder: Path, sha256: str, suffix: str) -> Path:
    """Where a photo lies in an exported book."""
    return PhotoStore(folder / "photos").place(sha256, suffix)


def _write_table(book: Book, name: str, folder: Path) -> dict[str, Any]:
    digest, rows = hashlib.sha256(), 0
    with (folder / f"{name}.jsonl").open("wb") as file:
        for row in book.each(f"SELECT * FROM {name} ORDER BY {', '.join(ORDER[name])}"):
            text = json.dumps(dict(row), ensure_ascii=False).encode() + b"\n"
            digest.update(text)
            file.write(text)
            rows += 1
    return {"rows": rows, "sha256": digest.hexdigest()}


def _copy_photo(book: Book, sha256: str, suffix: str, target: Path) -> None:
    source, copy = book.photos.place(sha256, suffix), original(target, sha256, suffix)
    copy.parent.mkdir(parents=True, exist_ok=True)
    if source.is_file():
        shutil.copyfile(source, copy)
    if not source.is_file() or hash_of(copy) != sha256:
        raise BookError(
            "photo-lost",
            f"The photo {source.name} is missing from the book or was altered.",
            "Run 'contactread check', put the photos it names back from a backup, then export again.",
        )


def _sync_files(folder: Path) -> None:
    """Make every file durable before the folder takes its final name."""
    for path in folder.rglob("*"):
        if path.is_file():
            with path.open("rb+") as file:
                os.fsync(file.fileno())
    sync_folder(folder)


def _about(folder: Path) -> dict[str, Any]:
    try:
        about: dict[str, Any] = read_json(folder / "book.json", _MOST_ABOUT)
    except Unfit as error:
        raise _not_ours(folder, str(error)) from error
    tables = about.get("tables") if isinstance(about, dict) and about.get("format") == FORMAT else None
    if not isinstance(tables, dict) or not all(isinstance(each, dict) for each in tables.values()):
        raise _not_ours(folder)
    newest = steps()[-1].number
    if not isinstance(about.get("schema"), int) or not 1 <= about["schema"] <= newest:
        raise BookError(
            "book-too-new",
            f"{folder} was exported with schema {str(about.get('schema'))[:20]}; this contactread knows "
            f"{newest}.",
            "Update contactread, then do this again.",
        )
    return about


def _fill(book: Book, folder: Path, about: dict[str, Any]) -> dict[str, int]:
    counts = {}
    present = {row["name"] for row in book.rows("SELECT name FROM sqlite_master WHERE type = 'table'")}
    names = [name for name in ORDER if name in present]
    if set(about["tables"]) != set(names):
        raise damaged("it lacks a table, or has one too many")
    with book.writing():
        for name in names:
            columns = {row["name"] for row in book.rows(f"PRAGMA table_info({name})")}
            rows = _read_table(folder / "tables" / f"{name}.jsonl", about["tables"][name], columns)
            try:
                counts[name] = book.put_back(name, rows)
            except (sqlite3.Error, BookError) as error:
                if isinstance(error, BookError) and error.code != "record-value":
                    raise
                raise damaged(f"a row of table {name} breaks the schema: {error}") from error
        bad = sorted({row["suffix"] for row in book.rows("SELECT suffix FROM photo")} - SUFFIXES - {OTHER})
        names = [row["sha256"] for row in book.rows("SELECT sha256 FROM photo")]
        odd = [name for name in names if not re.fullmatch("[0-9a-f]{64}", name)]
        if bad or odd:
            raise damaged(f"a photo has an odd name: {(bad or odd)[0][:80]!r}")
    return counts


def _put_photo(book: Book, folder: Path, sha256: str, suffix: str) -> None:
    source, target = original(folder, sha256, suffix), book.photos.place(sha256, suffix)
    own_folder(target.parent)
    if source.is_file() and source.stat().st_size <= MOST_BYTES:
        shutil.copyfile(source, target)
        target.chmod(book.photos.mode)
    if not source.is_file() or hash_of(target) != sha256:
        raise damaged(f"photo {target.name} is missing or altered")
    with target.open("rb+") as file:
        os.fsync(file.fileno())
    sync_folder(target.parent)


def _read_table(path: Path, about: dict[str, Any], columns: set[str]) -> Iterator[dict[str, Any]]:
    if hash_of(path) != about.get("sha256"):
        raise damaged(f"{path.name} is missing or was altered")
    with path.open("rb") as file:
        while text := file.readline(_MOST_ROW + 1):
            try:
                row = from_json(text) if len(text) <= _MOST_ROW else None
            except Unfit as error:
                raise damaged(f"a line of {path.name} can't be used: {error}") from error
            if not isinstance(row, dict) or set(row) != columns:
                raise damaged(f"table {path.stem} has other columns")
            if any(isinstance(value, list | dict) for value in row.values()):
                raise damaged(f"table {path.stem} has a value of several parts")
            yield row


def remove(path: Path) -> None:
    """Take away an unfinished book, with all that lies beside it."""
    for folder in (photo_folder(path), backup_folder(path)):
        shutil.rmtree(folder, ignore_errors=True)
    for ending in ("", "-wal", "-shm"):
        Path(f"{path}{ending}").unlink(missing_ok=True)


def _not_ours(folder: Path, why: str = "it wasn't written by contactread") -> BookError:
    return BookError(
        "import-format",
        f"{folder} is not an exported shop book. Its book.json: {why}.",
        "Give the folder that 'contactread export' wrote.",
    )


def damaged(what: str) -> BookError:
    """The error for an exported book that can't be taken in."""
    return BookError(
        "import-damaged",
        f"The exported book is damaged: {what}. Nothing was imported.",
        "Copy the exported folder again, or export the book again.",
    )
