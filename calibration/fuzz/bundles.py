"""Altered exports of a shop book, as a stranger may send them: files lost, cut, swapped for pipes, devices or
links; rows changed, with sums put right; and whole books forged with a sound log.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from calibration.fuzz.console import Broken, answered
from calibration.fuzz.texts import RAW, READING, SET_UP, WORDS

_NUMBERS = (0, -1, 1e308, -1e308, 5e-324, 2**62, 2**63, -(2**63), True, 0.5, 10**6)
_WHOLE = [
    ["job", "list"], ["job", "sheet", "1"], ["check"], ["log"], ["ask", "walk", "1"], ["ask", "jobs"],
    ["ask", "tries"], ["ask", "shims"], ["ask", "refused"], ["ask", "runout"], ["ask", "search", "Unit"],
    ["try", "advise", "1", "--who", "Bo"], ["practice", "progress"], ["undo", "--who", "Bo"],
]  # fmt: skip


@dataclass(frozen=True)
class Alteration:
    """One altered bundle, by its number. folder: holds ``base`` (the sound bundle) and ``book.sqlite``."""

    folder: str
    seed: int
    number: int


def make_bundle(folder: Path) -> None:
    """A small invented shop book, and its export as ``base``."""
    from contactread.records.book import Book
    from contactread.records.jobs import open_job
    from contactread.records.nouns import Fastener
    from contactread.records.photos import keep_advice, keep_photo
    from contactread.records.sign_off import check_list, sign_off
    from contactread.records.transfer import export_book
    from contactread.records.tries import record, start_try

    axle = (SET_UP / "axle.toml").read_text(encoding="utf-8")
    with Book(folder / "book.sqlite", write=True) as book:
        for number in (1, 2):
            job = open_job(book, vehicle=f"Unit {number}", axle_text=axle, who="Ana", notes="two\nlines")
            attempt = start_try(book, job.id, pinion_shim_mm=0.9)
            bolts = [Fastener("caps", 100.0, 120.0, 110.0)]
            record(book, job.id, backlash_mm=[0.15, 0.18], ring_runout_mm=0.03, fasteners=bolts)
            for side, photo in zip(("drive", "coast"), READING["photos"], strict=True):
                kept: dict[str, Any] = {
                    **photo, "refusal": None, "confidence": 0.9, "flags": [], "teeth": [],
                    "pattern": photo["pattern"] | {"spread": {"length": 0.01, "height": 0.02}},
                }  # fmt: skip
                data = f"{number} {side}".encode() * 40
                keep_photo(book, data, name=f"{side}.jpg", who="Ana", try_id=attempt.id, reading=kept)
            moves: dict[str, Any] = {"pinion_shim_change_mm": 0.1, "ring_move_mm": None, "advice": {"a": 1}}
            keep_advice(book, attempt.id, verdict="acceptable", **moves)
        sign_off(book, 2, who="Ana", confirmed=check_list(), despite="A test")
        export_book(book, folder / "base")


def bring_in(case: Alteration) -> str:
    """Alter the bundle, bring it in, and ask questions of what came in; the code. Raises Broken."""
    rng = random.Random(f"{case.seed} {case.number}")
    with tempfile.TemporaryDirectory(dir=case.folder) as place:
        folder = Path(place)
        os.environ["CONTACTREAD_SETTINGS"] = str(folder / "settings.toml")
        kind = rng.choice(("file", "about", "row", "row", "forged", "forged"))
        if kind == "forged":
            if not _forged(Path(case.folder), folder, rng):
                return "not forged"
        else:
            shutil.copytree(Path(case.folder, "base"), folder / "bundle")
            _ALTERED[kind](folder / "bundle", rng)
        way, book = rng.choice(("new", "new", "merge", "back")), folder / "here.sqlite"
        if way == "merge":
            shutil.copy(Path(case.folder, "book.sqlite"), book)
            shutil.copytree(Path(case.folder, "book-photos"), folder / "here-photos")
        command = ["restore"] if way == "back" else ["import", "--who", "Bo"]
        code = answered([*command, str(folder / "bundle"), "--book", str(book), "--json"])
        if code == "done":
            _ask(book, rng)
        return code


def _ask(book: Path, rng: random.Random) -> None:
    asked = [*rng.sample(_WHOLE, 4), ["report", "1", "-o", str(book.with_name("report.html"))]]
    for words in asked:
        arguments = [*words, "--book", str(book), *(["--json"] if rng.random() < 0.5 else [])]
        try:
            answered(arguments)
        except Exception as error:
            raise Broken(f"{' '.join(words)}: {error!r}") from error


def _files(bundle: Path) -> list[Path]:
    return sorted(path for path in bundle.rglob("*") if path.is_file())


def _alter_file(bundle: Path, rng: random.Random) -> None:
    path = rng.choice(_files(bundle))
    data, kind = (
        path.read_bytes(),
        rng.choice(("lost", "cut", "flip", "pipe", "device", "link", "folder", "long")),
    )
    path.unlink()
    if kind == "cut":
        path.write_bytes(data[: rng.randrange(len(data) + 1)])
    elif kind == "flip":
        spoilt = bytearray(data or b"x")
        spoilt[rng.randrange(len(spoilt))] ^= 1 << rng.randrange(8)
        path.write_bytes(spoilt)
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind in ("device", "link"):
        path.symlink_to("/dev/zero" if kind == "device" else rng.choice(("/etc/passwd", path.name)))
    elif kind == "folder":
        path.mkdir()
    elif kind == "long":
        with path.open("wb") as file:
            file.write(data)
            file.truncate(10**11)  # sparse: takes no room


def _alter_about(bundle: Path, rng: random.Random) -> None:
    path = bundle / "book.json"
    about = json.loads(path.read_text(encoding="utf-8"))
    holder = rng.choice((about, about["tables"], about["tables"]["job"]))
    holder[rng.choice([*holder, "more"])] = "@raw@"
    words = rng.choice((*RAW, '"../../x"', '{"rows": 1}', "99", "-1", '"1"'))
    path.write_text(json.dumps(about).replace('"@raw@"', words), encoding="utf-8", errors="surrogatepass")


def _alter_row(bundle: Path, rng: random.Random) -> None:
    """A value of a row, raw JSON included, with the table's sum put right."""
    tables = [path for path in sorted((bundle / "tables").iterdir()) if path.stat().st_size]
    path = rng.choice(tables)
    lines = path.read_text(encoding="utf-8").splitlines()
    at = rng.randrange(len(lines))
    row = json.loads(lines[at])
    row[rng.choice([*row, "more"])] = "@raw@"
    value = rng.choice((*RAW, *map(json.dumps, WORDS), *map(json.dumps, _NUMBERS)))
    lines[at] = json.dumps(row, ensure_ascii=False).replace('"@raw@"', value)
    if rng.random() < 0.2:
        lines.append(lines[at])
    data = "".join(f"{line}\n" for line in lines).encode("utf-8", "surrogatepass")
    path.write_bytes(data)
    about = json.loads((bundle / "book.json").read_text(encoding="utf-8"))
    about["tables"][path.stem] = {"rows": len(lines), "sha256": hashlib.sha256(data).hexdigest()}
    (bundle / "book.json").write_text(json.dumps(about), encoding="utf-8")


