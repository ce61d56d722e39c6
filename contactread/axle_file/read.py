"""Reading the axle file: strict, and all problems at once."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from contactread import units
from contactread.axle import Axle, Carrier, EaseOff, Limits, PinionShim
from contactread.axle_file.keys import Key, Table, tables
from contactread.axle_file.sense import contradictions, cut_by_depth, slips
from contactread.errors import AxleFileError, QuantityError
from contactread.gear_classes import supposed_set
from contactread.outside import Unfit, from_toml, read_text

MOST_BYTES = 200_000
_MOST_PROBLEMS = 20  # told at once
_RECORDS: dict[str, Callable[..., Any]] = {
    "gears": lambda **known: supposed_set(known),
    "pinion_shim": PinionShim,
    "carrier": Carrier,
    "limits": Limits,
    "ease_off": EaseOff,
    "ease_off_concave": EaseOff,
}
_PARSERS: dict[str, Callable[[str], float]] = {
    "length": units.parse_length,
    "torque": units.parse_torque,
    "angle": units.parse_angle,
}
_SHOWN: dict[str, Callable[[float], str]] = {
    "length": units.show_length,
    "torque": units.show_torque,
    "angle": lambda deg: f"{deg:g} deg",
}
_FORMS = {"length": units.LENGTH_FORMS, "torque": units.TORQUE_FORMS, "angle": units.ANGLE_FORMS}


def load_axle(path: str | os.PathLike[str]) -> Axle:
    """The axle that a file describes.

    Raises AxleFileError: axle-missing, axle-unreadable, axle-syntax (not TOML), axle-invalid (every
    problem with its key, line, what was given and what is expected).
    """
    return parse_axle(axle_text(Path(path)), str(path))


def axle_text(path: Path) -> str:
    """The text of an axle file, not yet understood. Raises AxleFileError: axle-missing, axle-unreadable."""
    try:
        return read_text(path, MOST_BYTES)
    except Unfit as error:
        if error.kind == "missing":
            raise AxleFileError("axle-missing", f"There is no axle file '{path}'.", _NAME_ONE) from error
        raise AxleFileError("axle-unreadable", f"'{path}' can't be used: {error}.", _NAME_ONE) from error


def sound_axle_text(path: Path) -> str:
    """The text of an axle file that `parse_axle` understands. Raises as `load_axle`."""
    text = axle_text(path)
    parse_axle(text, str(path))
    return text


_NAME_ONE = "Name an axle file; 'contactread axle new FILE' writes one to fill in."


def parse_axle(text: str, name: str = "the axle file", *, kept: bool = False) -> Axle:
    """The axle that a file's text describes; `name` is used in messages. kept: it lies in a book since a
    version that allowed other limits; those are named in `Limits.unusable`. Raises as `load_axle`.
    """
    try:
        content = from_toml(text)
    except Unfit as error:
        raise AxleFileError(
            "axle-syntax",
            f"{name} can't be used: {error}.",
            'Write each line as key = value, with quotes round lengths and words: ring_diameter = "222 mm".',
        ) from error
    problems: list[str] = []
    unusable: list[str] = []
    values = {
        table.name: _read_table(
            table, content, text, unusable if kept and table.name == "limits" else problems
        )
        for table in tables()
    }
    known = [table.name for table in tables() if table.name] + [key.name for key in tables()[0].keys]
    for stray in sorted(content.keys() - set(known))[:_MOST_PROBLEMS]:
        problems.append(_unknown(stray, known, _line_of(text, "", stray)))
    _steps_by_unit(values, content)
    if "ease_off_concave" in content and "ease_off" not in content:
        problems.append("[ease_off_concave] needs [ease_off], which then holds against the convex flank.")
    if not problems:
        problems += contradictions(values["gears"])
        problems += [] if kept else slips(values["gears"])
        problems += cut_by_depth(values["gears"])
    if problems:
        listed = "\n".join(f"  {problem}" for problem in problems)
        count = "one problem" if len(problems) == 1 else f"{len(problems)} problems"
        raise AxleFileError(
            "axle-invalid", f"{name} has {count}:\n{listed}", "Correct the file and run the command again."
        )
    if unusable:
        values["limits"]["unusable"] = tuple(unusable)
    records = {
        table.field: _RECORDS[table.name](**values[table.name])
        for table in tables()
        if table.name and not (table.optional and table.name not in content)
    }
    return Axle(**values[""], **records)


def _steps_by_unit(values: dict[str, dict[str, Any]], content: Mapping[str, Any]) -> None:
    """Shims written in inches change by thousandths where the file names no step."""
    for table, key in (("pinion_shim", "thickness"), ("carrier", "ring_side"), ("carrier", "opposite_side")):
        given = content.get(table, {})
        if values[table] and _INCHES.search(str(given.get(key, ""))):
            values[table].setdefault("step_mm", units.MM_PER_THOU)


def _read_table(table: Table, content: Mapping[str, Any], text: str, problems: list[str]) -> dict[str, Any]:
    """Field -> value of one table; what is wrong is added to `problems`."""
    given = content.get(table.name, {}) if table.name else content
    if not isinstance(given, Mapping):
        problems.append(f"{table.name}: expected a table, written as [{table.name}] on its own line.")
        return {}
    values: dict[str, Any] = {}
    for key in table.keys:
        full = f"{table.name}.{key.name}" if table.name else key.name
        if key.name not in given:
            if key.required and not (table.optional and table.name not in content):
                problems.append(f"{full} is missing: expected {_expected(key)}.")
            continue
        try:
            values[key.field] = _value(key, given[key.name])
        except _Wrong as wrong:
            problems.append(f"{full}{_at(text, table.name, key.name)}: {wrong}")
    if table.name:
        names = [key.name for key in table.keys]
        for stray in sorted(given.keys() - set(names))[:_MOST_PROBLEMS]:
            where = _line_of(text, table.name, stray)
            problems.append(_unknown(stray, names, where, table.name))
    return values


_INCHES = re.compile(r"(in|inch|inches|thous?|thousandths?|[\"″”])\.?\s*$", re.IGNORECASE)


class _Wrong(Exception):
    """What is wrong with one value."""


def _value(key: Key, given: Any) -> Any:
    if key.many:
        if not isinstance(given, list) or not given:
            raise _Wrong(f"{_quoted(given)} was given; expected {_expected(key)}.")
        return tuple(sorted(_single(key, each) for each in given))
    if not key.pair:
        return _single(key, given)
    if not isinstance(given, list) or len(given) != 2:
        raise _Wrong(f"{_quoted(given)} was given; expected {_expected(key)}.")
    least, most = (_single(key, each) for each in given)
    if least > most:
        raise _Wrong(f"the least, {given[0]}, is more than the most, {given[1]}.")
    if most - least < key.apart - 1e-9:
        apart = units.show_clearance(key.apart)
        raise _Wrong(
            f"{given[0]} to {given[1]} leaves no room to set it; expected least and most {apart} apart."
        )
    return least, most


def _single(key: Key, given: Any) -> Any:
    if key.kind == "count":
        if not isinstance(given, int) or isinstance(given, bool):
            raise _Wrong(f"{_quoted(given)} was given; expected {_expected(key)}.")
        return _within(key, given)
    if not isinstance(given, str):
        raise _Wrong(f"{_quoted(given)} was given; expected {_expected(key)}.")
    if key.kind == "text":
        return given
    if key.kind == "choice":
        if given not in key.choices:
            close = get_close_matches(given, key.choices, n=1)
            hint = f" Did you mean {close[0]!r}?" if close else ""
            raise _Wrong(f"{_quoted(given)} was given; expected {_expected(key)}.{hint}")
        return given
    try:
        return _within(key, _PARSERS[key.kind](given))
    except QuantityError as error:
        raise _Wrong(f"{error.message} Expected {_expected(key)}.") from error


def _within(key: Key, value: float) -> float:
    if key.least <= value <= key.most:
        return value
    shown = _SHOWN.get(key.kind, str)
    raise _Wrong(f"{shown(value)} is impossible; expected {shown(key.least)} to {shown(key.most)}.")


def _expected(key: Key) -> str:
    if key.kind == "choice":
        return "one of " + ", ".join(f'"{choice}"' for choice in key.choices)
    if key.kind == "count":
        return f"a whole number, such as {key.example}"
    if key.kind == "text":
        return f"words in quotes, such as {key.example}"
    one = f"a {key.kind} with its unit, in quotes, such as {_FORMS[key.kind]}"
    if key.many:
        return f"a list, each {one}"
    return f"a list of least and most, each {one}" if key.pair else one


def _quoted(given: Any) -> str:
    words = f'"{given}"' if isinstance(given, str) else str(given)
    return words if len(words) <= 60 else words[:57] + "..."


def _unknown(stray: str, known: Iterable[str], line: int | None, table: str = "") -> str:
    place = f" (line {line})" if line else ""
    stray = stray if len(stray) <= 60 else f"{stray[:57]}..."
    full = f"{table}.{stray}" if table else stray
    elsewhere = [
        f"{t.name}.{k.name}" for t in tables() for k in t.keys if t.name != table and k.name == stray
    ]
    close = get_close_matches(stray, list(known), n=1)
    if elsewhere:
        hint = f" It belongs to another table: {elsewhere[0]}."
    elif close:
        hint = f" Did you mean '{close[0]}'?"
    else:
        hint = f" Known here: {', '.join(known)}."
    return f"{full}{place} is unknown.{hint}"


def _at(text: str, table: str, key: str) -> str:
    line = _line_of(text, table, key)
    return f" (line {line})" if line else ""


def _line_of(text: str, table: str, key: str) -> int | None:
    """The line that sets a key, where it is written in the usual way."""
    inside = ""
    for number, line in enumerate(text.splitlines(), 1):
        if header := re.match(r"\s*\[+\s*([^\]]+?)\s*\]+", line):
            inside = header[1]
            if not table and inside == key:
                return number
        elif inside == table and re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*[=.]", line):
            return number
    return None
