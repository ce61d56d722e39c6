"""Asking a book's database."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields
from pathlib import Path
from typing import Any, TypeVar

from contactread.records.failures import told

Noun = TypeVar("Noun")


def noun_of(kind: type[Noun], row: sqlite3.Row, **more: Any) -> Noun:
    """A record (a dataclass) of a row's columns of the same names, and of more that stands elsewhere."""
    columns = set(row.keys()) - more.keys()
    names = [each.name for each in fields(kind) if each.name in columns]  # type: ignore[arg-type]
    return kind(**{name: row[name] for name in names}, **more)


class Rows:
    """A connection to the database at `path`; what goes wrong there is told as `failures.told` says."""

    path: Path
    _connection: sqlite3.Connection

    def rows(self, sql: str, *values: Any) -> list[sqlite3.Row]:
        """All rows of a query."""
        with told(self.path):
            return self._connection.execute(sql, values).fetchall()

    def row(self, sql: str, *values: Any) -> sqlite3.Row | None:
        """The first row of a query, or None."""
        with told(self.path):
            found: sqlite3.Row | None = self._connection.execute(sql, values).fetchone()
            return found

    def table(self, sql: str, values: Any) -> tuple[tuple[str, ...], tuple[tuple[Any, ...], ...]]:
        """The column names of a query and its rows, for values by place or by name."""
        with told(self.path):
            cursor = self._connection.execute(sql, values)
            cursor.row_factory = None
            return tuple(column[0] for column in cursor.description), tuple(cursor.fetchall())

    def value(self, sql: str, *values: Any) -> Any:
        """The first column of the first row."""
        found = self.row(sql, *values)
        return None if found is None else found[0]

    def each(self, sql: str, *values: Any) -> Iterator[sqlite3.Row]:
        """The rows of a query one by one, for tables too large to hold."""
        with told(self.path):
            yield from self._connection.execute(sql, values)

    @contextmanager
    def one_moment(self) -> Iterator[None]:
        """Queries inside see the book as it was at one moment, whatever others write meanwhile."""
        with told(self.path):
            self._connection.execute("BEGIN")
            try:
                yield
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    @property
    def connection(self) -> sqlite3.Connection:
        """SQLite's own connection, for `check` and the like: only to read through."""
        return self._connection
