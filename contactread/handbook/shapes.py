"""JSON Schemas from tables of fields (`shapes.toml`), which read better than schemas do.

A table is an object with all its fields and no other. A field is "KIND: what it means", or KIND alone. A kind
is one of [kinds] (JSON Schemas as they are), another table, or a class of the program's own. Behind it stands
[] for a list of these, [2] for two, {} for an object of these by name, ? for null instead. "optional" before
it: the field may be left out. In a table, "..." takes over the fields of another one, "says" tells the whole.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import is_dataclass
from pathlib import Path
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

Schema = dict[str, Any]
_PLAIN = {
    str: "string", Path: "string", float: "number", int: "integer", bool: "boolean", type(None): "null",
}  # fmt: skip


class Shapes:
    """The tables of a file. classes: those that kinds name. refer: what stands for another table where it is
    used; None puts that table itself there.
    """

    def __init__(
        self, file: Path, classes: Mapping[str, Any], refer: Callable[[str], Schema] | None = None
    ) -> None:
        self.tables: dict[str, Any] = tomllib.loads(file.read_text(encoding="utf-8"))
        self._kinds: dict[str, Schema] = self.tables.pop("kinds")
        self._classes, self._refer = classes, refer or self.of_table

    def of_table(self, name: str) -> Schema:
        """The schema of a table by its name."""
        return self.record(self.tables[name])

    def record(self, table: Mapping[str, str]) -> Schema:
        """The schema of a table."""
        head: Schema = {}
        fields: Schema = {}
        needed: dict[str, None] = {}
        for name, told in table.items():
            words, _, says = told.partition(": ")
            kind = words.removeprefix("optional ")
            if name == "says":
                head = {"description": told}
            elif name == "...":
                base = self.of(kind) if kind in self._classes else self.of_table(kind)
                head |= {key: says for key, says in base.items() if key == "description"}
                fields |= base["properties"]
                needed |= dict.fromkeys(base["required"])
            else:
                fields[name] = ({"description": says} if says else {}) | self.of(kind)
                needed |= {name: None} if kind == words else {}
        return head | _record(fields, list(needed))

    def of(self, kind: str) -> Schema:
        """The schema of a kind in words."""
        if kind.endswith("?"):
            return {"anyOf": [self.of(kind[:-1]), {"type": "null"}]}
        if kind.endswith("{}"):
            return {"type": "object", "additionalProperties": self.of(kind[:-2])}
        if kind.endswith("[]"):
            return {"type": "array", "items": self.of(kind[:-2])}
        if kind.endswith("[2]"):
            return {"type": "array", "items": self.of(kind[:-3]), "minItems": 2, "maxItems": 2}
        if kind in self._classes:
            return schema_of_class(self._classes[kind])
        return self._kinds[kind] if kind in self._kinds else self._refer(kind)


def schema_of_class(kind: Any) -> Schema:
    """The schema of a value as `asdict` leaves it: a record, told by its docstring, a choice, a list, a plain
    value.
    """
    if is_dataclass(kind):
        fields = {name: schema_of_class(hint) for name, hint in get_type_hints(kind).items()}
        return {"description": " ".join((kind.__doc__ or "").split())} | _record(fields, list(fields))
    inner, origin = get_args(kind), get_origin(kind)
    if origin is Literal:
        return {"enum": list(inner)}
    if origin is list or (origin is tuple and inner[-1] is Ellipsis):
        return {"type": "array", "items": schema_of_class(inner[0])}
    if origin is tuple:
        many = {"minItems": len(inner), "maxItems": len(inner)}
        return {"type": "array", "items": schema_of_class(inner[0])} | many
    if origin in (Union, UnionType):
        return {"anyOf": [schema_of_class(each) for each in inner]}
    if origin is dict:
        values = {} if inner[1] is Any else {"additionalProperties": schema_of_class(inner[1])}
        return {"type": "object"} | values
    if origin is Counter:
        return {"type": "object", "additionalProperties": {"type": "integer"}}
    return {"type": _PLAIN[kind]}


def _record(fields: Schema, required: list[str]) -> Schema:
    return {"type": "object", "properties": fields, "required": required, "additionalProperties": False}
