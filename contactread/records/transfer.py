"""The whole book as a folder of open files, and back.

``book.json`` (what is there, with SHA-256 of each table), ``tables/<name>.jsonl`` (one JSON object a
row, columns as in SCHEMA.md), ``photos/`` (originals as in the book), ``SCHEMA.md``.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from contactread import __version__
from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.failures import told
from contactread.records.photo_store import hash_of
from contactread.records.place import photo_folder, sync_folder
from contactread.records.schema_doc import schema_doc

FORMAT = "contactread shop book"
# In the order in which rows can be put back: what is referred to comes first.
TABLES = {
    "axle": "id", "job": "id", "try": "id", "backlash": "try_id, place", "fastener": "try_id, name",
    "photo": "id", "reading": "id", "advice": "id", "sign_off": "job_id", "check_list": "job_id, item",
    "correction": "id", "practice_answer": "id", "practice_case": "try_id",
}  # fmt: skip
Step = Callable[[], None]


def export_book(book: Book, folder: Path, step: Step = lambda: None) -> dict[str, int]:
    """Write the book into a new folder; rows by table. step: called for each photo copied.

    Raises `BookError` export-exists, photo-lost (a photo is missing or altered: see `check`), and those
    of a full or read-only disk; the folder then isn't left half written.
    """
    if folder.exists():
        raise _exists(folder)
    unfinished = folder.with_name(f"{folder.name}.unfinished")
    with told(folder):
        shutil.rmtree(unfinished, ignore_errors=True)
        (unfinished / "tables").mkdir(parents=True)
        try:
            with book.one_moment():
                tables = {name: _write_table(book, name, unfinished / "tables") for name in TABLES}
                photos = book.rows("SELECT sha256, suffix FROM photo ORDER BY sha256")
                schema = book.value("PRAGMA user_version")
            for sha256, suffix in photos:
                _copy_photo(book, sha256, suffix, unfinished / "photos")
                step()
            about = {"format": FORMAT, "schema": schema, "program": __version__, "tables": tables}
            (unfinished / "book.json").write_text(json.dumps(about, indent=1) + "\n", encoding="utf-8")
            (unfinished / "SCHEMA.md").write_text(schema_doc(), encoding="utf-8")
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
            "Name a new file with --book. Two books are never mixed.",
        )
    about = _about(folder)
    unfinished = path.with_name(f"{path.stem}-importing{path.suffix}")
    with told(path):
        _remove(unfinished)
        try:
            with Book(unfinished, write=True) as book:
                _refuse_other_schema(about, book, folder)
                rows = _fill(book, folder, about, step)
            photos = photo_folder(unfinished)
            photos.mkdir(exist_ok=True)
            photos.rename(photo_folder(path))
            unfinished.replace(path)
            sync_folder(path.parent)
        except BaseException:
            _remove(unfinished)
            raise
    return rows


def _write_table(book: Book, name: str, folder: Path) -> dict[str, Any]:
    digest, rows = hashlib.sha256(), 0
    with (folder / f"{name}.jsonl").open("wb") as file:
        for row in book.each(f"SELECT * FROM {name} ORDER BY {TABLES[name]}"):
            text = json.dumps(dict(row), ensure_ascii=False).encode() + b"\n"
            digest.update(text)
            file.write(text)
            rows += 1
    return {"rows": rows, "sha256": digest.hexdigest()}


def _copy_photo(book: Book, sha256: str, suffix: str, target: Path) -> None:
    source = book.photos.place(sha256, suffix)
    (target / sha256[:2]).mkdir(parents=True, exist_ok=True)
    copy = target / sha256[:2] / source.name
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
        about: dict[str, Any] = json.loads((folder / "book.json").read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise _not_ours(folder) from error
    tables = about.get("tables") if isinstance(about, dict) and about.get("format") == FORMAT else None
    if not isinstance(tables, dict) or set(tables) != set(TABLES):
        raise _not_ours(folder)
    return about


def _refuse_other_schema(about: dict[str, Any], book: Book, folder: Path) -> None:
    known = book.value("PRAGMA user_version")
    if about.get("schema") != known:
        raise BookError(
            "book-too-new",
            f"{folder} was exported with schema {about.get('schema')}; this contactread has {known}.",
            "Import it with the contactread that wrote it, or update contactread.",
        )


def _fill(book: Book, folder: Path, about: dict[str, Any], step: Step) -> dict[str, int]:
    counts = {}
    with book.writing():
        for name in TABLES:
            columns = {row["name"] for row in book.rows(f"PRAGMA table_info({name})")}
            counts[name] = 0
            for row in _read_table(folder / "tables" / f"{name}.jsonl", about["tables"][name]):
                if set(row) != columns:
                    raise _damaged(f"table {name} has other columns")
                _put_row(book, name, row)
                counts[name] += 1
    for sha256, suffix in book.rows("SELECT sha256, suffix FROM photo ORDER BY sha256"):
        target = book.photos.place(sha256, suffix)
        if target.parent.parent != book.photos.folder:
            raise _damaged(f"photo {sha256} has an odd name")
        target.parent.mkdir(parents=True, exist_ok=True)
        source = folder / "photos" / sha256[:2] / target.name
        if source.is_file():
            shutil.copyfile(source, target)
        if not source.is_file() or hash_of(target) != sha256:
            raise _damaged(f"photo {target.name} is missing or altered")
        with target.open("rb+") as file:
            os.fsync(file.fileno())
        sync_folder(target.parent)
        step()
    return counts


def _put_row(book: Book, name: str, row: dict[str, Any]) -> None:
    import sqlite3

    try:
        book.insert(name, row)
    except sqlite3.Error as error:
        raise _damaged(f"a row of table {name} breaks the schema: {error}") from error


def _read_table(path: Path, about: dict[str, Any]) -> Iterator[dict[str, Any]]:
    if hash_of(path) != about.get("sha256"):
        raise _damaged(f"{path.name} is missing or was altered")
    with path.open(encoding="utf-8") as file:
        for text in file:
            yield json.loads(text)


def _remove(unfinished: Path) -> None:
    shutil.rmtree(photo_folder(unfinished), ignore_errors=True)
    for ending in ("", "-wal", "-shm"):
        Path(f"{unfinished}{ending}").unlink(missing_ok=True)


def _exists(folder: Path) -> BookError:
    return BookError("export-exists", f"{folder} exists already; it was left as it is.", "Name a new folder.")


def _not_ours(folder: Path) -> BookError:
    return BookError(
        "import-format",
        f"{folder} is not an exported shop book: its book.json is missing or not ours.",
        "Give the folder that 'contactread export' wrote.",
    )


def _damaged(what: str) -> BookError:
    return BookError(
        "import-damaged",
        f"The exported book is damaged: {what}. Nothing was imported.",
        "Copy the exported folder again, or export the book again.",
    )
