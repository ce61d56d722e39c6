"""SCHEMA.md from the schema's own comments: ``python -m contactread.records.schema_doc``."""

from __future__ import annotations

import re
from pathlib import Path

from contactread.records.migrate import steps

TARGET = Path(__file__).with_name("SCHEMA.md")
_TABLE = re.compile(r"CREATE TABLE (\w+) \( -- (.+)")
_COLUMN = re.compile(r"    (\w+) (INTEGER|REAL|TEXT)\b(.*?),? -- (.+)")
_HEAD = """# The shop book's tables

Made from the schema by `python -m contactread.records.schema_doc`; a test keeps it true. The book is one
SQLite file that any SQLite program can read. Times are UTC, `YYYY-MM-DDTHH:MM:SSZ`. Lengths are mm,
torques N·m. Original photos lie beside the book in `<book>-photos/<first two of SHA-256>/<SHA-256>.<ending>`.
`export` writes each table as one file of JSON lines with the same names.
"""


def schema_doc() -> str:
    """The page, as Markdown."""
    parts = [_HEAD]
    for step in steps():
        for text in step.sql.splitlines():
            if table := _TABLE.fullmatch(text):
                parts.append(f"\n## {table[1]}\n\n{table[2]}\n\n")
                parts.append("| column | type | empty | meaning |\n|---|---|---|---|\n")
            elif column := _COLUMN.fullmatch(text):
                empty = "no" if "NOT NULL" in column[3] or "PRIMARY KEY" in column[3] else "may be"
                parts.append(f"| {column[1]} | {column[2]} | {empty} | {column[4]} |\n")
    return "".join(parts)


if __name__ == "__main__":
    TARGET.write_text(schema_doc(), encoding="utf-8")
