"""Writing the axle file: the template to fill in, and an `Axle` as a file."""

from __future__ import annotations

import textwrap
from typing import Any

from contactread.axle import Axle
from contactread.axle_file.keys import Key, Table, tables
from contactread.outside import toml_string
from contactread.units import LENGTH_FORMS, TORQUE_FORMS

_UNIT = {"length": "mm", "torque": "N·m", "angle": "deg"}
_HEADING = f"""\
# An axle file of contactread. A '#' starts a comment; take it away to set the value behind it.
# Every length is written with its unit, in quotes: {LENGTH_FORMS}.
# Every torque too: {TORQUE_FORMS}.
"""


def axle_template(known: dict[str, str] | None = None) -> str:
    """A commented axle file to fill in.

    known: TOML text by full key ("gears.ring_teeth": "41") of what is known already; every other key
    is a comment that shows an example.
    """
    known = known or {}
    blocks = [_HEADING]
    for table in tables():
        mark = "# " if table.optional else ""
        head = _comment(table.help) + f"{mark}[{table.name}]\n" if table.name else ""
        blocks.append(head + "\n".join(_template_lines(table, key, known) for key in table.keys))
    return "\n".join(blocks)


def _template_lines(table: Table, key: Key, known: dict[str, str]) -> str:
    full = f"{table.name}.{key.name}" if table.name else key.name
    note = " Needed." if key.required and not table.optional else ""
    line = f"{key.name} = {known[full]}" if full in known else f"# {key.name} = {key.example}"
    return _comment(key.help + note) + line + "\n"


def _comment(text: str) -> str:
    lines = [
        wrapped
        for line in text.splitlines()
        for wrapped in textwrap.wrap(line, 96, subsequent_indent="  ", drop_whitespace=True)
    ]
    return "".join(f"# {line}\n" for line in lines)


def axle_toml(axle: Axle) -> str:
    """An axle as a file: `parse_axle(axle_toml(axle)) == axle`. What is None or a default is left out."""
    lines: list[str] = []
    for table in tables():
        record = getattr(axle, table.field) if table.field else axle
        if record is None:
            continue
        fields = record.__dataclass_fields__
        written = [
            f"{key.name} = {_toml(key, value)}"
            for key in table.keys
            if (value := getattr(record, key.field)) is not None
            and value != fields[key.field].default
            and not (table.name == "gears" and key.field in axle.gears.supposed)
        ]
        if table.name and (written or table.optional):
            lines += ["", f"[{table.name}]"]
        lines += written
    return "\n".join(lines).lstrip("\n") + "\n"


def _toml(key: Key, value: Any) -> str:
    if key.pair or key.many:
        return "[" + ", ".join(_toml_one(key, each) for each in value) + "]"
    return _toml_one(key, value)


def _toml_one(key: Key, value: Any) -> str:
    if key.kind == "count":
        return str(value)
    if key.kind in _UNIT:
        return f'"{value!r} {_UNIT[key.kind]}"'
    return toml_string(value)
