"""SCHEMA.md from the schema's own comments: ``python -m calibration.schema_doc``."""

from __future__ import annotations

import re

from contactread.records.migrate import steps
from contactread.records.transfer import SCHEMA

_TABLE = re.compile(r"CREATE TABLE (\w+) \( -- (.+)")
_COLUMN = re.compile(r"    (\w+) (INTEGER|REAL|TEXT)\b(.*?),? -- (.+)")
_ADDED = re.compile(r"ALTER TABLE (\w+) ADD COLUMN (\w+) (INTEGER|REAL|TEXT)\b(.*?); -- (.+)")
_RENAMED = re.compile(r"ALTER TABLE (\w+) RENAME TO (\w+);")
_HEAD = """# The shop book's tables

Made from the schema by `python -m calibration.schema_doc`; a test keeps it true. The book is one
SQLite file that any SQLite program can read. Times are UTC, `YYYY-MM-DDTHH:MM:SSZ`. Lengths are mm,
torques N·m. Original photos lie beside the book in `<book>-photos/<first two of SHA-256>/<SHA-256>.<ending>`.
`export` writes each table as one file of JSON lines with the same names.
"""


def schema_doc() -> str:
    """The page, as Markdown: the tables as all steps together leave them."""
    tables: dict[str, tuple[str, list[str]]] = {}
    columns: list[str] = []
    for text in (line for step in steps() for line in step.sql.splitlines()):
        if table := _TABLE.fullmatch(text):
            columns = []
            tables[table[1]] = (table[2], columns)
        elif column := _COLUMN.fullmatch(text):
            columns.append(_row(*column.groups()))
        elif added := _ADDED.fullmatch(text):
            tables[added[1]][1].append(_row(*added.groups()[1:]))
        elif renamed := _RENAMED.fullmatch(text):
            tables[renamed[2]] = tables.pop(renamed[1])
    parts = [_HEAD]
    for name, (words, rows) in tables.items():
        parts.append(f"\n## {name}\n\n{words}\n\n")
        parts.append("| column | type | empty | meaning |\n|---|---|---|---|\n")
        parts += rows
    return "".join(parts)


def _row(name: str, kind: str, rules: str, words: str) -> str:
    empty = "no" if "NOT NULL" in rules or "PRIMARY KEY" in rules else "may be"
    return f"| {name} | {kind} | {empty} | {words} |\n"


if __name__ == "__main__":
    SCHEMA.write_text(schema_doc(), encoding="utf-8")
