"""What JSON Schemas are put together from."""

from __future__ import annotations

from collections import Counter
from dataclasses import is_dataclass
from pathlib import Path
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

Schema = dict[str, Any]


def told(says: str, schema: Schema) -> Schema:
    """The schema with what it means."""
    return {"description": says, **schema}


def record(**fields: Schema) -> Schema:
    """An object that has all of these fields and no other."""
    return {"type": "object", "properties": fields, "required": list(fields), "additionalProperties": False}


def or_null(schema: Schema) -> Schema:
    """The same, or null."""
    return {"anyOf": [schema, {"type": "null"}]}


def many(schema: Schema, count: int | None = None) -> Schema:
    """A list of these, of any length or of just so many."""
    length = {} if count is None else {"minItems": count, "maxItems": count}
    return {"type": "array", "items": schema} | length


def by_name(schema: Schema) -> Schema:
    """An object whose keys are data."""
    return {"type": "object", "additionalProperties": schema}


def one_of(*words: str) -> Schema:
    """One of these words."""
    return {"enum": list(words)}


TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer"}
YES_NO: Schema = {"type": "boolean"}
SHARE: Schema = {"type": "number", "minimum": 0, "maximum": 1}
PAIR = many(NUMBER, 2)
NUMBERED = told("Version of this shape; fields may be added without a new one.", {"const": 1})


def of(kind: Any) -> Schema:
    """The schema of a value as `asdict` leaves it: a record, told by its docstring, a choice, a list, a plain
    value.
    """
    if is_dataclass(kind):
        hints = get_type_hints(kind)
        says = " ".join((kind.__doc__ or "").split())
        return told(says, record(**{name: of(hint) for name, hint in hints.items()}))
    inner = get_args(kind)
    if get_origin(kind) is Literal:
        return one_of(*inner)
    if get_origin(kind) is tuple:
        return many(of(inner[0])) if inner[-1] is Ellipsis else many(of(inner[0]), len(inner))
    if get_origin(kind) is list:
        return many(of(inner[0]))
    if get_origin(kind) in (Union, UnionType):
        return {"anyOf": [of(each) for each in inner]}
    if get_origin(kind) in (dict, Counter):
        return {"type": "object"} if inner[-1] is Any else by_name(of(inner[-1]) if len(inner) > 1 else COUNT)
    plain = {str: TEXT, Path: TEXT, float: NUMBER, int: COUNT, bool: YES_NO, type(None): {"type": "null"}}
    return plain[kind]
