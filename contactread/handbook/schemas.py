"""JSON Schemas of what `--json` prints: each field with its meaning, and no field besides.

A test holds them against real output; the reference's list is made from them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from contactread.advice.answer import Verdict
from contactread.axle import Axle
from contactread.errors import ContactreadError
from contactread.handbook.shapes import Schema, Shapes
from contactread.records.check import Soundness
from contactread.records.merge import Merged
from contactread.records.nouns import Correction, Job, RecordedAdvice, RecordedPhoto, Try
from contactread.records.review import Outcome
from contactread.records.sheet import Sheet
from contactread.records.undo import Entry

_TOLD = (Axle, Correction, Entry, Job, Merged, Outcome, RecordedAdvice, RecordedPhoto, Sheet, Soundness, Try)
_SHAPES = Shapes(
    Path(__file__).with_name("shapes.toml"), {each.__name__: each for each in _TOLD} | {"Verdict": Verdict}
)
SCHEMAS: dict[str, Schema] = {
    command: _SHAPES.record(table) for command, table in _SHAPES.tables["commands"].items()
}


def schema_of(name: str) -> Schema:
    """The whole schema. Raises `ContactreadError` schema-missing."""
    if name not in SCHEMAS:
        raise ContactreadError(
            "schema-missing", f"There is no schema '{name[:40]}'.", f"They are: {', '.join(SCHEMAS)}."
        )
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": f"contactread {name} --json"}
    return head | SCHEMAS[name]


def schema_text(name: str) -> str:
    """The schema as JSON. Raises `ContactreadError` schema-missing."""
    return json.dumps(schema_of(name), indent=1) + "\n"


def fields(schema: Schema, at: str = "") -> Iterator[tuple[str, str, str]]:
    """Every field below: its path (photos[].side), its type in words, its meaning."""
    for inner in schema.get("anyOf", ()):
        yield from fields(inner, at)
    if "items" in schema:
        yield from fields(schema["items"], f"{at}[]")
    if isinstance(schema.get("additionalProperties"), dict):
        yield from fields(schema["additionalProperties"], f"{at}.NAME")
    for name, field in schema.get("properties", {}).items():
        path = f"{at}.{name}".lstrip(".")
        yield path, _type(field), field.get("description", "")
        yield from fields(field, path)


def _type(schema: Schema) -> str:
    if "anyOf" in schema:
        return " or ".join(_type(each) for each in schema["anyOf"])
    if "enum" in schema:
        return ", ".join(schema["enum"])
    if "const" in schema:
        return str(schema["const"])
    if schema.get("type") == "array":
        return "list"
    words = {"string": "text", "boolean": "true or false", "integer": "whole number", "object": "object"}
    kind = str(schema.get("type", ""))
    return words.get(kind, kind)