_ALTERED: dict[str, Callable[[Path, random.Random], None]] = {
    "file": _alter_file,
    "about": _alter_about,
    "row": _alter_row,
}


def _forged(base: Path, folder: Path, rng: random.Random) -> bool:
    """A bundle whose log explains the altered value: its author had the program. False where that fails."""
    from contactread.errors import BookError
    from contactread.records.book import Book
    from contactread.records.log import TABLES
    from contactread.records.transfer import export_book

    path = folder / "forged.sqlite"
    shutil.copy(base / "book.sqlite", path)
    shutil.copytree(base / "book-photos", folder / "forged-photos")
    with Book(path, write=True) as book:
        table = rng.choice([name for name in TABLES if book.value(f"SELECT count(*) FROM {name}")])
        row = dict(rng.choice(book.rows(f"SELECT * FROM {table}")))
        column = rng.choice([name for name in row if name not in TABLES[table]])
        value = _value(row[column], rng)
        try:
            with book.writing("forged", who="Eve"):
                book.update(table, {name: row[name] for name in TABLES[table]}, {column: value})
            export_book(book, folder / "bundle")
        except (BookError, sqlite3.Error, UnicodeEncodeError, OSError):
            return False
    return True


def _value(old: Any, rng: random.Random) -> Any:
    if isinstance(old, str) and old.startswith(("{", "[")):
        whole = json.loads(old)
        holder = whole
        while isinstance(holder, dict | list) and holder and rng.random() < 0.8:
            key = rng.choice([*holder] if isinstance(holder, dict) else range(len(holder)))
            if not isinstance(holder[key], dict | list) or not holder[key]:
                break
            holder = holder[key]
        if isinstance(holder, dict | list) and holder:
            key = rng.choice([*holder] if isinstance(holder, dict) else range(len(holder)))
            holder[key] = rng.choice((*WORDS[:10], *_NUMBERS, None, [], {}, [[1, 2], [3, 4]], "@raw@"))
        return json.dumps(whole).replace('"@raw@"', rng.choice(RAW))
    if isinstance(old, str):
        return rng.choice((*WORDS, *_NUMBERS, None))
    return rng.choice((*_NUMBERS, None, *WORDS[:8]))
